"""Even samples along many rows at once, and rays across them: the raw material of every row measure."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from shapely import LineString

from geoagro.arrays import Floats, Ints
from geoagro.planar.polylines import Polylines, window_on
from geoagro.planar.segments import Hits, Segments, Standing
from geoagro.rows.loops.places import points_on

TANGENT_HALF_M = 1.0
MANY_RAYS = 20_000
"""From so many rays on, both sides are looked to at once."""


@dataclass(frozen=True, eq=False)
class RowSamples:
    """Points in the middle of equal parts of each row; all arrays have one entry per sample.

    Attributes
    ----------
    row
        Index of the row in the list that was sampled.
    station, weight
        Distance from the row's start, and length that the sample stands for, metres.
    x, y
        Position, metres.
    tx, ty
        Unit tangent in the row's direction; the left normal is (-ty, tx).
    row_length
        Length of each ROW (not sample), metres.
    is_ring
        Whether each ROW ends where it starts.
    lines
        The rows' vertices; None where they aren't at hand.
    """

    row: Ints
    station: Floats
    weight: Floats
    x: Floats
    y: Floats
    tx: Floats
    ty: Floats
    row_length: Floats
    is_ring: NDArray[np.bool_]
    lines: Polylines | None = None

    def __len__(self) -> int:
        return len(self.row)

    def take(self, which: Ints) -> RowSamples:
        """Return some of them, in their order, of the same rows."""
        x, y, tx, ty = (part[which] for part in (self.x, self.y, self.tx, self.ty))
        row, station, weight = self.row[which], self.station[which], self.weight[which]
        return replace(self, row=row, station=station, weight=weight, x=x, y=y, tx=tx, ty=ty)

    def way(self, sample: Ints, station: Floats) -> Floats:
        """Distance along the row from samples to stations of the same row, the shorter way round a ring."""
        straight = np.abs(station - self.station[sample])
        row = self.row[sample]
        way: Floats = np.where(self.is_ring[row], np.minimum(straight, self.row_length[row] - straight), straight)
        return way

    def lines_of(self, rows: Sequence[LineString]) -> Polylines:
        """Vertices of `rows`, the rows that were sampled."""
        return Polylines.read(rows) if self.lines is None else self.lines

    @property
    def xy(self) -> Floats:
        """Positions, shape (n, 2)."""
        return np.column_stack([self.x, self.y])

    def standing(self, gap_m: float) -> Standing:
        """Where the samples stand, so that they don't see their own row up to `gap_m` along it."""
        return Standing(self.row, self.station, self.row_length[self.row], self.is_ring[self.row], gap_m)

    def window(self, half_m: float) -> tuple[Floats, Floats, Floats]:
        """Stations `half_m` before and after each sample, and the way between them; cut at ends, which a ring has none of."""
        return window_on(self.row_length[self.row], self.is_ring[self.row], self.station, half_m)


def sample_rows(rows: Sequence[LineString], step_m: float) -> RowSamples:
    """Sample each row in the middle of equal parts no longer than `step_m`.

    The tangent is the central difference over TANGENT_HALF_M to each side (less at the row's ends).
    """
    lines = Polylines.read(rows)
    row, station, weight = lines.middles(step_m)
    x, y = points_on(lines, row, station).T
    before, after, _ = lines.window(row, station, TANGENT_HALF_M)
    way = points_on(lines, row, after) - points_on(lines, row, before)
    size = np.maximum(np.hypot(way[:, 0], way[:, 1]), 1e-12)
    return RowSamples(
        row, station, weight, x, y, way[:, 0] / size, way[:, 1] / size, lines.lengths, lines.closed, lines
    )


def cast(samples: RowSamples, segments: Segments, *, side: int, reach_m: float, own_gap_m: float) -> Hits:
    """Cast a ray from each sample square to its row; side +1 is left (upslope), -1 is right.

    The sample's own row counts only farther than `own_gap_m` along it (a ring or hairpin is its own
    neighbour).
    """
    direction = side * np.column_stack([-samples.ty, samples.tx])
    return segments.first_hit(samples.xy, direction, 0.0, reach_m, standing=samples.standing(own_gap_m))


def cast_both(samples: RowSamples, segments: Segments, *, reach_m: float, own_gap_m: float) -> tuple[Hits, Hits]:
    """Cast rays to the left and to the right; both at once where there are many, since starting a thread takes time too."""

    def to(side: int) -> Hits:
        return cast(samples, segments, side=side, reach_m=reach_m, own_gap_m=own_gap_m)

    if len(samples) < MANY_RAYS:
        return to(1), to(-1)
    with ThreadPoolExecutor(2) as pool:
        left, right = pool.map(to, (1, -1))
    return left, right


def nearest_other(samples: RowSamples, segments: Segments, *, within_m: float, own_gap_m: float) -> Floats:
    """Distance from each sample to the nearest other row, infinite beyond `within_m`.

    This is the test that no ray can miss; the own row counts as in `cast`.
    """
    return segments.nearest(samples.xy, within_m, standing=samples.standing(own_gap_m))
