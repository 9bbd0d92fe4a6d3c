"""Parts of the fit to a measured spectrum."""
