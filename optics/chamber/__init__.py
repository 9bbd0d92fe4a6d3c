"""What gas is in my jar, and what does it make of a metal?"""
