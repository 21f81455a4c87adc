"""Nudge rows in some zones of a field; what lies outside stays."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import compress, pairwise

import numpy as np
import shapely
from shapely import LineString
from shapely.geometry.base import BaseGeometry

from geoagro.arrays import Bools, Floats, Shapes
from geoagro.rows.candidates import nudged
from geoagro.rows.task import Task

AROUND_M = 12.0
"""Rows farther than this from a zone aren't seen; those between are seen and stay."""
STEP_M = 4.0
"""A row is cut in two at the last of its vertices that is seen; where they are farther apart than this, it gets more of them."""
CORNERS = 4
"""Corners of a quarter of a circle round what is seen: rows are cut a little nearer to the zone than they could be."""


@dataclass(frozen=True, eq=False)
class _Cut:
    """A row's vertices, shape (n, 2), in parts that share those between them; and which parts are seen."""

    parts: list[Floats]
    seen: list[bool]


def smoothed(
    rows: Sequence[LineString], zone: BaseGeometry, task: Task, rounds: int, *, firm: float = 1.0
) -> list[LineString]:
    """Nudge rows within a zone, as `firm` as in `Wishes`; what lies outside stays, to the last digit."""
    those = np.asarray(rows, dtype=object)
    outer = zone.buffer(AROUND_M, quad_segs=CORNERS)
    shapely.prepare(outer)
    near = np.flatnonzero(shapely.intersects(outer, those))
    cut = _cut(those[near], outer)
    seen = [LineString(part) for row in cut for part in compress(row.parts, row.seen)]
    moved = iter(nudged(seen, task, rounds, movable=zone, firm=firm) if seen else [])
    for number, row in zip(near, cut, strict=True):
        if any(row.seen):
            parts = [_moved(part, next(moved)) if s else part for part, s in zip(row.parts, row.seen, strict=True)]
            those[number] = LineString(np.concatenate([parts[0], *(part[1:] for part in parts[1:])]))
    return list(those)


def _cut(rows: Shapes, area: BaseGeometry) -> list[_Cut]:
    """Cut rows where they come into an area or go out of it, at the last vertex inside."""
    xy, number = shapely.get_coordinates(shapely.segmentize(rows, STEP_M), return_index=True)
    inside = shapely.contains_xy(area, xy[:, 0], xy[:, 1])
    first = np.searchsorted(number, np.arange(len(rows) + 1))
    return [_parts(xy[a:b], inside[a:b]) for a, b in pairwise(first)]


def _parts(xy: Floats, inside: Bools) -> _Cut:
    """Cut one row's vertices at the ends of the runs of those that lie inside; a ring begins outside, where any of it does."""
    if (xy[0] == xy[-1]).all() and not inside.all():
        begin = int(np.argmin(inside))
        inside = np.roll(inside[:-1], -begin)
        xy, inside = np.roll(xy[:-1], -begin, axis=0), np.append(inside, inside[0])
        xy = np.concatenate([xy, xy[:1]])
    seen = inside[:-1] & inside[1:]
    change = np.flatnonzero(seen[1:] != seen[:-1]) + 1
    edges = [0, *change.tolist(), len(xy) - 1]
    return _Cut([xy[a : b + 1] for a, b in pairwise(edges)], seen[np.append(0, change)].tolist())


def _moved(part: Floats, moved: LineString) -> Floats:
    """Vertices of a nudged part, between the ends that it had: rows that go on are joined to them."""
    xy = shapely.get_coordinates(moved)
    if (part[0] == part[-1]).all():
        return xy
    return np.concatenate([part[:1], xy[1:-1], part[-1:]])
