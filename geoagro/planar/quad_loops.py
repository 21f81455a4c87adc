"""How far four-cornered shapes stand from segments, in compiled loops over a grid of cells."""

from __future__ import annotations

import numpy as np

from geoagro.arrays import Floats, Ints
from geoagro.planar.compiled import compiled
from geoagro.planar.ray_loops import Cells, Frame, Piece, Pieces, cell_of, crosses, ends_apart

LOWER, OWN, HIGHER = 0, 1, 2
"""Columns of the distances: to lines with a lower number than the shape's own line, to that one, to those with a higher one."""


@compiled
def _holds(corners: Floats, x: float, y: float) -> bool:
    """Tell whether a point lies in a four-cornered shape: what goes from it to the east crosses its edges once or three times."""
    odd = False
    for a in range(4):
        b = (a + 1) % 4
        if (corners[a, 1] > y) != (corners[b, 1] > y):
            share = (y - corners[a, 1]) / (corners[b, 1] - corners[a, 1])
            if x < corners[a, 0] + share * (corners[b, 0] - corners[a, 0]):
                odd = not odd
    return odd


@compiled
def _from_piece(corners: Floats, piece: Piece) -> float:
    """Distance of a four-cornered shape from a segment; 0 where they meet."""
    if _holds(corners, piece[0], piece[1]):
        return 0.0
    best = np.inf
    for a in range(4):
        b = (a + 1) % 4
        edge = (corners[a, 0], corners[a, 1], corners[b, 0], corners[b, 1])
        if crosses(edge, piece):
            return 0.0
        best = min(best, ends_apart(edge, piece))
    return best


@compiled
def quads_apart(
    frame: Frame, cells: Cells, pieces: Pieces, corners: Floats, own: Ints, within_m: float, apart: Floats
) -> None:
    """Write the distance of each four-cornered shape from the nearest segment into `apart`, shape (n, 3): see LOWER, OWN, HIGHER.

    What is no nearer than `within_m` doesn't count: that stays as it was.

    Parameters
    ----------
    frame, cells, pieces
        As in `first_met`.
    corners, own
        Corners one after another, shape (n, 4, 2), and the number of the line that each shape belongs to.
    """
    west, south, cell_m, columns, rows = frame
    pointer, member = cells
    start, end, line, _, _ = pieces
    for k in range(len(corners)):
        quad = corners[k]
        left, right = quad[:, 0].min() - within_m, quad[:, 0].max() + within_m
        low, high = quad[:, 1].min() - within_m, quad[:, 1].max() + within_m
        first, last = cell_of(left, west, cell_m, columns), cell_of(right, west, cell_m, columns)
        for row in range(cell_of(low, south, cell_m, rows), cell_of(high, south, cell_m, rows) + 1):
            for p in range(pointer[row * columns + first], pointer[row * columns + last + 1]):
                s = member[p]
                ax, ay, bx, by = start[s, 0], start[s, 1], end[s, 0], end[s, 1]
                if max(ax, bx) < left or min(ax, bx) > right or max(ay, by) < low or min(ay, by) > high:
                    continue
                whose = 1 + int(line[s] > own[k]) - int(line[s] < own[k])
                away = _from_piece(quad, (ax, ay, bx, by))
                if away <= within_m and away < apart[k, whose]:
                    apart[k, whose] = away
