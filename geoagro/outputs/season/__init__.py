"""The season plan."""
