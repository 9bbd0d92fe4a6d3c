"""What was done, what came of it, and what it teaches: the run log."""
