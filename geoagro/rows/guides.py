"""Drawn lines that a row must run on: an existing row, a track's edge, a terrace bank."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import scipy.sparse as sp
import shapely
from shapely import LineString

from geoagro.arrays import Floats
from geoagro.rows.lattice import Lattice
from geoagro.rows.row_field import Pinned, nowhere

STEP_M = 2.0
PIN_WEIGHT = 10.0
"""Pull of a guide on the row field, against 1 for the gradient of one triangle."""
CATCH_SHARE = 0.45
"""Nodes of rows within this share of the spacing are drawn onto the guide."""


def pin_guides(lattice: Lattice, phi: Floats, guides: Sequence[LineString], spacing_m: float) -> Pinned:
    """Give phi on each guide the whole multiple of the spacing nearest to its mean there, at points 2 m apart.

    Points are read bilinearly; those outside the lattice are left out.
    """
    lines = [shapely.segmentize(line, STEP_M) for line in guides]
    if not lines:
        return nowhere(lattice)
    xy, guide = shapely.get_coordinates(np.asarray(lines, dtype=object), return_index=True)
    column, row = (xy[:, 0] - lattice.x[0]) / lattice.step_m, (xy[:, 1] - lattice.y[0]) / lattice.step_m
    j, i = np.floor(column).astype(np.intp), np.floor(row).astype(np.intp)
    inside = (i >= 0) & (j >= 0) & (i < len(lattice.y) - 1) & (j < len(lattice.x) - 1)
    i, j, guide, column, row = i[inside], j[inside], guide[inside], column[inside], row[inside]
    corners = np.stack([lattice.index[i + a, j + b] for a in (0, 1) for b in (0, 1)], axis=1)
    known = (corners >= 0).all(axis=1)
    if not known.any():
        return nowhere(lattice)
    u, v = column - j, row - i
    share = np.stack([(1 - v) * (1 - u), (1 - v) * u, v * (1 - u), v * u], axis=1)[known]
    point = np.repeat(np.arange(int(known.sum())), 4)
    reading = sp.csr_matrix((share.ravel(), (point, corners[known].ravel())), shape=(int(known.sum()), lattice.nodes))
    _, guide = np.unique(guide[known], return_inverse=True)
    mean = np.bincount(guide, weights=reading @ phi) / np.bincount(guide)
    return Pinned(reading, (np.round(mean / spacing_m) * spacing_m)[guide], PIN_WEIGHT)


def shift_to_guides(xy: Floats, normal: Floats, guides: Sequence[LineString], spacing_m: float) -> tuple[Any, Floats]:
    """Which nodes a guide catches, and how far along their normals they must move onto it (metres)."""
    if not guides:
        return np.zeros(0, dtype=np.intp), np.zeros(0)
    drawn = shapely.MultiLineString(list(guides))
    points = np.asarray(shapely.points(xy), dtype=object)
    near = np.nonzero(shapely.dwithin(points, drawn, CATCH_SHARE * spacing_m))[0]
    way = shapely.get_coordinates(shapely.shortest_line(points[near], drawn)).reshape(-1, 2, 2)
    way = way[:, 1] - way[:, 0]
    across = (way * normal[near]).sum(axis=1)
    beside = np.abs(across) >= 0.8 * np.hypot(way[:, 0], way[:, 1])
    return near[beside], across[beside]
