"""What to change at the next run when a film came out wrong."""
