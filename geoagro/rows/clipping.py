"""Lines cut to an area."""

from __future__ import annotations

import numpy as np
import shapely
from shapely import LineString
from shapely.geometry.base import BaseGeometry

from geoagro.arrays import Ints, Lines, Shapes

CUT_MARGIN = 0.99
"""Share of a limit at which a row is cut, so that the limit holds between the places that are looked at too."""


def clipped(lines: Lines | LineString | BaseGeometry, area: BaseGeometry, shortest_m: float = 1e-3) -> list[LineString]:
    """Parts of lines (a line, list or array) inside an area, at least `shortest_m` long, in the order of the lines."""
    return list(clipped_of(lines, area, shortest_m)[0])


def clipped_of(
    lines: Lines | LineString | BaseGeometry, area: BaseGeometry, shortest_m: float = 1e-3
) -> tuple[Shapes, Ints]:
    """Do what `clipped` does, and tell of each part which line it is of."""
    shapely.prepare(area)
    inside = shapely.intersection(np.atleast_1d(np.asarray(lines, dtype=object)), area)
    parts, owner = shapely.get_parts(shapely.line_merge(inside), return_index=True)
    parts, again = shapely.get_parts(parts, return_index=True)
    long = (shapely.get_type_id(parts) == 1) & (shapely.length(parts) >= shortest_m)
    return parts[long], owner[again][long]
