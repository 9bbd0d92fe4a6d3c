"""What an eye or a camera sees: lights, observers, colour spaces and names in words."""
