"""Documents, and how each face shows them."""
