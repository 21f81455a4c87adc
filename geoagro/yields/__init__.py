"""Yields of crops in company, from the light that they take."""
