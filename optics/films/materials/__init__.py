"""What a layer is made of: optical constants and mixtures."""
