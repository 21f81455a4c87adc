"""Which of many points lie near some places, by a grid of square cells in compiled loops.

A search tree gives a Python list for every place, which takes longer than the search.
"""

from __future__ import annotations

import numpy as np

from geoagro.arrays import Floats, Ints
from geoagro.planar.compiled import compiled
from geoagro.planar.ragged import starts
from geoagro.planar.ray_loops import cell_of

Grid = tuple[float, float, float, int, int]
"""West, south, width of a cell, columns and rows."""
Cells = tuple[Ints, Floats, Ints]
"""Where the points of each cell begin, the points cell by cell, and their numbers."""


def near_points(points: Floats, at: Floats, within_m: float) -> tuple[Ints, Ints]:
    """Find the points (shape (n, 2)) no farther than `within_m` from places (shape (m, 2)), place by place.

    Returns
    -------
    Where each place's points begin, and one more: where the last one's end; and the points.
    """
    if len(points) == 0 or len(at) == 0:
        return np.zeros(len(at) + 1, dtype=np.int64), np.zeros(0, dtype=np.int64)
    west, south = (float(points[:, k].min()) for k in (0, 1))
    columns, rows = (int((points[:, k].max() - low) // within_m) + 1 for k, low in ((0, west), (1, south)))
    grid = (west, south, float(within_m), columns, rows)
    cells = _sorted(grid, points)
    places, count = np.ascontiguousarray(at, dtype=np.float64), np.zeros(len(at), dtype=np.int64)
    _near(grid, cells, places, count, np.zeros(0, dtype=np.int64))
    begin = starts(count)
    found = np.empty(begin[-1], dtype=np.int64)
    _near(grid, cells, places, begin[:-1].copy(), found)
    return begin, found


@compiled
def _sorted(grid: Grid, points: Floats) -> Cells:
    """Sort points into cells, those of one in their order."""
    west, south, cell_m, columns, rows = grid
    cell = np.empty(len(points), dtype=np.int64)
    begin = np.zeros(columns * rows + 1, dtype=np.int64)
    for k in range(len(points)):
        column = cell_of(points[k, 0], west, cell_m, columns)
        cell[k] = cell_of(points[k, 1], south, cell_m, rows) * columns + column
        begin[cell[k] + 1] += 1
    begin = np.cumsum(begin)
    place = begin[:-1].copy()
    ordered, number = np.empty((len(points), 2)), np.empty(len(points), dtype=np.int64)
    for k in range(len(points)):
        to = place[cell[k]]
        ordered[to, 0], ordered[to, 1], number[to] = points[k, 0], points[k, 1], k
        place[cell[k]] += 1
    return begin, ordered, number


@compiled
def _near(grid: Grid, cells: Cells, at: Floats, place: Ints, found: Ints) -> None:
    """Count the points within a cell's width of each place in `place`, or write them into `found` from `place` on."""
    west, south, within_m, columns, rows = grid
    begin, points, number = cells
    for k in range(len(at)):
        x, y = at[k, 0], at[k, 1]
        first, last = cell_of(x - within_m, west, within_m, columns), cell_of(x + within_m, west, within_m, columns)
        for j in range(cell_of(y - within_m, south, within_m, rows), cell_of(y + within_m, south, within_m, rows) + 1):
            for i in range(begin[j * columns + first], begin[j * columns + last + 1]):
                east, north = points[i, 0] - x, points[i, 1] - y
                if east * east + north * north <= within_m * within_m:
                    if len(found) > 0:
                        found[place[k]] = number[i]
                    place[k] += 1
