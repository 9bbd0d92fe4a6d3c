"""The next heat of a kiln or flame."""
