"""Laying rows around rows that stay: what keeps off them, and what joins them where they were parted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components
from shapely import LineString
from shapely.geometry.base import BaseGeometry

from geoagro.arrays import Floats, Shapes
from geoagro.planar.polylines import Polylines
from geoagro.planar.segments import segments_of
from geoagro.rows.quality import chord_grade, window_radius
from geoagro.rows.sampling import sample_rows
from geoagro.values.grid import Grid

SHORTEST_M = 0.01
HEADING_M = 4.0
"""The way a row is going is taken over this length at its end."""
JOIN_REACH = 1.5
"""Ends up to this many spacings apart are joined, if they face each other."""
AHEAD = 0.9
FACING = -0.8
"""Cosines: between a row's heading and the way to the other end, and between the two headings."""
NEAR_JOINT_M = 6.0
"""The limits must hold this far on both sides of a joint."""
ARC = 16


def zone_around(kept: Sequence[LineString], near: Any, reach_m: float) -> BaseGeometry:
    """Ground within reach of rows that stay, as far as it matters for the lines `near`."""
    lines = np.asarray(near, dtype=object)
    pieces = segments_of(kept).tree
    _, found = pieces.query(lines, predicate="dwithin", distance=reach_m)
    return shapely.union_all(shapely.buffer(pieces.geometries[np.unique(found)], reach_m, quad_segs=ARC))


def away_from(
    lines: Sequence[LineString], kept: Sequence[LineString], reach_m: float, shortest_m: float = SHORTEST_M
) -> list[LineString]:
    """Parts of lines farther than `reach_m` from the rows that stay, in the order of the lines."""
    if not kept or not lines:
        return list(lines)
    return _parts(shapely.difference(np.asarray(lines, dtype=object), zone_around(kept, lines, reach_m)), shortest_m)


def near_to(lines: Sequence[LineString], kept: Sequence[LineString], reach_m: float) -> list[LineString]:
    """Parts of lines within `reach_m` of the rows that stay."""
    if not kept or not lines:
        return []
    return _parts(shapely.intersection(np.asarray(lines, dtype=object), zone_around(kept, lines, reach_m)), SHORTEST_M)


def _parts(shapes: Shapes, shortest_m: float) -> list[LineString]:
    parts = shapely.get_parts(shapely.get_parts(shapely.line_merge(shapes)))
    return [part for part in parts if part.geom_type == "LineString" and part.length >= shortest_m]


End = tuple[int, int]
"""A row's index, and which end of it: 0 or -1."""


@dataclass(frozen=True)
class Joint:
    """What a joined row must hold about its joint: grade (ratio) and radius (metres) on a surface of heights."""

    spacing_m: float
    max_grade: float
    min_radius_m: float
    heights: Grid | None

    def holds(self, rows: list[LineString], pair: tuple[End, End]) -> bool:
        """Tell whether both rows and the straight piece between their ends make one row that holds the limits."""
        bridge = _bridge(rows, pair)
        parts = _parts(shapely.multilinestrings([[rows[pair[0][0]], bridge, rows[pair[1][0]]]]), 0.0)
        if len(parts) != 1:
            return False
        samples = sample_rows(parts, 0.5)
        near = shapely.dwithin(shapely.points(samples.x, samples.y), bridge, NEAR_JOINT_M)
        grade = chord_grade(parts, samples, self.heights)[near]
        radius = window_radius(parts, samples)[near]
        return not bool((grade > self.max_grade).any() or (radius < self.min_radius_m).any())


def joined(
    kept: Sequence[LineString], laid: Sequence[LineString], edge: Any, joint: Joint
) -> tuple[list[LineString], list[list[int]]]:
    """Join rows that were parted at `edge` (outline of the ground laid anew) with the new rows that face them there.

    A joint is a straight piece between two ends; it is made only where the joined row holds grade and radius about it.

    Returns
    -------
    All rows (those that join nothing untouched), and for each the numbers of the kept rows that it holds.
    """
    rows = [*kept, *laid]
    good = [pair for pair in _facing(kept, laid, edge, joint.spacing_m) if joint.holds(rows, pair)]
    if not good:
        return rows, [[k] if k < len(kept) else [] for k in range(len(rows))]
    a, b = (np.array([row for row, _ in side]) for side in zip(*good, strict=True))
    links = coo_matrix((np.ones(len(a)), (a, b)), shape=(len(rows), len(rows)))
    count, part = connected_components(links, directed=False)
    out: list[LineString] = []
    holds: list[list[int]] = []
    for number in range(count):
        members = np.flatnonzero(part == number).tolist()
        lines = [rows[k] for k in members]
        lines += [_bridge(rows, pair) for pair in good if part[pair[0][0]] == number]
        out += lines if len(lines) == 1 else _parts(shapely.multilinestrings([lines]), 0.0)
        holds += [[k for k in members if k < len(kept)]] * (len(out) - len(holds))
    return out, holds


def joints_at(edge: Any | None, kept: Sequence[LineString], laid: Sequence[LineString], spacing_m: float) -> int:
    """Count the joints that `joined` would try."""
    return 0 if edge is None else len(_facing(kept, laid, edge, spacing_m))


def _facing(
    kept: Sequence[LineString], laid: Sequence[LineString], edge: Any, spacing_m: float
) -> list[tuple[End, End]]:
    """Pairs of ends that face each other, nearest first, each end once."""
    rows = [*kept, *laid]
    cut = [end for end in _ends(range(len(kept)), rows) if shapely.dwithin(shapely.Point(_tip(rows, end)), edge, 1e-6)]
    new = _ends(range(len(kept), len(rows)), rows)
    if not cut or not new:
        return []
    tip, heading = _tips(rows, cut)
    other, way_out = _tips(rows, new)
    way = other[None] - tip[:, None]
    distance = np.hypot(*np.moveaxis(way, -1, 0))
    ahead = (way * heading[:, None]).sum(-1) >= AHEAD * distance
    fits = (distance <= JOIN_REACH * spacing_m) & ahead & (heading @ way_out.T <= FACING)
    found: list[tuple[End, End]] = []
    used: set[End] = set()
    for i, j in sorted(zip(*np.nonzero(fits), strict=True), key=lambda pair: (distance[pair], *pair)):
        if not {cut[i], new[j]} & used:
            found.append((cut[i], new[j]))
            used |= {cut[i], new[j]}
    return found


def _ends(which: Any, rows: list[LineString]) -> list[End]:
    return [(k, end) for k in which if not rows[k].is_closed for end in (0, -1)]


def _tip(rows: list[LineString], end: End) -> Any:
    return rows[end[0]].coords[end[1]]


def _tips(rows: list[LineString], ends: list[End]) -> tuple[Floats, Floats]:
    """Place and heading (out of the row) of each end."""
    row = np.array([k for k, _ in ends])
    length = np.array([rows[k].length for k in row])
    back = np.minimum(HEADING_M, length)
    tip = np.array([_tip(rows, end) for end in ends])
    before = Polylines.read(rows).at(row, np.where([end == 0 for _, end in ends], back, length - back))
    way = tip - before
    return tip, way / np.maximum(np.hypot(*way.T), 1e-12)[:, None]


def _bridge(rows: list[LineString], pair: tuple[End, End]) -> LineString:
    return LineString([_tip(rows, pair[0]), _tip(rows, pair[1])])
