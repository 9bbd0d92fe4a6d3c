"""The transfer of light through stacks, with its derivatives."""
