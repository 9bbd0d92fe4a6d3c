"""Parts of what heat does, forwards and backwards."""
