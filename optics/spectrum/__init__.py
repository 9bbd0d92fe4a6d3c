"""Thickness and index from a measured spectrum."""
