"""A layout in the formats that offices ask for."""
