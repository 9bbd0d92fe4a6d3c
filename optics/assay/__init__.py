"""Is it metal, oxide, or something else?"""
