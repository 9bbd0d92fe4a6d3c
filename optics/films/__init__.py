"""What light does: optical constants, stacks and the transfer of light through them."""
