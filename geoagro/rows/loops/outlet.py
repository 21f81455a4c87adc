"""The way to a drain from many points, in one compiled pass."""

from __future__ import annotations

import numpy as np

from geoagro.arrays import Floats
from geoagro.planar.compiled import compiled


@compiled
def ways_to(start: Floats, end: Floats, points: Floats) -> Floats:
    """From each point, shape (n, 2), to the nearest place on straight pieces (`start`, `end`, shape (m, 2)): vectors (n, 2).

    A piece may be a point: both its ends are one.
    """
    way = np.empty_like(points)
    for k in range(len(points)):
        nearest = np.inf
        for s in range(len(start)):
            along_x, along_y = end[s, 0] - start[s, 0], end[s, 1] - start[s, 1]
            x, y = start[s, 0] - points[k, 0], start[s, 1] - points[k, 1]
            square = along_x * along_x + along_y * along_y
            if square > 0:
                share = min(max(-(x * along_x + y * along_y) / square, 0.0), 1.0)
                x, y = x + share * along_x, y + share * along_y
            far = x * x + y * y
            if far < nearest:
                nearest = far
                way[k, 0], way[k, 1] = x, y
    return way
