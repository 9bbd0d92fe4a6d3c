"""What does a heat do, and which heat gives a colour?"""
