"""Parts of the search for a coating."""
