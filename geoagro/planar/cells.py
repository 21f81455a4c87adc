"""Exact integrals over polygons of a value that is constant in each cell of a raster."""

from __future__ import annotations

import numpy as np
import shapely

from geoagro.arrays import Floats, Ints, Shapes


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
    a, b, owner = _cut_at_cell_edges(start, end, owner, weights.shape)
    terms = -(b[:, 1] - a[:, 1]) * _primitive(weights, (a + b) / 2)
    sums = np.bincount(owner, weights=terms, minlength=len(shapes))
    return np.asarray(sums * cell_m**2, dtype=np.float64)


def _outline_pieces(shapes: Shapes) -> tuple[Floats, Floats, Ints]:
    """Return straight pieces of all rings, shells counter-clockwise and holes clockwise, with their owner."""
    parts, owner = shapely.get_parts(shapes, return_index=True)
    rings, part = shapely.get_rings(shapely.orient_polygons(parts), return_index=True)
    points, ring = shapely.get_coordinates(rings, return_index=True)
    same = ring[1:] == ring[:-1]
    return points[:-1][same], points[1:][same], owner[part][ring[:-1][same]]


def _cut_at_cell_edges(start: Floats, end: Floats, owner: Ints, shape: tuple[int, ...]) -> tuple[Floats, Floats, Ints]:
    """Cut pieces where they cross a line between two columns or two rows (in cell units)."""
    which: list[Ints] = [np.arange(len(start))] * 2
    at: list[Floats] = [np.zeros(len(start)), np.ones(len(start))]
    for axis, count in ((0, shape[1]), (1, shape[0])):
        piece, share = _crossings(start[:, axis], end[:, axis], count)
        which.append(piece)
        at.append(share)
    piece, share = np.concatenate(which), np.concatenate(at)
    order = np.lexsort((share, piece))
    piece, share = piece[order], share[order]
    points = start[piece] + share[:, None] * (end - start)[piece]
    same = piece[1:] == piece[:-1]
    return points[:-1][same], points[1:][same], owner[piece[:-1][same]]


def _crossings(u: Floats, v: Floats, count: int) -> tuple[Ints, Floats]:
    """Return which pieces cross the lines 1, 2, ..., count - 1, and at which share of their length."""
    first = np.clip(np.floor(np.minimum(u, v)) + 1, 1, count).astype(int)
    last = np.clip(np.ceil(np.maximum(u, v)) - 1, 0, count - 1).astype(int)
    times = np.maximum(last - first + 1, 0)
    piece = np.repeat(np.arange(len(u)), times)
    line = first[piece] + np.arange(len(piece)) - np.repeat(np.cumsum(times) - times, times)
    return piece, (line - u[piece]) / (v - u)[piece]


def _primitive(weights: Floats, at: Floats) -> Floats:
    """Integrate the weights along a row of cells from the western edge to each point (in cell units)."""
    rows, columns = weights.shape
    row = np.clip(np.floor(at[:, 1]), 0, rows - 1).astype(int)
    column = np.clip(np.floor(at[:, 0]), 0, columns - 1).astype(int)
    before = np.cumsum(weights, axis=1)[row, column] - weights[row, column]
    result: Floats = before + weights[row, column] * (at[:, 0] - column)
    return result
