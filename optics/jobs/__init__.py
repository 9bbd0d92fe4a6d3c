"""One question answered each."""
