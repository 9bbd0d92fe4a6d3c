"""How is a design deposited?"""
