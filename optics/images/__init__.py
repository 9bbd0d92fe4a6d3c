"""Pictures, and colours read from them."""
