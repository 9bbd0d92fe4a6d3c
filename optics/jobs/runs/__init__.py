"""Parts of the run sheet."""
