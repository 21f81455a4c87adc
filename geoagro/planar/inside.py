"""Which points lie inside which of a few areas."""

from __future__ import annotations

import numpy as np
import shapely

from geoagro.arrays import Floats, Ints, Shapes
from geoagro.planar.ragged import owners


def points_inside(xy: Floats, areas: Shapes) -> tuple[Ints, Ints]:
    """Index of point and of area for every point (n, 2) inside an area, area by area, points in their order.

    Only points in an area's bounds are looked at, so no geometry is made of any.
    """
    inside: list[Ints] = []
    shapely.prepare(areas)
    for area, (west, south, east, north) in zip(areas, shapely.bounds(areas), strict=True):
        x, y = xy[:, 0], xy[:, 1]
        near = np.flatnonzero((x >= west) & (x <= east) & (y >= south) & (y <= north))
        inside.append(near[shapely.contains_xy(area, x[near], y[near])])
    counts = np.array([len(one) for one in inside], dtype=np.int64)
    return np.concatenate([np.zeros(0, dtype=np.int64), *inside]), owners(counts)
