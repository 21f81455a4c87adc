"""Ground under crowns."""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely

from geoagro.arrays import Floats, Shapes

_QUARTER = 6


def canopy_cover(points: Shapes, widths_m: Floats, within: Any) -> float:
    """Area of `within` under the crowns of these widths about these points, overlaps counted once, m2 (to 0.1).

    Crowns are regular 24-gons with the area of the circle, so that single crowns are exact and overlapping
    ones nearly so. NaN where a width is unknown; 0 without plants.
    """
    if len(points) == 0:
        return 0.0
    if np.isnan(widths_m).any():
        return float("nan")
    corners = 4 * _QUARTER
    same_area = np.sqrt(2 * np.pi / (corners * np.sin(2 * np.pi / corners)))
    crowns = shapely.buffer(points, widths_m / 2 * same_area, quad_segs=_QUARTER)
    covered = shapely.disjoint_subset_union_all(crowns[~shapely.is_empty(crowns)])
    shapely.prepare(within)
    return round(float(covered.intersection(within).area), 1)
