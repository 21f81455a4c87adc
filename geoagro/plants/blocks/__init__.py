"""Large fields: plants placed in blocks of beds, so that memory doesn't grow with the field."""
