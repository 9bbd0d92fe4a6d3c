"""Answers for people: text, swatches and charts."""
