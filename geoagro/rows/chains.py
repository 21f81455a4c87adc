"""Rows as chains of evenly spaced nodes: the form in which they are moved."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely import LineString

from geoagro.arrays import Bools, Floats, Ints
from geoagro.planar.polylines import Polylines
from geoagro.planar.segments import Segments
from geoagro.rows.loops.places import normals, points_on, points_on_curves
from geoagro.rows.sampling import RowSamples


@dataclass(frozen=True, eq=False)
class Chains:
    """All rows' nodes in flat arrays; a ring's last node is its first one again.

    Attributes
    ----------
    xy
        Nodes, shape (M, 2), metres.
    row
        Row of each node, shape (M,).
    first, count, step
        First node, number of nodes and node distance (metres) of each row.
    normal
        Unit normal of each node, to the left of the row; shape (M, 2).
    before, after
        The nodes next to each node along the row: round the ring, or the node itself at an end.
    is_ring
        Whether each row ends where it starts.
    """

    xy: Floats
    row: Ints
    first: Ints
    count: Ints
    step: Floats
    normal: Floats
    before: Ints
    after: Ints
    is_ring: Bools

    @property
    def station(self) -> Floats:
        """Distance of each node from its row's start, metres."""
        return (np.arange(len(self.row)) - self.first[self.row]) * self.step[self.row]

    @property
    def nodes(self) -> tuple[Floats, Floats, Ints, Ints, Floats]:
        """Places, normals, and the rows' first nodes, counts and steps, for compiled loops."""
        return self.xy, self.normal, self.first, self.count, self.step

    @property
    def is_inner(self) -> Bools:
        """True where a node has a neighbour on both sides; of a ring's double node only the first counts."""
        inner = np.ones(len(self.row), dtype=bool)
        inner[self.first[~self.is_ring]] = False
        inner[self.first + self.count - 1] = False
        return inner

    @property
    def unknown(self) -> Ints:
        """Number of each node's shift among all shifts: its own, but one for a ring's double node."""
        number = np.arange(len(self.row))
        number[(self.first + self.count - 1)[self.is_ring]] = self.first[self.is_ring]
        return number

    def along(self, node: Ints, by: Ints) -> Ints:
        """Nodes `by` places farther along the row, round a ring; the caller keeps within the ends of other rows."""
        row = self.row[node]
        place = node - self.first[row] + by
        return self.first[row] + np.where(self.is_ring[row], place % (self.count[row] - 1), place)

    def runs(self, mask: Bools) -> Ints:
        """Give each node the number, from 1, of the unbroken run of marked nodes of its row; 0 to those in none."""
        starts = mask.copy()
        starts[1:] &= ~mask[:-1] | (self.row[1:] != self.row[:-1])
        return np.where(mask, np.cumsum(starts), 0)

    def moved(self, shift_m: Floats) -> list[LineString]:
        """Rows with each node shifted along its normal."""
        return list(
            np.atleast_1d(np.asarray(shapely.linestrings(self.xy + shift_m[:, None] * self.normal, indices=self.row)))
        )

    def shifted(
        self,
        shift_m: Floats,
        *,
        kept: Polylines | None = None,
        step_m: float | None = None,
        curved: bool = False,
    ) -> Chains:
        """Nodes shifted along their normals, then spread evenly again: as many as before, or `step_m` apart.

        The first rows are those of `kept`, as they are drawn, whatever their shift. With `curved`, for nodes that come closer,
        the new ones of the others lie on the curve through the old ones.
        """
        xy, count = self.xy + shift_m[:, None] * self.normal, self.count
        stay = 0 if kept is None else len(kept)
        still = int(count[:stay].sum())
        if kept is not None and step_m:
            xy, count = np.concatenate([kept.xy, xy[still:]]), np.concatenate([kept.counts, count[stay:]])
        else:
            xy[:still] = self.xy[:still]
        first = np.cumsum(count) - count
        size = np.zeros(len(xy))
        np.hypot(xy[1:, 0] - xy[:-1, 0], xy[1:, 1] - xy[:-1, 1], out=size[1:])
        size[first] = 0.0
        # summed row by row, so that a row's length is the same wherever it stands among others
        lines = replace(Polylines.of(xy, count), lengths=np.add.reduceat(size, first))
        bent = np.arange(len(count)) >= stay if curved else None
        chains = _resampled(lines, self.is_ring, step_m or 0.0, None if step_m else count, bent)
        if step_m is None:
            chains.xy[:still] = xy[:still]
        return chains

    def samples(self) -> RowSamples:
        """Nodes as samples, for casting rays."""
        n = self.normal
        length = self.step * (self.count - 1)
        weight = self.step[self.row]
        x, y = self.xy.T
        return RowSamples(self.row, self.station, weight, x, y, n[:, 1], -n[:, 0], length, self.is_ring)

    def segments(self) -> Segments:
        """Pieces between nodes, with a spatial index."""
        last = self.first + self.count - 1
        start = np.delete(np.arange(len(self.row)), last)
        row = self.row[start]
        return Segments(self.xy[start], self.xy[start + 1], row, self.station[start], self.step[row])


def chains_of(lines: Sequence[LineString], step_m: float) -> Chains:
    """Resample each row at equal steps near `step_m`, both ends kept, at least three nodes."""
    rows = np.asarray(lines, dtype=object)
    return _resampled(Polylines.read(rows), shapely.is_closed(rows), step_m, None)


def _resampled(
    lines: Polylines, is_ring: Bools, step_m: float, count: Ints | None, bent: Bools | None = None
) -> Chains:
    length = lines.lengths
    if count is None:
        count = np.maximum(3, np.round(length / step_m).astype(np.int64) + 1)
    first = np.cumsum(count) - count
    row = np.repeat(np.arange(len(lines)), count)
    step = length / (count - 1)
    station = (np.arange(len(row)) - first[row]) * step[row]
    xy = points_on(lines, row, station) if bent is None else points_on_curves(lines, is_ring, bent, row, station)
    last = first + count - 1
    xy[last[is_ring]] = xy[first[is_ring]]
    before, after = np.arange(len(xy)) - 1, np.arange(len(xy)) + 1
    before[first] = np.where(is_ring, last - 1, first)
    after[last] = np.where(is_ring, first + 1, last)
    return Chains(xy, row, first, count, step, normals(xy, before, after), before, after, is_ring)
