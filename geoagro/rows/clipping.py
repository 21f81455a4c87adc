"""Lines cut to an area."""

from __future__ import annotations

import numpy as np
import shapely
from shapely import LineString
from shapely.geometry.base import BaseGeometry

from geoagro.arrays import Lines

CUT_MARGIN = 0.99
"""Share of a limit at which a row is cut, so that the limit holds between the places that are looked at too."""


def clipped(lines: Lines | LineString | BaseGeometry, area: BaseGeometry, shortest_m: float = 1e-3) -> list[LineString]:
    """Parts of lines (a line, list or array) inside an area, at least `shortest_m` long, in the order of the lines."""
    shapely.prepare(area)
    inside = shapely.intersection(np.atleast_1d(np.asarray(lines, dtype=object)), area)
    parts = shapely.get_parts(shapely.get_parts(shapely.line_merge(inside)))
    parts = parts[shapely.get_type_id(parts) == 1]
    return list(parts[shapely.length(parts) >= shortest_m])
