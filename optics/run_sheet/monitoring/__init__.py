"""Deposition followed by light, by eye or by a meter: when to stop each layer, and how sharply."""
