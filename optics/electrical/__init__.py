"""How thin films conduct."""
