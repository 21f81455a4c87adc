"""Lines with their parallels: any number of polylines in flat arrays, and points beside them.

A point beside a line has two coordinates: the chainage `s` along the line and the offset `o` across it,
positive to the left. It lies at P(s) + o m(s), where m is the mitre vector: at a vertex the bisector that
reaches both parallels of the two segments, between vertices interpolated. So all points of one offset lie
on the true parallel of the polyline, straight between vertices, and strips cut at any chainage share
their edges exactly. Every offset is measured from the line itself, never from another offset.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from geoagro.arrays import Floats, Ints

_SHARPEST = 0.3  # 1 + cos(turn): a turn sharper than 134 degrees has no usable mitre
_GAP = 1.0  # between the keys of two lines, so that a search never lands on the wrong one


@dataclass(frozen=True)
class Parallels:
    """Polylines in flat arrays, one entry per vertex.

    Attributes
    ----------
    xy, mitre
        Vertex and its mitre vector to the left.
    line, chainage
        Number of the line that the vertex belongs to and the distance from its start.
    first, length, closed
        Per line: its first vertex, its length, and whether it is a closed ring.
    base
        Per line: what is added to a chainage to make a key that rises over all lines.
    """

    xy: Floats
    mitre: Floats
    line: Ints
    chainage: Floats
    first: Ints
    length: Floats
    closed: NDArray[np.bool_]
    base: Floats

    def along(self, line: Ints, s: Floats) -> tuple[Floats, Floats]:
        """Point on the line and mitre vector at chainage `s`; both of shape (n, 2)."""
        last = np.append(self.first[1:], len(self.line)) - 1
        v = np.searchsorted(self.base[self.line] + self.chainage, self.base[line] + s, side="right") - 1
        v = np.clip(v, self.first[line], last[line] - 1)
        w = (s - self.chainage[v]) / (self.chainage[v + 1] - self.chainage[v])
        w = w[:, None]
        return (
            self.xy[v] * (1 - w) + self.xy[v + 1] * w,
            self.mitre[v] * (1 - w) + self.mitre[v + 1] * w,
        )

    def place(self, line: Ints, s: Floats, offset: Any) -> Floats:
        """Points at chainage `s` and `offset` (left positive), shape (n, 2)."""
        point, mitre = self.along(line, s)
        return point + np.broadcast_to(np.asarray(offset, dtype=float), s.shape)[:, None] * mitre

    def breaks(self, step_m: float) -> tuple[Ints, Floats]:
        """Line and chainage of all vertices and of stations at most `step_m` apart, in order.

        The stations divide each line evenly, so that a line run backwards has the same ones.
        """
        pieces = np.maximum(1, np.ceil(self.length / step_m - 1e-9)).astype(np.int64)
        inner = np.repeat(np.arange(len(pieces)), pieces - 1)
        count = np.arange(len(inner)) - np.repeat(np.cumsum(pieces - 1) - (pieces - 1), pieces - 1) + 1
        line = np.concatenate([self.line, inner])
        s = np.concatenate([self.chainage, count * self.length[inner] / pieces[inner]])
        key = self.base[line] + s
        order = np.argsort(key, kind="stable")
        gap = np.diff(key[order])
        near = np.minimum(np.append(np.inf, gap), np.append(gap, np.inf)) < step_m / 20
        order = order[~(near & (order >= len(self.line)))]
        return line[order], s[order]


def parallels(lines: Any) -> Parallels:
    """Prepare LineStrings (an array) for work beside them.

    >>> p = parallels(shapely.linestrings([[[0, 0], [4, 0], [4, 4]]]))
    >>> p.place(np.array([0, 0]), np.array([0.0, 4.0]), 1.0).tolist()
    [[0.0, 1.0], [3.0, 1.0]]
    """
    lines = shapely.remove_repeated_points(np.asarray(lines, dtype=object), 1e-6)
    xy, line = shapely.get_coordinates(lines, return_index=True)
    line = line.astype(np.int64)
    first = np.searchsorted(line, np.arange(len(lines)))
    step = np.diff(xy, axis=0)
    size = np.hypot(*step.T)
    size[first[1:] - 1] = 0.0
    total = np.append(0.0, np.cumsum(size))
    chainage = total - total[first][line]
    length = np.append(total[first[1:]], total[-1]) - total[first]
    closed = shapely.is_closed(lines)
    base = np.cumsum(length) - length + _GAP * np.arange(len(lines))
    return Parallels(xy, _mitres(step, size, first, closed), line, chainage, first, length, closed, base)


def merge_short_steps(lines: Any, shortest_m: float) -> Any:
    """Lines without segments shorter than given: the two ends of such a segment become one vertex.

    Two vertices merge in their middle, or in the line's own end, which stays. Of several short segments in a
    row the shortest goes first, so that a line run backwards gives the same.

    >>> merge_short_steps(shapely.linestrings([[[0, 0], [4, 0], [4, 0.2], [4, 4]]]), 0.3)[0].wkt
    'LINESTRING (0 0, 4 0.1, 4 4)'
    """
    xy, line = shapely.get_coordinates(np.asarray(lines, dtype=object), return_index=True)
    while True:
        inner = line[1:] == line[:-1]
        size = np.where(inner, np.hypot(*np.diff(xy, axis=0).T), np.inf)
        first, last = np.append(True, ~inner), np.append(~inner, True)
        around = np.minimum(np.append(np.inf, size[:-1]), np.append(size[1:], np.inf))
        step = np.flatnonzero((size < shortest_m) & (size <= around) & ~(first[:-1] & last[1:]))
        step = step[np.append(True, np.diff(step) > 1)[: len(step)]]
        if len(step) == 0:
            return shapely.linestrings(xy, indices=line)
        middle = (xy[step] + xy[step + 1]) / 2
        middle = np.where(first[step][:, None], xy[step], np.where(last[step + 1][:, None], xy[step + 1], middle))
        xy[step] = middle
        keep = np.ones(len(xy), dtype=bool)
        keep[step + 1] = False
        xy, line = xy[keep], line[keep]


def _mitres(step: Floats, size: Floats, first: Ints, closed: NDArray[np.bool_]) -> Floats:
    """Mitre vector of every vertex: the normals on both sides, summed and scaled to reach both parallels."""
    last = np.append(first[1:], len(step) + 1) - 1
    unit = step / np.where(size > 0, size, 1.0)[:, None]
    normal = np.column_stack([-unit[:, 1], unit[:, 0]])
    before, after = np.vstack([normal[:1], normal]), np.vstack([normal, normal[-1:]])
    after[last] = before[last]
    before[first] = after[first]
    ends, starts = last[closed], first[closed]
    after[ends], before[starts] = normal[starts], normal[ends - 1]
    turn = np.maximum(1.0 + np.sum(before * after, axis=1), _SHARPEST)
    mitres: Floats = (before + after) / turn[:, None]
    return mitres
