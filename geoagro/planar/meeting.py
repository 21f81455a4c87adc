"""Which long, bent shapes meet: found from boxes around short pieces of their outlines.

The box around a whole row of a kilometre holds a hundred other rows. A search tree over such boxes would compare each shape
with nearly all others, so that the work grows with the square of the field.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from geoagro.arrays import Bools, Floats, Ints, Shapes
from geoagro.planar.compiled import compiled
from geoagro.planar.threads import run_in_runs

_RUN = 12
"""Vertices of an outline in one piece."""
_ROUNDING_M = 1e-6
"""Places along a slanting line are good to far less than this."""


def meeting(
    shapes: Shapes,
    others: Shapes,
    *,
    within_m: float = 0.0,
    deep_m: float = 0.0,
    groups: tuple[Ints, Ints] | None = None,
) -> tuple[Ints, Ints]:
    """Find the pairs of a shape and another one that are no farther apart than `within_m`.

    Parameters
    ----------
    within_m
        0 for shapes that touch or overlap.
    deep_m
        No point of a polygon lies farther than this from its outline: half the width of the widest strip. A shape that lies
        whole inside another one is found by it.
    groups
        A number for each shape and for each other one: only pairs of one number count. All pairs if None.

    Returns
    -------
    Index of the shape and of the other one, ordered by both.
    """
    mine, theirs = _pieces(shapes), _pieces(others)
    if not (len(mine.owner) and len(theirs.owner)):
        return np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64)
    reach = within_m + deep_m
    wide = shapely.box(*(mine.bounds + np.array([-reach, -reach, reach, reach])).T)
    tree = shapely.STRtree(np.asarray(shapely.box(*theirs.bounds.T), dtype=object))

    def near_pieces(run: slice) -> Ints:
        found: Ints = tree.query(wide[run])
        found[0] += run.start
        if groups is not None:
            found = found[:, groups[0][mine.owner[found[0]]] == groups[1][theirs.owner[found[1]]]]
        return found[:, ~_beside(mine.slanting, theirs.slanting, found, reach + _ROUNDING_M)]

    piece, other = np.concatenate(run_in_runs(near_pieces, len(wide)), axis=1)
    pair = np.unique(mine.owner[piece] * len(others) + theirs.owner[other])
    first, second = pair // len(others), pair % len(others)
    near = _are_near(shapes, others, (first, second), within_m)
    return first[near].astype(np.int64), second[near].astype(np.int64)


def _are_near(shapes: Shapes, others: Shapes, pair: tuple[Ints, Ints], within_m: float) -> Bools:
    """Tell which pairs, ordered by the shape, are no farther apart than `within_m`.

    What prepares a shape for quick answers must not be asked by two threads: all pairs of one shape are in one run.
    """
    shapely.prepare(shapes)
    start = np.flatnonzero(np.append(True, pair[0][1:] != pair[0][:-1]))
    start = np.append(start, len(pair[0])) if len(pair[0]) else np.zeros(1, dtype=np.int64)

    def near(run: slice) -> Bools:
        mine = slice(start[run.start], start[run.stop])
        first, second = shapes[pair[0][mine]], others[pair[1][mine]]
        found: Bools = shapely.dwithin(first, second, within_m) if within_m else shapely.intersects(first, second)
        return found

    return np.concatenate(run_in_runs(near, len(start) - 1))


@dataclass(frozen=True, eq=False)
class _Pieces:
    """Short pieces of shapes' outlines, each inside a box along the axes and inside one along the piece.

    Attributes
    ----------
    bounds, owner
        Box along the axes, shape (n, 4), and the shape that the piece is of.
    slanting
        Box along the piece, shape (n, 6): its middle (x, y), the unit vector along it (x, y), half its length and half its width.
    """

    bounds: Floats
    owner: Ints
    slanting: Floats


@compiled
def _beside(some: Floats, others: Floats, pair: Ints, reach: float) -> Bools:
    """Tell pairs of which one lies beyond reach to one side of the other: boxes along the axes of slanting neighbours overlap.

    Two tables of boxes along the piece and the pairs of numbers in them, shape (2, n).
    """
    apart = np.zeros(pair.shape[1], dtype=np.bool_)
    for k in range(pair.shape[1]):
        a, b = some[pair[0, k]], others[pair[1, k]]
        x, y = b[0] - a[0], b[1] - a[1]
        turn, same = abs(a[2] * b[3] - a[3] * b[2]), abs(a[2] * b[2] + a[3] * b[3])
        if (
            abs(a[2] * y - a[3] * x) > reach + a[5] + same * b[5] + turn * b[4]
            or abs(b[2] * y - b[3] * x) > reach + b[5] + same * a[5] + turn * a[4]
        ):
            apart[k] = True
    return apart


def _pieces(shapes: Shapes) -> _Pieces:
    """Short pieces of each shape's outline."""
    points, owner = shapely.get_coordinates(shapes, return_index=True)
    if not len(points):
        return _Pieces(np.zeros((0, 4)), np.zeros(0, dtype=np.int64), np.zeros((0, 6)))
    first = np.flatnonzero(np.append(True, owner[1:] != owner[:-1]))
    place = np.arange(len(points)) - np.repeat(first, np.diff(np.append(first, len(points))))
    start = np.flatnonzero(place % _RUN == 0)
    # each piece goes on to where the next one of its shape begins
    last = np.append(start[1:], len(points)) - 1
    last[:-1] += owner[start[1:]] == owner[start[:-1]]
    way = points[last] - points[start]
    size = np.hypot(*way.T)
    east, north = np.where(size > 0, way.T / np.where(size > 0, size, 1.0), [[1.0], [0.0]])
    back, fore = _reach(points, start, last, east, north)
    right, left = _reach(points, start, last, -north, east)
    along, across = (back + fore) / 2, (right + left) / 2
    x, y = along * east - across * north, along * north + across * east
    one, none = np.ones(len(start)), np.zeros(len(start))
    sides = [*_reach(points, start, last, one, none), *_reach(points, start, last, none, one)]
    bounds = np.column_stack([sides[k] for k in (0, 2, 1, 3)])
    slanting = np.column_stack([x, y, east, north, (fore - back) / 2, (left - right) / 2])
    return _Pieces(bounds, owner[start].astype(np.int64), slanting)


def _reach(points: Floats, start: Ints, last: Ints, east: Floats, north: Floats) -> tuple[Floats, Floats]:
    """How far each run of points reaches along its unit vector: from `start` to before the next one, and the `last` one."""
    size = np.diff(np.append(start, len(points)))
    place = points[:, 0] * np.repeat(east, size) + points[:, 1] * np.repeat(north, size)
    end = points[last, 0] * east + points[last, 1] * north
    return np.minimum(np.minimum.reduceat(place, start), end), np.maximum(np.maximum.reduceat(place, start), end)
