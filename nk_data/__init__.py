"""Optical constants with their provenance: ``index.csv`` and one CSV per data set."""
