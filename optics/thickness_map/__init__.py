"""How thick is it at every pixel of a photo?"""
