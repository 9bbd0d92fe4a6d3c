"""What follows from what was seen: likelihoods, densities, candidates."""
