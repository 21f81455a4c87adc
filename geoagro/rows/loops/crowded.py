"""Pieces of rows that come too near to one another, in one compiled pass."""

from __future__ import annotations

import numpy as np

from geoagro.arrays import Bools, Floats, Ints
from geoagro.planar.compiled import compiled
from geoagro.planar.ray_loops import cell_of, ends_apart, ray_grid, way_between

Standing = tuple[Ints, Floats, Floats, Bools, float]
"""Row, station, the row's length, whether it is a ring, and how far along one row nothing counts."""
ROOM = 8
"""Pairs a piece that there is room for at first; where there are more, they are looked for again with room for all."""
_ROUNDING_M = 1e-6


def near_pairs(start: Floats, end: Floats, standing: Standing, within_m: float) -> tuple[Ints, Ints]:
    """Index of both pieces (ends of shape (n, 2)) for all pairs whose ends come nearer than `within_m`; some twice.

    Pieces of one row count only where they lie farther apart in it than the gap of `standing`.
    """
    grid = ray_grid(start, end)
    frame = (grid.west, grid.south, grid.cell_m, grid.columns, grid.rows)
    cells, pieces = (frame, grid.pointer, grid.member), (start, end)
    room = ROOM * len(start)
    while True:
        first, second = np.empty(room, dtype=np.int64), np.empty(room, dtype=np.int64)
        count = _pairs(cells, pieces, standing, within_m, (first, second))
        if count <= room:
            return first[:count].copy(), second[:count].copy()
        room = count


@compiled
def _pairs(
    cells: tuple[tuple[float, float, float, int, int], Ints, Ints],
    pieces: tuple[Floats, Floats],
    standing: Standing,
    within_m: float,
    out: tuple[Ints, Ints],
) -> int:
    """Count the pairs, and write as many into `out` as it has room for."""
    frame, pointer, member = cells
    west, south, cell_m, columns, rows = frame
    start, end = pieces
    line, station, length, ring, gap_m = standing
    middle, half = (start + end) / 2, np.hypot(end[:, 0] - start[:, 0], end[:, 1] - start[:, 1]) / 2
    found = 0
    for i in range(len(start)):
        left, right = min(start[i, 0], end[i, 0]) - within_m, max(start[i, 0], end[i, 0]) + within_m
        low, high = min(start[i, 1], end[i, 1]) - within_m, max(start[i, 1], end[i, 1]) + within_m
        first, last = cell_of(left, west, cell_m, columns), cell_of(right, west, cell_m, columns)
        for row in range(cell_of(low, south, cell_m, rows), cell_of(high, south, cell_m, rows) + 1):
            for k in range(pointer[row * columns + first], pointer[row * columns + last + 1]):
                j = member[k]
                if j <= i:
                    continue
                # most are told apart by their middles alone
                east, north = middle[i, 0] - middle[j, 0], middle[i, 1] - middle[j, 1]
                far = within_m + half[i] + half[j] + _ROUNDING_M
                if east * east + north * north > far * far:
                    continue
                if line[i] == line[j] and way_between(station[i], station[j], length[i], ring[i]) <= gap_m:
                    continue
                here = (start[i, 0], start[i, 1], end[i, 0], end[i, 1])
                if not ends_apart(here, (start[j, 0], start[j, 1], end[j, 0], end[j, 1])) < within_m:
                    continue
                if found < len(out[0]):
                    out[0][found], out[1][found] = i, j
                found += 1
    return found
