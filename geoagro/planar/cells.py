"""Exact integrals over polygons of a value that is constant in each cell of a raster."""

from __future__ import annotations

import numpy as np
import shapely

from geoagro.arrays import Floats, Ints, Shapes
from geoagro.planar.compiled import compiled


def integrate_over_cells(polygons: Shapes, weights: Floats, *, west: float, north: float, cell_m: float) -> Floats:
    """Integrate `weights` over each polygon: the sum over the cells of covered area times the cell's weight.

    Green's theorem turns the integral over the area into one along the outline: with F(x, y) the integral of
    the weights from the western edge to x, the result is the sum of dy * F over the outline. F is linear
    inside a cell, so an outline cut at the cell edges and read at the middle of each piece gives the exact
    value. Weights that are all 1 give the polygon's area. Beyond the raster its edge cells go on.

    Parameters
    ----------
    polygons
        Polygons or MultiPolygons, holes allowed; coordinates in metres.
    weights
        Values at cell centres, shape (rows, columns), row 0 in the north; no NaN.
    west, north
        Outer corner of the north-western cell, metres.
    cell_m
        Width and height of a cell, metres.

    Returns
    -------
    One value per polygon: weight times square metres; 0 for an empty polygon.

    Examples
    --------
    >>> w = np.array([[1.0, 3.0]])
    >>> float(integrate_over_cells([shapely.box(0.5, 0.0, 1.5, 1.0)], w, west=0.0, north=1.0, cell_m=1.0)[0])
    2.0
    """
    shapes = np.atleast_1d(np.asarray(polygons, dtype=object))
    start, end, owner = _outline_pieces(shapes)
    # cell units, x to the east and y to the south, keep the numbers small
    start, end = ((p - (west, north)) / (cell_m, -cell_m) for p in (start, end))
    values = np.ascontiguousarray(weights, dtype=np.float64)
    before = np.cumsum(values, axis=1) - values
    sums = _along_outlines(start, end, owner, (values, before), len(shapes))
    return np.asarray(sums * cell_m**2, dtype=np.float64)


def _outline_pieces(shapes: Shapes) -> tuple[Floats, Floats, Ints]:
    """Return straight pieces of all rings, shells counter-clockwise and holes clockwise, with their owner."""
    parts, owner = shapely.get_parts(shapes, return_index=True)
    rings, part = shapely.get_rings(shapely.orient_polygons(parts), return_index=True)
    points, ring = shapely.get_coordinates(rings, return_index=True)
    same = ring[1:] == ring[:-1]
    return points[:-1][same], points[1:][same], owner[part][ring[:-1][same]]


@compiled
def _along_outlines(start: Floats, end: Floats, owner: Ints, sums: tuple[Floats, Floats], count: int) -> Floats:
    """Sum dy * F over the pieces of each outline; `sums` holds the weights, and what lies west of each cell in its row."""
    rows, columns = sums[0].shape
    out = np.zeros(count)
    for k in range(len(start)):
        x, y = start[k, 0], start[k, 1]
        dx, dy = end[k, 0] - x, end[k, 1] - y
        if dy == 0:
            continue
        done, total = 0.0, 0.0
        while done < 1.0:
            until = min(_next_line(x, dx, done, columns), _next_line(y, dy, done, rows), 1.0)
            middle = (done + until) / 2
            total -= (until - done) * dy * _west_of(x + middle * dx, y + middle * dy, sums)
            done = until
        out[owner[k]] += total
    return out


@compiled
def _next_line(at: float, way: float, done: float, count: int) -> float:
    """Share of a piece at which it crosses the next of the lines 1, 2, ..., count - 1 after `done`; 2 if none."""
    if way == 0:
        return 2.0
    here = at + done * way
    line = np.floor(here) + 1 if way > 0 else np.ceil(here) - 1
    line = max(line, 1.0) if way > 0 else min(line, count - 1.0)
    share = (line - at) / way
    if share <= done:  # a rounding: it stands on this line already
        line += 1 if way > 0 else -1
        share = (line - at) / way
    if line < 1 or line > count - 1:
        return 2.0
    return float(share)


@compiled
def _west_of(x: float, y: float, sums: tuple[Floats, Floats]) -> float:
    """Integrate the weights along a row of cells from the western edge to a point (in cell units)."""
    rows, columns = sums[0].shape
    row = int(min(max(np.floor(y), 0), rows - 1))
    column = int(min(max(np.floor(x), 0), columns - 1))
    return float(sums[1][row, column] + sums[0][row, column] * (x - column))
