"""Lines cut into two-point segments with a search tree: who is near, and what a ray meets first."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import shapely

from geoagro.arrays import Bools, Floats, Ints
from geoagro.planar.polylines import Polylines

EVERYWHERE_SHORT_M = 10.0
"""Long slanted segments have wide envelopes, which slow the tree."""
_NOTHING = 1e-9


@dataclass(frozen=True)
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
    def shapes(self) -> Any:
        """The segments as LineStrings."""
        return shapely.linestrings(np.stack([self.start, self.end], axis=1)) if len(self) else np.zeros(0, dtype=object)

    @cached_property
    def tree(self) -> shapely.STRtree:
        """Search tree over `shapes`."""
        return shapely.STRtree(self.shapes)

    @property
    def length(self) -> Floats:
        """Length of each segment, metres."""
        return np.asarray(np.hypot(self.end[:, 0] - self.start[:, 0], self.end[:, 1] - self.start[:, 1]))

    def pairs(self, shapes: Any, distance_m: float) -> tuple[Ints, Ints]:
        """Index of shape and of segment for all that are within a distance of each other."""
        shape, segment = self.tree.query(shapes, predicate="dwithin", distance=distance_m)
        return shape, segment

    def met(self, origin: Floats, direction: Floats, far: float) -> Meetings:
        """Find all that rays meet up to `far` times `direction`."""
        ends = np.stack([origin, origin + far * direction], axis=1)
        ray, segment = self.tree.query(shapely.linestrings(ends))
        at, share, meets = meeting(origin[ray], direction[ray], self.start[segment], self.end[segment])
        meets &= (at > _NOTHING) & (at <= far)
        ray, segment, share = ray[meets], segment[meets], share[meets]
        station = self.station[segment] + share * self.run[segment]
        return Meetings(len(origin), ray, at[meets], self.line[segment], station)

    def first_hit(self, origin: Floats, direction: Floats, near: float, far: float) -> Hits:
        """Find what rays meet first between `near` and `far` times `direction`."""
        met = self.met(origin, direction, far)
        return met.take(met.at >= near).first()


@dataclass(frozen=True)
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


@dataclass(frozen=True)
class Meetings:
    """Everything that `rays` rays meet: which ray, how far along it, which line, and where on it."""

    rays: int
    ray: Ints
    at: Floats
    line: Ints
    station: Floats

    def take(self, which: Any) -> Meetings:
        """Return the chosen ones."""
        return Meetings(self.rays, self.ray[which], self.at[which], self.line[which], self.station[which])

    def first(self) -> Hits:
        """Return the nearest of each ray; of several at once the one on the line that was named first."""
        order = np.lexsort((self.line, self.at, self.ray))
        lead = order[np.append(True, np.diff(self.ray[order]) != 0)[: len(order)]]
        out = Hits(np.full(self.rays, np.inf), np.full(self.rays, -1), np.full(self.rays, np.nan))
        ray = self.ray[lead]
        out.distance[ray], out.line[ray], out.station[ray] = self.at[lead], self.line[lead], self.station[lead]
        return out


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


def away_from(xy: Floats, start: Floats, end: Floats) -> tuple[Floats, Floats]:
    """Distance of points from segments (all of shape (n, 2)), and where along the segment (a share) that is."""
    qx, qy = end[:, 0] - start[:, 0], end[:, 1] - start[:, 1]
    px, py = xy[:, 0] - start[:, 0], xy[:, 1] - start[:, 1]
    share = np.clip((px * qx + py * qy) / np.maximum(qx * qx + qy * qy, 1e-18), 0.0, 1.0)
    return np.hypot(px - share * qx, py - share * qy), share


def apart(start: Floats, end: Floats, other_start: Floats, other_end: Floats) -> Floats:
    """Distance between segments (all of shape (n, 2)) that don't cross; where they do, from an end of one to the other."""
    mine = np.minimum(*(away_from(xy, other_start, other_end)[0] for xy in (start, end)))
    return np.minimum(mine, np.minimum(*(away_from(xy, start, end)[0] for xy in (other_start, other_end))))


def side(xy: Floats, start: Floats, end: Floats) -> Floats:
    """Above 0 for points to the left of a straight line from `start` to `end`, below 0 to the right; shape (n, 2) each."""
    along, away = end - start, xy - start
    turn: Floats = along[:, 0] * away[:, 1] - along[:, 1] * away[:, 0]
    return turn


def cross(start: Floats, end: Floats, other_start: Floats, other_end: Floats) -> Bools:
    """Tell which segments cross (all of shape (n, 2)); touching isn't crossing."""
    apart_here = side(other_start, start, end) * side(other_end, start, end) < 0
    crossing: Bools = apart_here & (side(start, other_start, other_end) * side(end, other_start, other_end) < 0)
    return crossing


def segments_of(lines: Any, *, longest_m: float = np.inf) -> Segments:
    """Cut lines (LineStrings, LinearRings or Polylines) at their vertices, into pieces no longer than `longest_m`."""
    if not isinstance(lines, Polylines):
        shapes = np.asarray(lines, dtype=object)
        lines = Polylines.read(shapely.segmentize(shapes, longest_m) if np.isfinite(longest_m) else shapes)
    piece = np.flatnonzero(lines.line[1:] == lines.line[:-1])
    start, end = lines.xy[piece], lines.xy[piece + 1]
    return Segments(start, end, lines.line[piece], lines.station[piece], np.hypot(*(end - start).T))
