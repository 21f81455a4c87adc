"""Join row ends that face each other across a gap which a row can cross: what a planter would do on the spot.

Cuts leave gaps of a few metres; where rows were nudged since, a curve often crosses such a gap within every limit.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import scipy.sparse as sp
import shapely
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree
from shapely import LineString

from geoagro.arrays import Bools, Floats, Ints, Shapes
from geoagro.planar.inside import points_inside
from geoagro.planar.polylines import stretch
from geoagro.planar.segments import segments_of
from geoagro.planar.vectors import dot
from geoagro.rows.finishing import rises_back, too_steep
from geoagro.rows.quality import CHORD_M, OWN_GAP, window_radius
from geoagro.rows.row_ends import ends_of
from geoagro.rows.sampling import RowSamples, sample_rows
from geoagro.rows.task import Task

FARTHEST_M = 14.0
"""Ends farther apart than this are no gap but two rows."""
AHEAD = 0.85
FACING = -0.5
"""Cosines: between an end's heading and the way to the other end, and between the two headings."""
TRIMS_M = (0.0, 2.5)
"""Rows give up this much at their ends where the curve doesn't fit otherwise."""
STEP_M = 0.25
INSIDE = 0.995
"""A curve keeps this far inside a limit, so that it holds between the places that are looked at."""


@dataclass(frozen=True, eq=False)
class Joins:
    """Curves between row ends.

    Attributes
    ----------
    a, b
        Rows that each curve joins.
    at_end
        Shape (n, 2): whether it starts at the last point of a (else the first), and the same for b.
    trim_m
        What both rows give up at that end.
    curve
        LineStrings from the end of a to the end of b.
    """

    a: Ints
    b: Ints
    at_end: Bools
    trim_m: float
    curve: Shapes

    def __len__(self) -> int:
        return len(self.a)

    def take(self, which: Bools) -> Joins:
        """Return the chosen ones."""
        return Joins(self.a[which], self.b[which], self.at_end[which], self.trim_m, self.curve[which])


def join_facing(rows: Sequence[LineString], task: Task) -> list[LineString]:
    """Join ends that face each other, wherever the curve between them holds every limit of the task.

    What a join takes from the legal length of the rows beside it (a few metres, seldom) isn't weighed against the two turns it
    saves: whoever plants would drive on.
    """
    joined = list(rows)
    for trim_m in TRIMS_M:
        while len(joins := possible_joins(joined, task, trim_m)):
            joined = apply_joins(joined, joins)
    return joined


def possible_joins(rows: Sequence[LineString], task: Task, trim_m: float = 0.0) -> Joins:
    """Curves that hold every limit, no end in two of them, the shortest gaps first."""
    joins = facing(_trimmed(rows, trim_m), trim_m)
    joins = joins.take(shapely.covers(task.plantable, joins.curve))
    while len(joins):
        broken = _breaks(rows, joins, task)
        if not broken.any():
            break
        joins = joins.take(~broken)
    return joins


def _trimmed(rows: Sequence[LineString], trim_m: float) -> list[LineString]:
    if trim_m == 0:
        return list(rows)
    return [
        row if row.is_closed or row.length < 4 * trim_m else _between(row, trim_m, row.length - trim_m) for row in rows
    ]


def _between(row: LineString, first_m: float, last_m: float) -> LineString:
    return stretch(row, first_m, last_m)


def facing(rows: list[LineString], trim_m: float, farthest_m: float = FARTHEST_M) -> Joins:
    """Match ends that face each other, the nearest first, and draw the curve between them; no limit is looked at.

    `rows` have given up `trim_m` at each end.
    """
    ends = ends_of(rows)
    pairs = cKDTree(ends.xy).query_pairs(farthest_m, output_type="ndarray") if len(ends.row) else np.zeros((0, 2), int)
    i, j = np.sort(pairs, axis=1).T
    way = ends.xy[j] - ends.xy[i]
    gap = np.hypot(*way.T)
    ahead = np.minimum(dot(ends.heading[i], way), -dot(ends.heading[j], way)) > AHEAD * gap
    fits = ahead & (dot(ends.heading[i], ends.heading[j]) < FACING) & (ends.row[i] != ends.row[j])
    i, j, gap = i[fits], j[fits], gap[fits]
    order = np.lexsort((j, i, np.round(gap, 6)))
    chosen: list[int] = []
    used: set[int] = set()
    for k in order:
        if i[k] not in used and j[k] not in used:
            chosen.append(int(k))
            used |= {int(i[k]), int(j[k])}
    i, j, gap = i[chosen], j[chosen], gap[chosen]
    t = np.linspace(0.0, 1.0, int(FARTHEST_M / STEP_M) + 1)[:, None]
    curves = [
        LineString(_hermite(ends.xy[a], ends.xy[b], g * ends.heading[a], -g * ends.heading[b], t))
        for a, b, g in zip(i, j, gap, strict=True)
    ]
    at_end = np.column_stack([i % 2 == 1, j % 2 == 1])
    return Joins(ends.row[i], ends.row[j], at_end, trim_m, np.array(curves, dtype=object))


def _hermite(start: Floats, end: Floats, away: Floats, into: Floats, t: Floats) -> Floats:
    """Cubic from `start`, leaving along `away`, to `end`, arriving along `into`."""
    xy: Floats = (
        (2 * t**3 - 3 * t**2 + 1) * start + (t**3 - 2 * t**2 + t) * away
        + (-2 * t**3 + 3 * t**2) * end + (t**3 - t**2) * into
    )  # fmt: skip
    return xy


def _breaks(rows: Sequence[LineString], joins: Joins, task: Task) -> Bools:
    """Tell which curves break a limit, in the rows that they make."""
    rule = task.rule
    lines = apply_joins(rows, joins)
    tree = shapely.STRtree(joins.curve)
    changed = np.unique(shapely.STRtree(lines).query(joins.curve, predicate="dwithin", distance=1e-6)[1])
    near = [lines[k] for k in changed]
    whole = sample_rows(near, STEP_M)
    samples = _about(whole, joins.curve, CHORD_M / 2 + 1.0)
    bad = too_steep(near, samples, task.judged, rule.max_grade_pct / 100 * INSIDE)
    if rule.min_turn_radius_m > 0:
        bad |= window_radius(near, samples) * INSIDE < rule.min_turn_radius_m
    broken = np.zeros(len(joins), dtype=bool)
    broken[tree.query(shapely.points(samples.xy[bad]), predicate="dwithin", distance=CHORD_M / 2)[1]] = True
    loops = np.array(near, dtype=object)[~shapely.is_simple(near)]
    broken[tree.query(loops, predicate="dwithin", distance=1e-6)[1]] = True
    if task.fall is not None:
        # what rises may lie far from the curve, on the row that water flows on into
        rising = np.unique(whole.row[rises_back(near, whole, task.judged, task.fall)])
        broken[tree.query(np.array(near, dtype=object)[rising], predicate="dwithin", distance=1e-6)[1]] = True
    there = _in_boxes(samples, joins.curve, 1.01 * STEP_M)
    own = np.asarray(changed)[samples.row]
    standing = replace(samples.standing(OWN_GAP * rule.spacing_m), line=own).take(there)
    away = segments_of([*lines, *task.around.kept]).nearest(samples.xy[there], task.nearest_m + 1.0, standing=standing)
    near_xy = samples.xy[there[away < task.nearest_m + 0.01]]
    broken[tree.query(shapely.points(near_xy), predicate="dwithin", distance=STEP_M)[1]] = True
    return broken


def _in_boxes(samples: RowSamples, curves: Shapes, around_m: float) -> Ints:
    """Find the samples that lie in the upright box around a curve, or no farther than this from it."""
    edges = shapely.bounds(curves) + around_m * np.array([-1, -1, 1, 1])
    boxes = np.asarray(shapely.box(*edges.T), dtype=object)
    return np.unique(points_inside(samples.xy, boxes)[0])


def _about(samples: RowSamples, curves: Shapes, around_m: float) -> RowSamples:
    """Keep the samples about curves: rows go on for kilometres where they change by a few metres."""
    return samples.take(_in_boxes(samples, curves, around_m))


def apply_joins(rows: Sequence[LineString], joins: Joins) -> list[LineString]:
    """Rows after joining; the others stay as they are, in their order."""
    parts = list(rows)
    for k, last in zip(np.concatenate([joins.a, joins.b]), joins.at_end.T.ravel(), strict=True):
        if joins.trim_m:
            row = parts[k]
            parts[k] = _between(row, 0.0 if last else joins.trim_m, row.length - (joins.trim_m if last else 0.0))
    links = sp.coo_matrix((np.ones(len(joins)), (joins.a, joins.b)), shape=(len(parts), len(parts)))
    count, part = connected_components(links, directed=False)
    members: list[list[LineString]] = [[] for _ in range(count)]
    for number, row in zip(part, parts, strict=True):
        members[number].append(row)
    for a, curve in zip(joins.a, joins.curve, strict=True):
        members[part[a]].append(curve)
    out: list[LineString] = []
    for lines in members:
        out += lines if len(lines) == 1 else _merged(lines)
    return out


def _merged(lines: list[LineString]) -> list[LineString]:
    """Merge lines whose ends are the same to rounding."""
    snapped = shapely.set_precision(np.asarray(lines, dtype=object), 1e-6, mode="pointwise")
    return list(shapely.get_parts(shapely.line_merge(shapely.multilinestrings(snapped))))
