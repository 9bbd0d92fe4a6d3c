"""How oxide grows on metal, by heat or by voltage."""
