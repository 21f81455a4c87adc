"""How numbers stand in tables."""
