"""Lines cut to an area."""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely
from shapely import LineString


def clipped(lines: Any, area: Any, shortest_m: float = 1e-3) -> list[LineString]:
    """Parts of lines (a line, list or array) inside an area, at least `shortest_m` long, in the order of the lines."""
    shapely.prepare(area)
    inside = shapely.intersection(np.atleast_1d(np.asarray(lines, dtype=object)), area)
    parts = shapely.get_parts(shapely.get_parts(shapely.line_merge(inside)))
    parts = parts[shapely.get_type_id(parts) == 1]
    return list(parts[shapely.length(parts) >= shortest_m])
