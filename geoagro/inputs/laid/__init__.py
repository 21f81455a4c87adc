"""A layout that was written earlier, read back."""
