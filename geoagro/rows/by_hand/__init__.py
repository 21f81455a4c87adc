"""Rows and guides given by hand: taken in, laid around, joined, numbered as before, and what became of them."""
