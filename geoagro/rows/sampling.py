"""Even samples along many rows at once, and rays across them: the raw material of every row measure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString

from geoagro.arrays import Floats, Ints

TANGENT_HALF_M = 1.0


@dataclass(frozen=True)
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

    def __len__(self) -> int:
        return len(self.row)

    def way(self, sample: Ints, station: Floats) -> Floats:
        """Distance along the row from samples to stations of the same row, the shorter way round a ring."""
        straight = np.abs(station - self.station[sample])
        row = self.row[sample]
        way: Floats = np.where(self.is_ring[row], np.minimum(straight, self.row_length[row] - straight), straight)
        return way

    def window(self, half_m: float) -> tuple[Floats, Floats, Floats]:
        """Stations `half_m` before and after each sample, and the way between them; cut at ends, which a ring has none of."""
        length, ring = self.row_length[self.row], self.is_ring[self.row]
        half = np.where(ring, np.minimum(half_m, length / 2), half_m)
        a, b = self.station - half, self.station + half
        first, last = np.where(ring, a % length, np.maximum(a, 0.0)), np.where(ring, b % length, np.minimum(b, length))
        return first, last, np.where(ring, 2 * half, last - first)


def sample_rows(rows: Sequence[LineString], step_m: float) -> RowSamples:
    """Sample each row in the middle of equal parts no longer than `step_m`.

    The tangent is the central difference over TANGENT_HALF_M to each side (less at the row's ends).
    """
    lines = np.asarray(rows, dtype=object)
    length = shapely.length(lines) if len(lines) else np.zeros(0)
    parts = np.maximum(1, np.ceil(length / step_m - 1e-9)).astype(np.intp)
    row = np.repeat(np.arange(len(lines)), parts)
    part = np.arange(len(row)) - np.repeat(np.cumsum(parts) - parts, parts)
    weight = (length / parts)[row]
    station = (part + 0.5) * weight
    stations = Stations.of(rows)
    x, y = stations.at(row, station)
    placed = RowSamples(row, station, weight, x, y, x, y, length, shapely.is_closed(lines))
    before, after, _ = placed.window(TANGENT_HALF_M)
    (ax, ay), (bx, by) = stations.at(row, before), stations.at(row, after)
    norm = np.maximum(np.hypot(bx - ax, by - ay), 1e-12)
    return replace(placed, tx=(bx - ax) / norm, ty=(by - ay) / norm)


def positions(rows: Sequence[LineString], row: Ints, station: Floats) -> tuple[Floats, Floats]:
    """Coordinates at `station` metres along rows[row], for arrays of both."""
    return Stations.of(rows).at(row, station)


@dataclass(frozen=True)
class Stations:
    """Rows prepared for reading positions along them.

    Attributes
    ----------
    xy, total
        All vertices, row after row, and the running length over all of them (none between rows).
    first, last
        First and last vertex of each row.
    """

    xy: Floats
    total: Floats
    first: Ints
    last: Ints

    @classmethod
    def of(cls, rows: Sequence[LineString]) -> Stations:
        """Prepare rows."""
        xy, owner = shapely.get_coordinates(np.asarray(rows, dtype=object), return_index=True)
        step = np.hypot(*np.diff(xy, axis=0).T)
        step[owner[1:] != owner[:-1]] = 0.0
        total = np.concatenate([[0.0], np.cumsum(step)])
        count = np.bincount(owner, minlength=len(rows))
        return cls(xy, total, np.cumsum(count) - count, np.cumsum(count) - 1)

    def at(self, row: Ints, station: Floats) -> tuple[Floats, Floats]:
        """Coordinates `station` metres along rows[row]: one search in the running length over all vertices.

        (shapely.line_interpolate_point walks each line from its start for every point.)
        """
        if len(row) == 0:
            return np.zeros(0), np.zeros(0)
        first, last, total = self.first[row], self.last[row], self.total
        along = np.clip(total[first] + station, total[first], total[last])
        k = np.clip(np.searchsorted(total, along, side="right") - 1, first, last - 1)
        part = np.clip((along - total[k]) / np.maximum(total[k + 1] - total[k], 1e-12), 0.0, 1.0)[:, None]
        point = self.xy[k] + part * (self.xy[k + 1] - self.xy[k])
        return point[:, 0], point[:, 1]


@dataclass(frozen=True)
class Segments:
    """The straight pieces of all rows, with a spatial index.

    Attributes
    ----------
    row, station
        Row index and distance from the row's start, of each piece's first point.
    run
        Length of row from each piece's first point to its last; a chain's nodes are farther apart along the row than
        the straight piece between them is long.
    x0, y0, x1, y1
        Ends of each piece.
    """

    row: Ints
    station: Floats
    run: Floats
    x0: Floats
    y0: Floats
    x1: Floats
    y1: Floats
    tree: shapely.STRtree

    @property
    def length(self) -> Floats:
        """Length of each piece, metres."""
        return np.asarray(np.hypot(self.x1 - self.x0, self.y1 - self.y0))


def segments_of(rows: Sequence[LineString]) -> Segments:
    """Split rows at their vertices and index the pieces."""
    xy, row = shapely.get_coordinates(np.asarray(rows, dtype=object), return_index=True)
    joined = row[1:] == row[:-1]
    a, b, row = xy[:-1][joined], xy[1:][joined], row[:-1][joined]
    length = np.hypot(*(b - a).T)
    total = np.cumsum(length) - length
    first = np.searchsorted(row, row)
    tree = shapely.STRtree(shapely.linestrings(np.stack([a, b], axis=1)) if len(a) else [])
    return Segments(row, total - total[first] if len(a) else total, length, a[:, 0], a[:, 1], b[:, 0], b[:, 1], tree)


@dataclass(frozen=True)
class Hits:
    """What a ray from each sample meets first; one entry per sample.

    Attributes
    ----------
    distance
        To the first other row, metres; infinite where there is none.
    row, station
        The row met (-1: none) and where on it.
    """

    distance: Floats
    row: Ints
    station: Floats


def cast(samples: RowSamples, segments: Segments, *, side: int, reach_m: float, own_gap_m: float) -> Hits:
    """Cast a ray from each sample square to its row; side +1 is left (upslope), -1 is right.

    The sample's own row counts only farther than `own_gap_m` along it (a ring or hairpin is its own
    neighbour).
    """
    nx, ny = -samples.ty * side, samples.tx * side
    ex, ey = samples.x + nx * reach_m, samples.y + ny * reach_m
    rays = shapely.linestrings(np.stack([np.column_stack([samples.x, samples.y]), np.column_stack([ex, ey])], axis=1))
    i, j = segments.tree.query(rays)
    px, py = segments.x0[j] - samples.x[i], segments.y0[j] - samples.y[i]
    qx, qy = segments.x1[j] - segments.x0[j], segments.y1[j] - segments.y0[j]
    cross = nx[i] * qy - ny[i] * qx
    with np.errstate(divide="ignore", invalid="ignore"):
        along_ray = (px * qy - py * qx) / cross
        along_piece = (px * ny[i] - py * nx[i]) / cross
        station = segments.station[j] + along_piece * segments.run[j]
    own = (segments.row[j] == samples.row[i]) & (samples.way(i, station) <= own_gap_m)
    met = (np.abs(cross) > 1e-12) & ~own & (along_ray > 1e-9) & (along_ray <= reach_m)
    met &= (along_piece >= -1e-9) & (along_piece <= 1 + 1e-9)
    return _nearest(len(samples), i[met], along_ray[met], segments.row[j[met]], station[met])


def _nearest(count: int, i: Ints, distance: Floats, row: Ints, station: Floats) -> Hits:
    order = np.lexsort((distance, i))
    i, distance, row, station = i[order], distance[order], row[order], station[order]
    first = np.ones(len(i), dtype=bool)
    first[1:] = i[1:] != i[:-1]
    out = Hits(np.full(count, np.inf), np.full(count, -1, dtype=np.intp), np.full(count, np.nan))
    out.distance[i[first]] = distance[first]
    out.row[i[first]] = row[first]
    out.station[i[first]] = station[first]
    return out


def nearest_other(samples: RowSamples, segments: Segments, *, within_m: float, own_gap_m: float) -> Floats:
    """Distance from each sample to the nearest other row, infinite beyond `within_m`.

    This is the test that no ray can miss; the own row counts as in `cast`.
    """
    points = shapely.points(samples.x, samples.y)
    i, j = segments.tree.query(points, predicate="dwithin", distance=within_m)
    qx, qy = segments.x1[j] - segments.x0[j], segments.y1[j] - segments.y0[j]
    px, py = samples.x[i] - segments.x0[j], samples.y[i] - segments.y0[j]
    length2 = np.maximum(qx * qx + qy * qy, 1e-18)
    t = np.clip((px * qx + py * qy) / length2, 0.0, 1.0)
    distance = np.hypot(px - t * qx, py - t * qy)
    station = segments.station[j] + t * segments.run[j]
    other = (segments.row[j] != samples.row[i]) | (samples.way(i, station) > own_gap_m)
    out = np.full(len(samples), np.inf)
    np.minimum.at(out, i[other], distance[other])
    return out
