"""Addresses on laid beds: rows, alleys, beds, sides of the field, drawn areas."""
