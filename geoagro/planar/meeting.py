"""Which long, bent shapes meet: found from boxes around short pieces of their outlines.

The box around a whole row of a kilometre holds a hundred other rows. A search tree over such boxes would compare each shape
with nearly all others, so that the work grows with the square of the field.
"""

from __future__ import annotations

import numpy as np
import shapely

from geoagro.arrays import Bools, Floats, Ints, Shapes
from geoagro.planar.threads import run_in_runs

_RUN = 12
"""Vertices of an outline in one box."""


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
    mine, theirs = _boxes(shapes), _boxes(others)
    if not (len(mine[1]) and len(theirs[1])):
        return np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64)
    reach = within_m + deep_m
    wide = shapely.box(*(mine[0] + np.array([-reach, -reach, reach, reach])).T)
    tree = shapely.STRtree(np.asarray(shapely.box(*theirs[0].T), dtype=object))

    def near_boxes(run: slice) -> Ints:
        found: Ints = tree.query(wide[run])
        found[0] += run.start
        return found

    box, other = np.concatenate(run_in_runs(near_boxes, len(wide)), axis=1)
    pair = np.unique(mine[1][box] * len(others) + theirs[1][other])
    first, second = pair // len(others), pair % len(others)
    if groups is not None:
        same = groups[0][first] == groups[1][second]
        first, second = first[same], second[same]
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


def _boxes(shapes: Shapes) -> tuple[Floats, Ints]:
    """Bounds of short pieces of each shape's outline, shape (n, 4), and the shape that each is of."""
    points, owner = shapely.get_coordinates(shapes, return_index=True)
    if not len(points):
        return np.zeros((0, 4)), np.zeros(0, dtype=np.int64)
    first = np.flatnonzero(np.append(True, owner[1:] != owner[:-1]))
    place = np.arange(len(points)) - np.repeat(first, np.diff(np.append(first, len(points))))
    start = np.flatnonzero(place % _RUN == 0)
    low, high = np.minimum.reduceat(points, start), np.maximum.reduceat(points, start)
    # each piece goes on to where the next one of its shape begins
    on = np.flatnonzero(owner[start[1:]] == owner[start[:-1]])
    low[on], high[on] = np.minimum(low[on], points[start[on + 1]]), np.maximum(high[on], points[start[on + 1]])
    return np.column_stack([low, high]), owner[start].astype(np.int64)
