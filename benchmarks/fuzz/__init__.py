"""Random command lines and broken files, thrown at the program in processes with limits."""
