"""Reading a person's files of numbers, and writing whole files or none."""
