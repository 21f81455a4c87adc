"""Strips of ground beside lines, and the lines along their middle."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from geoagro.arrays import Bools, Floats, Ints, Shapes
from geoagro.planar.polylines import Polylines


@dataclass(frozen=True, eq=False)
class Stretches:
    """Stretches of lines: line number, station where each begins and where it ends."""

    line: Ints
    begin: Floats
    end: Floats

    def __len__(self) -> int:
        return len(self.line)

    def take(self, which: Ints | Bools) -> Stretches:
        """Return the chosen stretches."""
        return Stretches(self.line[which], self.begin[which], self.end[which])


def corners_between(lines: Polylines, stretches: Stretches, near: float, far: float) -> Floats:
    """Corners, shape (n, 4, 2), of four-cornered strips between two offsets; exact where no vertex lies inside the stretch."""
    corners = [
        lines.beside(stretches.line, s, offset)
        for s, offset in (
            (stretches.begin, near),
            (stretches.end, near),
            (stretches.end, far),
            (stretches.begin, far),
        )
    ]
    return np.stack(corners, axis=1)


def strips(lines: Polylines, stretches: Stretches, near: Floats, far: Floats) -> Shapes:
    """Polygons between two offsets (same sign, one pair per stretch), bounded by true parallels.

    Exterior rings run counter-clockwise. They are simple as long as no offset passes a centre of curvature.
    """
    owner, s = nodes(lines, stretches)
    out = lines.beside(stretches.line[owner], s, near[owner])
    back = lines.beside(stretches.line[owner], s, far[owner])
    return ring_between(owner, out, back)


def ring_between(owner: Ints, out: Floats, back: Floats, *, back_owner: Ints | None = None) -> Shapes:
    """Polygons that go along `out` and return along `back`; `owner` (rising) groups the points.

    `back_owner` groups those of `back`, from the same numbers, where there are more or fewer of them.
    """
    returning = owner if back_owner is None else back_owner
    group = np.concatenate([owner, returning[::-1]])
    order = np.argsort(group, kind="stable")
    xy = np.concatenate([out, back[::-1]])[order]
    rings = shapely.linearrings(xy, indices=group[order])
    return np.asarray(shapely.orient_polygons(shapely.polygons(rings)), dtype=object)


def midlines(lines: Polylines, stretches: Stretches, offset: Floats) -> Shapes:
    """LineStrings at one offset per stretch, running the same way as the line."""
    owner, s = nodes(lines, stretches)
    return np.asarray(
        shapely.linestrings(lines.beside(stretches.line[owner], s, offset[owner]), indices=owner), dtype=object
    )


def nodes(lines: Polylines, stretches: Stretches) -> tuple[Ints, Floats]:
    """List the ends of the stretches and the vertices between, in order: which stretch, and the station."""
    tiny = 1e-6  # a vertex at the very end is the end
    low = np.searchsorted(lines.along, lines.key(stretches.line, stretches.begin) + tiny)
    high = np.maximum(np.searchsorted(lines.along, lines.key(stretches.line, stretches.end) - tiny), low)
    size = high - low
    owner = np.repeat(np.arange(len(stretches)), size)
    vertex = np.arange(size.sum()) - np.repeat(np.cumsum(size) - size, size) + low[owner]
    every = np.arange(len(stretches))
    group = np.concatenate([every, owner, every])
    s = np.concatenate([stretches.begin, lines.station[vertex], stretches.end])
    order = np.lexsort([s, group])
    return group[order], s[order]


def ribbon_length(shapes: Shapes) -> Floats:
    """Length, metres, of the straight ribbon that has a shape's area and perimeter; branches add up.

    A ribbon l long and w wide has area l w and perimeter 2 (l + w); what is rounder than a square has l = w.
    """
    half, area = shapely.length(shapes) / 2, shapely.area(shapes)
    length: Floats = (half + np.sqrt(np.maximum(half**2 - 4 * area, 0.0))) / 2
    return length
