"""How thick is it, from what was seen?"""
