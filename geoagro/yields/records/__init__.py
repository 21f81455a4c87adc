"""What this room gives to its product: records and tables."""
