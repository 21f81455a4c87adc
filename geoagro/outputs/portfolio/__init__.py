"""Many fields in one account."""
