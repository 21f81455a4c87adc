"""Many polylines as flat arrays: parallels beside them, and points at distances along them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely

from geoagro.arrays import Floats, Ints
from geoagro.errors import LayoutError
from geoagro.planar.ragged import owners, places, starts

_SHARPEST = 0.15
"""1 + cos(turn) below which a corner counts as a turn back (148 degrees) and its mitre is cut."""


@dataclass(frozen=True)
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
    """

    xy: Floats
    first: Ints
    along: Floats

    @staticmethod
    def of(xy: Floats, counts: Ints) -> Polylines:
        """Build from vertices and the number of vertices of each line (at least 2)."""
        step = np.hypot(*np.diff(xy, axis=0).T)
        first = starts(counts)
        step[first[1:-1] - 1] = 0.0
        return Polylines(xy, first, np.concatenate([[0.0], np.cumsum(step)]))

    @staticmethod
    def read(lines: Any) -> Polylines:
        """Take an array of LineStrings; repeated vertices are left out."""
        lines = shapely.remove_repeated_points(np.asarray(lines, dtype=object))
        return Polylines.of(shapely.get_coordinates(lines), shapely.get_num_points(lines))

    def __len__(self) -> int:
        return len(self.first) - 1

    @property
    def counts(self) -> Ints:
        """Number of vertices of each line."""
        return np.diff(self.first)

    @property
    def lengths(self) -> Floats:
        """Length of each line, metres."""
        return self.along[self.first[1:] - 1] - self.along[self.first[:-1]]

    def geometries(self) -> Any:
        """Array of LineStrings."""
        return shapely.linestrings(self.xy, indices=owners(self.counts))

    def take(self, which: Ints) -> Polylines:
        """Build the lines with these numbers, in this order; a number may come twice."""
        counts = self.counts[which]
        return Polylines.of(self.xy[np.repeat(self.first[:-1][which], counts) + places(counts)], counts)

    def locate(self, line: Ints, station_m: Floats) -> tuple[Floats, Floats]:
        """Points (n, 2) at distances along lines, and unit vectors (n, 2) of the line there.

        Equal steps of `station_m` are equal arc lengths along the whole line, corners or not.
        """
        at = self.along[self.first[line]] + station_m
        segment = np.searchsorted(self.along, at, side="right") - 1
        segment = np.clip(segment, self.first[line], self.first[line + 1] - 2)
        step = self.xy[segment + 1] - self.xy[segment]
        length = self.along[segment + 1] - self.along[segment]
        share = (at - self.along[segment]) / length
        return self.xy[segment] + share[:, None] * step, step / length[:, None]

    def parallels(self, distance_m: Floats) -> Polylines:
        """Lines at a distance beside each line (left positive), vertex for vertex.

        Corners are mitred, so every segment keeps its distance. Where a bend is tighter than the distance
        and segments would run backwards, the line comes from GEOS' offset curve.
        """
        shifted = self.xy + self._mitres() * np.repeat(distance_m, self.counts)[:, None]
        result = Polylines.of(shifted, self.counts)
        folded = self._runs_backwards(shifted)
        return result._with(folded, self, distance_m) if len(folded) else result

    def _mitres(self) -> Floats:
        step = np.diff(self.xy, axis=0)
        last = self.first[1:] - 1
        length = np.hypot(step[:, 0], step[:, 1])
        normal = np.column_stack([-step[:, 1], step[:, 0]]) / np.where(length > 0, length, 1.0)[:, None]
        before, after = np.vstack([normal[:1], normal]), np.vstack([normal, normal[-1:]])
        before[self.first[:-1]] = after[self.first[:-1]]
        after[last] = before[last]
        scale = 1.0 + np.sum(before * after, axis=1)
        mitre: Floats = (before + after) / np.maximum(scale, _SHARPEST)[:, None]
        return mitre

    def _runs_backwards(self, shifted: Floats) -> Ints:
        same_way = np.sum(np.diff(shifted, axis=0) * np.diff(self.xy, axis=0), axis=1)
        line = owners(self.counts)
        inner = line[1:] == line[:-1]
        return np.unique(line[1:][inner & (same_way <= 0)])

    def _with(self, folded: Ints, base: Polylines, distance_m: Floats) -> Polylines:
        lines = self.geometries()
        lines[folded] = offset_curves(base.take(folded).geometries(), distance_m[folded])
        return Polylines.read(lines)


def offset_curves(lines: Any, distance_m: Floats) -> Any:
    """GEOS' offset curves (left positive), each running the way of its line; the longest piece of each.

    Raises LayoutError where nothing is left of a line at that distance.
    """
    curves = shapely.offset_curve(lines, distance_m, quad_segs=16, join_style="mitre")
    pieces, line = shapely.get_parts(curves, return_index=True)
    whole = shapely.length(pieces) > 0
    pieces, line = pieces[whole], line[whole]
    by_length = np.lexsort([shapely.length(pieces), line])
    longest = by_length[np.diff(line[by_length], append=-1) != 0]
    if len(longest) < len(lines):
        lost = np.setdiff1d(np.arange(len(lines)), line)[0]
        raise LayoutError(
            f"A line of {shapely.length(lines[lost]):.1f} m bends too tightly to lay another {distance_m[lost]:.2f} m "
            "beside it. Raise rows.min_turn_radius_m or bring the lines nearer to the bed's middle."
        )
    found = lines.copy()
    found[line[longest]] = pieces[longest]
    start = shapely.line_locate_point(lines, shapely.get_point(found, 0))
    end = shapely.line_locate_point(lines, shapely.get_point(found, -1))
    return np.where(start > end, shapely.reverse(found), found)
