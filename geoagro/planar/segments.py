"""Lines cut into two-point segments with a search tree: who is near, and what a ray meets first."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely

from geoagro.arrays import Bools, Floats, Ints, Lines, Shapes
from geoagro.planar.polylines import Polylines
from geoagro.planar.quad_loops import quads_apart
from geoagro.planar.ray_loops import Cells, Frame, Pieces, RayGrid, first_met, mark_near, nearest_to, ray_grid
from geoagro.planar.threads import over_runs, run_in_runs

EVERYWHERE_SHORT_M = 10.0
"""Long slanted segments have wide envelopes, which slow the tree."""
MANY_POINTS = 50_000
"""From so many points on, several threads look for what is near."""
_NOTHING = 1e-9


@dataclass(frozen=True, eq=False)
class Segments:
    """Two-point segments of many lines.

    Attributes
    ----------
    start, end
        Shape (n, 2).
    line, station
        Number of the line that each segment belongs to, and the distance of its first point from the line's start.
    run
        Length of line from each segment's first point to its last; where lines were sampled, that can be more
        than the straight segment between is long.
    """

    start: Floats
    end: Floats
    line: Ints
    station: Floats
    run: Floats

    def __len__(self) -> int:
        return len(self.line)

    @cached_property
    def shapes(self) -> Shapes:
        """The segments as LineStrings."""
        ends = np.stack([self.start, self.end], axis=1)
        return np.asarray(shapely.linestrings(ends), dtype=object) if len(self) else np.zeros(0, dtype=object)

    @cached_property
    def tree(self) -> shapely.STRtree:
        """Search tree over `shapes`."""
        return shapely.STRtree(self.shapes)

    @property
    def length(self) -> Floats:
        """Length of each segment, metres."""
        return np.asarray(np.hypot(self.end[:, 0] - self.start[:, 0], self.end[:, 1] - self.start[:, 1]))

    def pairs(self, shapes: Shapes, distance_m: float) -> tuple[Ints, Ints]:
        """Index of shape and of segment for all that are within a distance of each other."""
        tree = self.tree

        def near(run: slice) -> Ints:
            found: Ints = tree.query(shapes[run], predicate="dwithin", distance=distance_m)
            found[0] += run.start
            return found

        shape, segment = np.concatenate(run_in_runs(near, len(shapes)), axis=1)
        return shape, segment

    @cached_property
    def grid(self) -> RayGrid:
        """The segments in square cells, for rays and nearest segments."""
        return ray_grid(self.start, self.end)

    def first_hit(
        self, origin: Floats, direction: Floats, near: float, far: float, *, standing: Standing | None = None
    ) -> Hits:
        """Find what rays meet first between `near` and `far` times `direction`, their own surroundings left out."""
        count = len(origin)
        out = Hits(np.full(count, np.inf), np.full(count, -1, dtype=np.int64), np.full(count, np.nan))
        own = (nowhere(count) if standing is None else standing).arrays
        rays, reach = (_plain(origin), _plain(direction)), np.array([near, far])
        first_met(*self._cells, rays, reach, own, (out.distance, out.line, out.station))
        return out

    def nearest(self, points: Floats, within_m: float, *, standing: Standing) -> Floats:
        """Distance of points from the nearest segment, their own surroundings left out; infinite beyond `within_m`."""
        cells = self._cells

        def nearest(run: slice) -> Floats:
            out = np.full(len(points[run]), np.inf)
            nearest_to(*cells, _plain(points[run]), within_m, standing.take(run).arrays, out)
            return out

        everything = slice(0, len(points))
        return np.concatenate(run_in_runs(nearest, len(points))) if len(points) >= MANY_POINTS else nearest(everything)

    def quads_apart(self, corners: Floats, own: Ints, within_m: float) -> Floats:
        """Distance of four-cornered shapes, corners of shape (n, 4, 2), from the nearest segment; infinite beyond `within_m`.

        Shape (n, 3): from lines with a lower number than the shape's `own` line, from that line, from those with a higher one.
        """
        cells = self._cells

        def apart(corners: Floats, own: Ints) -> Floats:
            out = np.full((len(own), 3), np.inf)
            quads_apart(*cells, _plain(corners), np.ascontiguousarray(own, dtype=np.int64), within_m, out)
            return out

        found: Floats = over_runs(apart, corners, own)
        return found

    def near_others(self, asked: Bools, within_m: float, gap_m: float) -> Bools:
        """Tell which segments lie nearer than `within_m` to another one; pairs of which neither line is `asked` aren't looked at.

        Two of one line count where the way along it from the far end of one to that of the other is more than `gap_m`.
        """
        marked = np.zeros(len(self), dtype=bool)
        mark_near(*self._cells, np.ascontiguousarray(asked), within_m, gap_m, marked)
        return marked

    @property
    def _cells(self) -> tuple[Frame, Cells, Pieces]:
        g = self.grid
        pieces = (_plain(self.start), _plain(self.end), self.line.astype(np.int64), self.station, _plain(self.run))
        return (g.west, g.south, g.cell_m, g.columns, g.rows), (g.pointer, g.member), pieces


def _plain(values: Floats) -> Floats:
    """Copy values laid out one after another, as compiled loops want them, if they aren't."""
    return np.ascontiguousarray(values, dtype=np.float64)


@dataclass(frozen=True, eq=False)
class Standing:
    """Where on lines rays or points stand, so that they don't meet their own surroundings.

    Attributes
    ----------
    line, station
        The line (-1: none) and the place on it.
    length, closed
        That line's length, and whether it is a ring.
    gap_m
        So far along its own line nothing is met.
    """

    line: Ints
    station: Floats
    length: Floats
    closed: Bools
    gap_m: float

    def take(self, which: Ints | slice) -> Standing:
        """Return some of them."""
        return Standing(self.line[which], self.station[which], self.length[which], self.closed[which], self.gap_m)

    @property
    def arrays(self) -> tuple[Ints, Floats, Floats, Bools, float]:
        """The same for compiled loops."""
        line = np.ascontiguousarray(self.line, dtype=np.int64)
        return line, _plain(self.station), _plain(self.length), np.ascontiguousarray(self.closed), float(self.gap_m)


def nowhere(count: int) -> Standing:
    """On no line."""
    nothing = np.zeros(count)
    return Standing(np.full(count, -1, dtype=np.int64), nothing, nothing, nothing > 0, 0.0)


@dataclass(frozen=True, eq=False)
class Hits:
    """What each ray meets first; one entry per ray.

    Attributes
    ----------
    distance
        In lengths of the ray's direction; infinite where nothing is met.
    line, station
        The line met (-1: none) and where on it (NaN).
    """

    distance: Floats
    line: Ints
    station: Floats


def meeting(origin: Floats, direction: Floats, start: Floats, end: Floats) -> tuple[Floats, Floats, Bools]:
    """Where rays meet segments (all of shape (..., 2)).

    Returns
    -------
    How far along the ray (in lengths of its direction) and along the segment (as a share) their lines meet, and whether
    that is on the segment.
    """
    px, py = start[..., 0] - origin[..., 0], start[..., 1] - origin[..., 1]
    qx, qy = end[..., 0] - start[..., 0], end[..., 1] - start[..., 1]
    nx, ny = direction[..., 0], direction[..., 1]
    cross = nx * qy - ny * qx
    with np.errstate(divide="ignore", invalid="ignore"):
        at = (px * qy - py * qx) / cross
        share = (px * ny - py * nx) / cross
    return at, share, (np.abs(cross) > 1e-12) & (share >= -_NOTHING) & (share <= 1 + _NOTHING)


def segments_of(lines: Lines | Polylines, *, longest_m: float = np.inf) -> Segments:
    """Cut lines (LineStrings, LinearRings or Polylines) at their vertices, into pieces no longer than `longest_m`."""
    if not isinstance(lines, Polylines):
        shapes = np.asarray(lines, dtype=object)
        lines = Polylines.read(shapely.segmentize(shapes, longest_m) if np.isfinite(longest_m) else shapes)
    piece = np.flatnonzero(lines.line[1:] == lines.line[:-1])
    start, end = lines.xy[piece], lines.xy[piece + 1]
    return Segments(start, end, lines.line[piece], lines.station[piece], np.hypot(*(end - start).T))
