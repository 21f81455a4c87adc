"""Compiled loops over rows: neighbours, places along them, ground under them."""
