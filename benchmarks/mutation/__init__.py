"""Small faults put into the code one by one, to see whether a test notices each."""
