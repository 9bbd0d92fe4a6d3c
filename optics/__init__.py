"""Optics of thin films on metal and glass: colour from thickness, and thickness from colour."""
