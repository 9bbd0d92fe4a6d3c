"""Numerical methods that know nothing of films."""
