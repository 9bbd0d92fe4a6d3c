"""How films are deposited in vacuum: geometry, vapour, sources and residual gas."""
