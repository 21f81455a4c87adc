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
    return list(clipped_with_numbers(lines, area, shortest_m)[0])


def clipped_with_numbers(
    lines: Lines | LineString | BaseGeometry, area: BaseGeometry, shortest_m: float = 1e-3
) -> tuple[Shapes, Ints]:
    """Do the same, and tell the number of the line that each part is of."""
    shapely.prepare(area)
    inside = shapely.intersection(np.atleast_1d(np.asarray(lines, dtype=object)), area)
    several, of_line = shapely.get_parts(shapely.line_merge(inside), return_index=True)
    parts, of_several = shapely.get_parts(several, return_index=True)
    good = (shapely.get_type_id(parts) == 1) & (shapely.length(parts) >= shortest_m)
    return parts[good], of_line[of_several][good]
