"""Parts of a layout that are plain geometries, as layers with columns."""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely
from pyproj import CRS
from shapely import MultiPolygon

from geoagro.values.ground import PLANTABLE
from geoagro.values.layout import Layout
from geoagro.values.site import EXCLUSIONS, FIELD


def field_frame(layout: Layout) -> Any:
    """Layer FIELD; its areas are the ones of the table of areas, so that they are computed once."""
    areas = layout.tables.area_summary
    gross = areas[areas["item"] == "field"].iloc[0]
    return FIELD.frame(
        {
            "name": [layout.site.name],
            **{name: [gross[name]] for name in ("area_m2", "ground_area_m2", "geodesic_area_m2")},
        },
        geometry=[layout.site.boundary],
        crs=layout.site.crs,
    )


def exclusions_frame(layout: Layout) -> Any:
    """Layer EXCLUSIONS: each exclusion and track inside its own drawing, with its area in the field."""
    site = layout.site
    areas = np.array([item.area for item in site.exclusions], dtype=object)
    inside = shapely.area(shapely.intersection(areas, site.boundary)) if len(areas) else np.zeros(0)
    return EXCLUSIONS.frame(
        {
            "name": [item.name for item in site.exclusions],
            "kind": [item.kind for item in site.exclusions],
            "buffer_m": [item.buffer_m for item in site.exclusions],
            "area_m2": inside,
        },
        geometry=[item.area for item in site.exclusions],
        crs=site.crs,
    )


def plantable_frame(layout: Layout) -> Any:
    """Layer PLANTABLE of a layout."""
    return plantable_parts(layout.ground.plantable, layout.site.crs)


def plantable_parts(plantable: MultiPolygon, crs: CRS) -> Any:
    """Layer PLANTABLE: connected parts, the largest first."""
    parts = sorted(shapely.get_parts(plantable), key=lambda part: (-part.area, part.bounds))
    return PLANTABLE.frame(
        {"piece": range(1, len(parts) + 1), "area_m2": [part.area for part in parts]},
        geometry=parts,
        crs=crs,
    )
