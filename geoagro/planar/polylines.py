"""Many polylines as one value: places along them, beside them, and the straight pieces that they consist of.

A place on a line is its number and its station, the distance from the line's start. A place beside it has an offset
too, positive to the left. It lies at P(station) + offset m(station), where m is the mitre vector: at a vertex the
bisector that reaches the parallels of both pieces, between vertices interpolated. So all places of one offset lie on
the true parallel of the line, and strips cut at any station share their edges exactly. Every offset is measured
from the line itself, never from another offset.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, cast

import numpy as np
import shapely
from pyproj import CRS
from shapely import LineString

from geoagro.arrays import Bools, Floats, Ints, Lines, Shapes
from geoagro.errors import CrsError
from geoagro.planar.bending import circle_radius
from geoagro.planar.ragged import owners, places, starts

_SHARPEST = 0.3
"""1 + cos(turn): a turn sharper than 134 degrees has no usable mitre."""
_LEAST_LAP_M = 1e-9
"""A ring that shrank to a point is held to be as long."""


@dataclass(frozen=True, eq=False)
class Polylines:
    """Vertices of many lines, one line after another.

    Attributes
    ----------
    xy
        Shape (vertices, 2), metres.
    first
        Index of each line's first vertex, and one more: the number of vertices.
    along
        Running length over all lines (no length between two lines), so that it never falls.
    lengths
        Length of each line, metres.
    crs
        CRS of the coordinates; None for the working CRS of whoever built the lines.
    """

    xy: Floats
    first: Ints
    along: Floats
    lengths: Floats
    crs: CRS | None = None

    @staticmethod
    def of(xy: Floats, counts: Ints, crs: CRS | None = None) -> Polylines:
        """Build from vertices and the number of vertices of each line (at least 2)."""
        step = np.hypot(xy[1:, 0] - xy[:-1, 0], xy[1:, 1] - xy[:-1, 1])
        first = starts(counts)
        step[first[1:-1] - 1] = 0.0
        along = np.concatenate([[0.0], np.cumsum(step)])
        return Polylines(xy, first, along, along[first[1:] - 1] - along[first[:-1]], crs)

    @staticmethod
    def read(lines: Lines, *, apart_m: float = 0.0, crs: CRS | None = None) -> Polylines:
        """Take LineStrings (a list, array or GeoSeries); a vertex within `apart_m` of the one before is left out."""
        own = getattr(lines, "crs", None)
        if own is not None and crs is not None and own != crs:
            raise CrsError(f"Lines in {own.name} can't be taken for lines in {crs.name}.")
        shapes = np.asarray(lines, dtype=object)
        xy, counts = _vertices(shapes)
        if apart_m > 0 or _any_repeated(xy, counts):  # few are: looking for them first takes a tenth of the time
            shapes = shapely.remove_repeated_points(shapes, apart_m)
            xy, counts = _vertices(shapes)
        read = Polylines.of(xy, counts, crs if own is None else own)
        # a line's own sum is the same wherever it stands among others; differences of the running one are rounded
        return replace(read, lengths=np.asarray(shapely.length(shapes), dtype=np.float64))

    def __len__(self) -> int:
        return len(self.first) - 1

    @property
    def counts(self) -> Ints:
        """Number of vertices of each line."""
        return np.diff(self.first)

    @property
    def closed(self) -> Bools:
        """Whether each line ends where it starts."""
        closed: Bools = (self.xy[self.first[:-1]] == self.xy[self.first[1:] - 1]).all(axis=1)
        return closed

    @cached_property
    def line(self) -> Ints:
        """Number of the line that each vertex belongs to."""
        return owners(self.counts)

    @property
    def station(self) -> Floats:
        """Distance of each vertex from the start of its line, metres."""
        return self.along - self.along[self.first[:-1]][self.line]

    def geometries(self) -> Shapes:
        """Array of LineStrings."""
        return np.asarray(shapely.linestrings(self.xy, indices=self.line), dtype=object)

    def take(self, which: Ints) -> Polylines:
        """Build the lines with these numbers, in this order; a number may come twice."""
        counts = self.counts[which]
        return Polylines.of(self.xy[np.repeat(self.first[:-1][which], counts) + places(counts)], counts, self.crs)

    def key(self, line: Ints, station: Floats) -> Floats:
        """Return the running length over all lines at places: it rises from place to place, and from line to line."""
        return self.along[self.first[line]] + station

    def _piece(self, line: Ints, key: Floats) -> tuple[Ints, Floats]:
        """Find the vertex before places, and the share of the way to the next one: one search over all vertices."""
        vertex = np.searchsorted(self.along, key, side="right") - 1
        vertex = np.clip(vertex, self.first[line], self.first[line + 1] - 2)
        size = np.maximum(self.along[vertex + 1] - self.along[vertex], 1e-12)
        return vertex, np.clip((key - self.along[vertex]) / size, 0.0, 1.0)

    def at(self, line: Ints, station: Floats) -> Floats:
        """Points (n, 2) on lines; before its start and past its end a line has no more than those.

        Equal steps of `station` are equal lengths along the whole line, corners or not.
        (shapely.line_interpolate_point walks each line from its start for every point.)
        """
        if len(line) == 0:
            return np.zeros((0, 2))
        first, last = self.along[self.first[line]], self.along[self.first[line + 1] - 1]
        vertex, share = self._piece(line, np.clip(first + station, first, last))
        points: Floats = self.xy[vertex] + share[:, None] * (self.xy[vertex + 1] - self.xy[vertex])
        return points

    def locate(self, line: Ints, station: Floats) -> tuple[Floats, Floats]:
        """Points (n, 2) on lines, and the unit vectors (n, 2) of the lines there."""
        vertex, share = self._piece(line, self.key(line, station))
        step = self.xy[vertex + 1] - self.xy[vertex]
        size = np.maximum(self.along[vertex + 1] - self.along[vertex], 1e-12)
        return self.xy[vertex] + share[:, None] * step, step / size[:, None]

    def footing(self, line: Ints, station: Floats) -> tuple[Floats, Floats]:
        """Points on lines and the mitre vectors there; both of shape (n, 2)."""
        vertex, share = self._piece(line, self.key(line, station))
        w = share[:, None]
        return (
            self.xy[vertex] * (1 - w) + self.xy[vertex + 1] * w,
            self.mitres[vertex] * (1 - w) + self.mitres[vertex + 1] * w,
        )

    def beside(self, line: Ints, station: Floats, offset: Any) -> Floats:
        """Points `offset` metres (left positive) beside lines, shape (n, 2)."""
        point, mitre = self.footing(line, station)
        return point + np.broadcast_to(np.asarray(offset, dtype=float), station.shape)[:, None] * mitre

    @cached_property
    def mitres(self) -> Floats:
        """Mitre vector of every vertex: the normals on both sides, summed and scaled to reach both parallels."""
        step = np.diff(self.xy, axis=0)
        size = np.hypot(*step.T)
        normal = np.column_stack([-step[:, 1], step[:, 0]]) / np.where(size > 0, size, 1.0)[:, None]
        before, after = np.vstack([normal[:1], normal]), np.vstack([normal, normal[-1:]])
        start, end = self.first[:-1], self.first[1:] - 1
        after[end] = before[end]
        before[start] = after[start]
        ends, begins = end[self.closed], start[self.closed]
        after[ends], before[begins] = normal[begins], normal[ends - 1]
        turn = np.maximum(1.0 + np.sum(before * after, axis=1), _SHARPEST)
        mitres: Floats = (before + after) / turn[:, None]
        return mitres

    def breaks(self, step_m: float) -> tuple[Ints, Floats]:
        """Line and station of all vertices and of places at most `step_m` apart, in order.

        The places divide each line evenly, so that a line run backwards has the same ones.
        """
        pieces = np.maximum(1, np.ceil(self.lengths / step_m - 1e-9)).astype(np.int64)
        inner = owners(pieces - 1)
        line = np.concatenate([self.line, inner])
        s = np.concatenate([self.station, (places(pieces - 1) + 1) * self.lengths[inner] / pieces[inner]])
        order = np.lexsort((s, line))
        gap = np.where(np.diff(line[order]) == 0, np.diff(s[order]), np.inf)
        near = np.minimum(np.append(np.inf, gap), np.append(gap, np.inf)) < step_m / 20
        order = order[~(near & (order >= len(self.line)))]
        return line[order], s[order]

    def middles(self, step_m: float) -> tuple[Ints, Floats, Floats]:
        """Line, station and length of equal parts of each line, none longer than `step_m`: the middle of each."""
        parts = np.maximum(1, np.ceil(self.lengths / step_m - 1e-9)).astype(np.int64)
        line = owners(parts)
        size = (self.lengths / parts)[line]
        return line, (places(parts) + 0.5) * size, size

    def window(self, line: Ints, station: Floats, half_m: float) -> tuple[Floats, Floats, Floats]:
        """Stations `half_m` before and after places, and the way between them; cut at ends, which a ring has none of."""
        return window_on(self.lengths[line], self.closed[line], station, half_m)

    def radius(self, line: Ints, station: Floats, window_m: float) -> Floats:
        """Radius (metres) of the circle through three points of a line: those of `bend_stations`."""
        return circle_radius(*(self.at(line, s) for s in self.bend_stations(line, station, window_m)))

    def bend_stations(self, line: Ints, station: Floats, window_m: float) -> tuple[Floats, Floats, Floats]:
        """Stations half a window before, at and after places: where a bend is measured.

        The window is measured along the line and is shifted inward at the line's ends.
        """
        half, length = window_m / 2, self.lengths[line]
        inward = np.clip(station, np.minimum(half, length / 2), np.maximum(length - half, length / 2))
        middle = np.where(self.closed[line], station, inward)
        a, b, _ = self.window(line, middle, half)
        return a, middle, b


def _vertices(shapes: Shapes) -> tuple[Floats, Ints]:
    """Vertices of all lines, and how many each has."""
    return shapely.get_coordinates(shapes), np.asarray(shapely.get_num_points(shapes), dtype=np.int64)


def _any_repeated(xy: Floats, counts: Ints) -> bool:
    """Tell whether any vertex is where the one before it on its line is."""
    same = (xy[1:, 0] == xy[:-1, 0]) & (xy[1:, 1] == xy[:-1, 1])
    same[np.cumsum(counts)[:-1] - 1] = False
    return bool(same.any())


def window_on(length: Floats, closed: Bools, station: Floats, half_m: float) -> tuple[Floats, Floats, Floats]:
    """Do what `Polylines.window` does, for places on lines of which the length is known and whether they are rings."""
    if not closed.any():  # as a rule; a remainder for every place takes ten times as long
        first, last = np.maximum(station - half_m, 0.0), np.minimum(station + half_m, length)
        return first, last, last - first
    half = np.where(closed, np.minimum(half_m, length / 2), half_m)
    a, b = station - half, station + half
    lap = np.maximum(length, _LEAST_LAP_M)
    first = np.where(closed, a % lap, np.maximum(a, 0.0))
    last = np.where(closed, b % lap, np.minimum(b, length))
    return first, last, np.where(closed, 2 * half, last - first)


def stretch(line: LineString, start_m: float, end_m: float) -> LineString:
    """Part of a line between two distances from its start, the first less than the second; no farther than its ends.

    >>> stretch(LineString([(0, 0), (4, 0), (4, 4)]), 1, 6).wkt
    'LINESTRING (1 0, 4 0, 4 2)'
    """
    return stretches(line, [(start_m, end_m)])[0]


def stretches(line: LineString, spans: Sequence[tuple[float, float]]) -> list[LineString]:
    """Parts of one line, each as `stretch` gives it: where a line is cut into many, it is measured once."""
    xy = shapely.get_coordinates(line)
    step = xy[1:] - xy[:-1]
    at = np.zeros(len(xy))
    np.cumsum(np.hypot(step[:, 0], step[:, 1]), out=at[1:])
    return [_stretch(xy, at, start_m, end_m) for start_m, end_m in spans]


def _stretch(xy: Floats, at: Floats, start_m: float, end_m: float) -> LineString:
    start, end = (min(max(edge, 0.0), float(at[-1])) for edge in (start_m, end_m))
    first, last = int(at.searchsorted(start, side="right")), int(at.searchsorted(end))
    part = np.empty((max(last - first, 0) + 2, 2))
    part[1:-1] = xy[first:last]
    part[0], part[-1] = _between(xy, at, start, first), _between(xy, at, end, last)
    return cast(LineString, shapely.linestrings(part))


def _between(xy: Floats, at: Floats, place: float, after: int) -> Floats:
    """Point at a distance along vertices with these running lengths; `after` is the vertex behind it, or the one it is on."""
    k = max(min(after, len(at) - 1) - 1, 0)
    for vertex in (k, k + 1):
        if place == at[vertex]:
            on_it: Floats = xy[vertex]
            return on_it
    point: Floats = (xy[k + 1] - xy[k]) / (at[k + 1] - at[k]) * (place - at[k]) + xy[k]
    return point


def merge_short_steps(lines: Lines, shortest_m: float) -> Shapes:
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
            return np.asarray(shapely.linestrings(xy, indices=line), dtype=object)
        middle = (xy[step] + xy[step + 1]) / 2
        middle = np.where(first[step][:, None], xy[step], np.where(last[step + 1][:, None], xy[step + 1], middle))
        xy[step] = middle
        keep = np.ones(len(xy), dtype=bool)
        keep[step + 1] = False
        xy, line = xy[keep], line[keep]
