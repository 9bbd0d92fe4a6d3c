"""What to deposit for a wanted reflectance, transmittance or colour?"""
