"""Points spread evenly over polygons, to count what covers them."""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely

from geoagro.arrays import Floats, Ints, Shapes
from geoagro.planar.ragged import starts

_STEP = 0.6180339887498949, 0.7548776662466927, 0.5698402909980532
"""Steps of three sequences whose points keep apart (golden ratio, and the plastic number's two)."""


_SMOOTH_M = 0.05


def points_over(polygons: Shapes, count: int) -> tuple[Floats, Ints]:
    """Spread `count` points over each polygon by area: coordinates (n, 2) and index of the polygon.

    Polygons, their edges smoothed by up to 5 cm, are cut into triangles; the points follow low-discrepancy
    sequences, so that the same polygon always gets the same points.
    """
    triangles, owner = _triangles(polygons)
    area = shapely.area(triangles)
    ends = np.cumsum(area)
    before = np.concatenate([[0.0], ends])[starts(np.bincount(owner, minlength=len(polygons)))]
    k = np.arange(count)
    at = before[:-1, None] + np.diff(before)[:, None] * (k + 0.5) / count
    chosen = np.clip(np.searchsorted(ends, at.ravel()), 0, len(triangles) - 1)
    corner = shapely.get_coordinates(triangles).reshape(-1, 4, 2)[chosen]
    serial = np.tile(k + 1, len(polygons))
    u, v = (serial * _STEP[1]) % 1.0, (serial * _STEP[2]) % 1.0
    over = u + v > 1
    u, v = np.where(over, 1 - u, u)[:, None], np.where(over, 1 - v, v)[:, None]
    xy = corner[:, 0] + u * (corner[:, 1] - corner[:, 0]) + v * (corner[:, 2] - corner[:, 0])
    return xy, np.repeat(np.arange(len(polygons)), count)


def _triangles(polygons: Shapes) -> tuple[Any, Ints]:
    plain = shapely.simplify(np.asarray(polygons, dtype=object), _SMOOTH_M)
    cut = shapely.constrained_delaunay_triangles(plain)
    triangles, owner = shapely.get_parts(cut, return_index=True)
    return triangles, owner
