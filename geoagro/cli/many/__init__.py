"""Commands over many fields."""
