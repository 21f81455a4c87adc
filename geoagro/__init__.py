"""Lay out, mark, plan and account for successional agroforestry fields on real ground, from files."""

from geoagro.errors import CrsError, DesignError, GeoagroError, InputError, LayoutError, OutputError
from geoagro.pipeline import lay_out, layout
from geoagro.values.design import Design
from geoagro.values.layout import Layout

__all__ = [
    "CrsError",
    "Design",
    "DesignError",
    "GeoagroError",
    "InputError",
    "Layout",
    "LayoutError",
    "OutputError",
    "lay_out",
    "layout",
]
