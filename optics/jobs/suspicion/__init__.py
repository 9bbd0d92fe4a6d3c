"""Parts of the question what a film is."""
