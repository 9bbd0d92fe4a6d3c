"""How oxide grows on metal, and how films are laid down in vacuum."""
