"""Beds: strips of fixed working widths beside the tree rows, and the paths between them."""

from geoagro.beds.layout import lay_beds

__all__ = ["lay_beds"]
