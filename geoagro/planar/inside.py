"""Which points lie inside which of some small areas."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from geoagro.arrays import Floats, Ints, Shapes
from geoagro.planar.ragged import owners


def points_inside(xy: Floats, areas: Shapes) -> tuple[Ints, Ints]:
    """Index of point and of area for every point (n, 2) inside an area, area by area, points in their order.

    Only points in an area's bounds are looked at, so no geometry is made of any.
    """
    inside: list[Ints] = []
    shapely.prepare(areas)
    eastward = np.argsort(xy[:, 0], kind="stable")
    x, y = xy[eastward].T
    bounds = shapely.bounds(areas)
    first, last = np.searchsorted(x, bounds[:, 0]), np.searchsorted(x, bounds[:, 2], side="right")
    for area, south, north, a, b in zip(areas, bounds[:, 1], bounds[:, 3], first, last, strict=True):
        near = a + np.flatnonzero((y[a:b] >= south) & (y[a:b] <= north))
        inside.append(np.sort(eastward[near[shapely.contains_xy(area, x[near], y[near])]]))
    counts = np.array([len(one) for one in inside], dtype=np.int64)
    return np.concatenate([np.zeros(0, dtype=np.int64), *inside]), owners(counts)


_RUN = 1_000_000
"""So many points are looked at at once: of fifty million, what is held of each beside its place would take gigabytes."""


def owners_of(xy: Floats, areas: Sequence[BaseGeometry] | Shapes, *, otherwise: int = -1) -> Ints:
    """Index of the first area that each point (n, 2) lies in or on the edge of; `otherwise` where none does."""
    owner = np.full(len(xy), otherwise, dtype=np.int64)
    for area in areas:
        shapely.prepare(area)
    for start in range(0, len(xy), _RUN):
        some, mine = xy[start : start + _RUN], owner[start : start + _RUN]
        for k in reversed(range(len(areas))):
            west, south, east, north = areas[k].bounds
            near = np.flatnonzero(
                (some[:, 0] >= west) & (some[:, 0] <= east) & (some[:, 1] >= south) & (some[:, 1] <= north)
            )
            mine[near[shapely.intersects_xy(areas[k], some[near])]] = k
    return owner
