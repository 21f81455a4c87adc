"""Beds: strips of fixed working widths beside the tree rows, and the paths between them."""
