"""The account of a field."""
