"""The measures of a set of rows: what each is called, and how it is computed."""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely
from shapely import MultiPolygon

from geoagro.arrays import Bools, Floats
from geoagro.planar.polylines import Polylines
from geoagro.rows.fall import Fall, wanted_fall
from geoagro.rows.quality import (
    CHORD_M,
    NEIGHBOUR_REACH,
    SHORT_CHORD_LIMITS,
    SHORT_CHORD_M,
    RowView,
    chord_grade,
    legal_share,
    view_rows,
    window_radius,
)
from geoagro.values.design import RowRule
from geoagro.values.grid import Grid
from geoagro.values.measures import Measure, Measures, Quantity
from geoagro.values.rows import TreeRows
from geoagro.values.terrain import Terrain
from geoagro.values.words import meant, say

RELATIVE_CLASSES = (5, 10, 25, 50)
LEAST_SLOPE = 0.02
STEP_NOISES = 3.0
"""What stands off the smoothed surface by more than so many times the survey's noise is a step in the ground."""
STRAIGHT = meant("bend", "straight")


COVERED = Quantity(
    "covered_pct", say("covered"), "share", say("Row length times spacing over plantable area."), told=True
)
SPACING_WITHIN = Quantity(
    "spacing_within_tolerance_pct",
    say("spacing within tolerance"),
    "share",
    say("Of neighbours met by rays perpendicular to the row, each side, up to 2.5 spacings."),
    told=True,
)
NEARER = Quantity(
    "nearer_than_tolerance_pct",
    say("nearer than tolerance"),
    "share",
    say("Row length nearer to another row than the tolerance allows."),
)
SPACING_P05 = Quantity(
    "spacing_p05",
    say("spacing, narrowest 5 %"),
    "m",
    say("5 % of rays perpendicular to the row, each side, up to 2.5 spacings meet a row nearer than this."),
)
SPACING_P50 = Quantity(
    "spacing_p50",
    say("spacing, median"),
    "m",
    say("Median of rays perpendicular to the row, each side, up to 2.5 spacings."),
)
SPACING_P95 = Quantity(
    "spacing_p95",
    say("spacing, widest 5 %"),
    "m",
    say("5 % of rays perpendicular to the row, each side, up to 2.5 spacings meet a row farther than this."),
)
OPEN_SIDES = Quantity(
    "open_sides_pct",
    say("open sides"),
    "share",
    say("Row sides without a neighbour within 1.6 spacings, edges of the field included."),
)
OPEN_SIDES_AT_EDGE = Quantity(
    "open_sides_at_edge_pct",
    say("open sides at the edge"),
    "share",
    say("Part of the open sides from which the plantable ground ends within 1.6 spacings."),
)
ROWS = Quantity("rows", say("rows"), "", say("Number of rows."), told=True)
ROW_LENGTH = Quantity("row_length", say("row length"), "m", say("Sum of row lengths."), told=True)
MEAN_ROW_LENGTH = Quantity(
    "mean_row_length", say("mean row length"), "m", say("Row length over number of rows."), told=True
)
SHORT_ROWS = Quantity(
    "short_rows", say("rows below minimum length"), "", say("Rows shorter than rows.min_row_length_m."), told=True
)
ROW_ENDS = Quantity("row_ends_per_ha", say("row ends per hectare"), "1/ha", say("Two per row, over plantable area."))
RADIUS_P01 = Quantity(
    "radius_p01",
    say("bends, tightest 1 %"),
    "m",
    say("1 % of the row length bends tighter over 5 m."),
    endless=STRAIGHT,
)
RADIUS_MIN = Quantity(
    "radius_min",
    say("tightest bend"),
    "m",
    say("Radius of the tightest bend over 5 m."),
    told=True,
    endless=STRAIGHT,
)
IN_LIMITS = Quantity(
    "in_limits_pct",
    say("within all limits at {at:g} % grade"),
    "share",
    say(
        "Row length times spacing over plantable area, counting stretches of the minimum row "
        "length that hold spacing and grade {at:g} % at once."
    ),
    told=True,
)
GRADE_P50 = Quantity("grade_p50_pct", say("grade, median"), "%", say("Median grade over 10 m along the row."))
GRADE_P95 = Quantity(
    "grade_p95_pct",
    say("grade, 95 % flatter"),
    "%",
    say("95 % of the row length is flatter than this over 10 m."),
    told=True,
)
GRADE_MAX = Quantity(
    "grade_max_pct",
    say("grade, steepest"),
    "%",
    say("Steepest 10 m along any row, on the elevation smoothed by 1.5 m (more with rows.levelled_m)."),
    told=True,
)
STEEP_6_M = Quantity("steep_over_6_m_pct", say("short steep stretches"), "share", say("Row length steeper than 1.5 times rows.max_grade_pct over 6 m, on the elevation smoothed "
"by 1.5 m (more with rows.levelled_m): waves that 10 m don't show."))  # fmt: skip
STEEP_UNSMOOTHED = Quantity("steep_unsmoothed_pct", say("steeper than the limit as surveyed"), "share", say("Row length steeper than rows.max_grade_pct over 10 m on the elevation as it was given, "
"with its noise and its steps."))  # fmt: skip
STEEP_STEPS = Quantity("steep_at_steps_pct", say("of it at real steps"), "share", say("The part of that where the survey stands off the smoothed elevation by more than three "
"times its noise at an end of the 10 m: a bank, a ditch, a terrace riser. The rest is "
"noise of the survey."))  # fmt: skip
LIMIT_BARE = Quantity(
    "tree_row_limit_bare_pct",
    say("within tree-row grade limit, bare alleys"),
    "share",
    say("Row length at or below half the land slope and 4% (USDA-NRCS 331, row grade)."),
)
LIMIT_COVERED = Quantity(
    "tree_row_limit_covered_pct",
    say("within tree-row grade limit, covered alleys"),
    "share",
    say("Row length at or below half the land slope and 10% (USDA-NRCS 331, row grade)."),
)
RELATIVE_GRADE = Quantity(
    "relative_row_grade_pct",
    say("relative row grade up to {at:g} %"),
    "share",
    say("Row grade over land slope, where the land slopes more than 2 % (classes of an agency's training material)."),
)
FALL_P05 = Quantity("fall_p05_pct", say("fall, least 5 %"), "%", say("5 % of the row length falls less than this the wanted way over 10 m, where rows don't run "
"square to the way they should fall."))  # fmt: skip
FALL_P50 = Quantity(
    "fall_p50_pct",
    say("fall, median"),
    "%",
    say("Median fall the wanted way over 10 m, where rows don't run square to the way they should fall."),
)
FALL_P95 = Quantity("fall_p95_pct", say("fall, most 5 %"), "%", say("95 % of the row length falls less than this the wanted way over 10 m, where rows don't "
"run square to the way they should fall."))  # fmt: skip
FALL_WITHIN = Quantity("fall_within_half_pct", say("fall within half the target"), "share", say("Row length that falls by half to one and a half times rows.target_grade_pct over 10 m, "
"where rows don't run square to the way they should fall."))  # fmt: skip
FALL_SQUARE = Quantity("fall_square_pct", say("square to the fall"), "share", say("Row length that runs so nearly square to the way it should fall that neither way is "
"wrong: there it may run back."))  # fmt: skip
FALL_RISE = Quantity("fall_rise_most_m", say("rise on the way, most"), "m", say("Most that a row rises before it falls on, going the way it should fall; so deep "
"water may stand in it. Not where rows run square to the way they should fall."))  # fmt: skip
FALL_REVERSED = Quantity(
    "fall_reversed_pct",
    say("fall reversed"),
    "share",
    say("Row length that falls the wrong way, where rows don't run square to the way they should fall."),
)


def row_quality(
    rows: TreeRows, plantable: MultiPolygon, terrain: Terrain, rule: RowRule, *, outlet: Any | None = None
) -> Measures:
    """Measure laid rows; grades are left out where heights are unknown.

    `outlet` is what rows fall toward, where the rule asks for it.
    """
    lines = list(rows.frame.geometry.to_numpy())
    view = view_rows(lines, terrain.judged, rows.spacing_m)
    items = _spacing_items(view, plantable, rule) + _row_items(lines, view, plantable.area, rule)
    if terrain.judged is not None:
        items += _grade_items(view, plantable.area, rule) + _surface_items(lines, view, terrain, rule)
        items += _published_items(view, terrain)
    if terrain.judged is not None and terrain.smooth is not None and rule.target_grade_pct > 0:
        items += _fall_items(lines, view, terrain.judged, wanted_fall(rule, terrain.smooth, outlet))
    return Measures(tuple(items))


def _spacing_items(view: RowView, plantable: MultiPolygon, rule: RowRule) -> list[Measure]:
    d, weight = rule.spacing_m, view.samples.weight
    distance = np.concatenate([view.up.distance, view.down.distance])
    twice = np.concatenate([weight, weight])
    found = np.isfinite(distance)
    ratio, w = distance[found] / d, twice[found]
    x = rule.spacing_tolerance
    p05, p50, p95 = weighted_quantiles(distance[found], w, (0.05, 0.5, 0.95))
    reach = NEIGHBOUR_REACH * d
    at_edge = twice * _leaves(view, plantable, reach)
    return [
        COVERED.is_(weight.sum() * d / plantable.area),
        SPACING_WITHIN.is_(_share(np.abs(ratio - 1) <= x + 1e-6, w)),
        NEARER.is_(_share(view.nearest < (1 - x) * d - 1e-6, weight)),
        SPACING_P05.is_(p05),
        SPACING_P50.is_(p50),
        SPACING_P95.is_(p95),
        OPEN_SIDES.is_(_share(distance > reach, twice)),
        OPEN_SIDES_AT_EDGE.is_(_share(distance > reach, at_edge, twice)),
    ]


def _row_items(lines: list[Any], view: RowView, area_m2: float, rule: RowRule) -> list[Measure]:
    length = view.samples.row_length
    radius = window_radius(lines, view.samples)
    return [
        ROWS.is_(len(length)),
        ROW_LENGTH.is_(length.sum()),
        MEAN_ROW_LENGTH.is_(length.mean()),
        SHORT_ROWS.is_((length < rule.min_row_length_m - 1e-6).sum()),
        ROW_ENDS.is_(2 * len(length) / area_m2 * 1e4),
        RADIUS_P01.is_(weighted_quantiles(radius, view.samples.weight, (0.01,))[0]),
        RADIUS_MIN.is_(radius.min()),
    ]


def _grade_items(view: RowView, area_m2: float, rule: RowRule) -> list[Measure]:
    weight = view.samples.weight
    known = np.isfinite(view.grade)
    p50, p95 = weighted_quantiles(view.grade[known] * 100, weight[known], (0.5, 0.95))

    def legal(grade_pct: float) -> float:
        return legal_share(
            view,
            area_m2,
            spacing_m=rule.spacing_m,
            tolerance=rule.spacing_tolerance,
            max_grade=grade_pct / 100,
            min_run_m=rule.min_row_length_m,
        )

    limits = sorted({rule.max_grade_pct, 2.0, 4.0})
    return [
        *(IN_LIMITS.is_(legal(g), at=g) for g in limits),
        GRADE_P50.is_(p50),
        GRADE_P95.is_(p95),
        GRADE_MAX.is_(np.nanmax(view.grade) * 100),
    ]


def _surface_items(lines: list[Any], view: RowView, terrain: Terrain, rule: RowRule) -> list[Measure]:
    """Measure what the limit doesn't promise: shorter stretches, and the survey as it is."""
    limit, weight = rule.max_grade_pct / 100, view.samples.weight
    short = chord_grade(lines, view.samples, terrain.judged, chord_m=SHORT_CHORD_M)
    steep = chord_grade(lines, view.samples, terrain.heights) > limit + 1e-9
    return [
        STEEP_6_M.is_(_share(short > SHORT_CHORD_LIMITS * limit + 1e-9, weight)),
        STEEP_UNSMOOTHED.is_(_share(steep, weight)),
        STEEP_STEPS.is_(_share(steep & _at_steps(lines, view, terrain), weight)),
    ]


def _at_steps(lines: list[Any], view: RowView, terrain: Terrain) -> Bools:
    """Where an end of the chord stands off the smoothed surface by more than noise does.

    The noise of the survey is 1.48 times the median deviation along all rows (as of a normal distribution): a few banks
    don't raise it.
    """
    if terrain.heights is None or terrain.judged is None:
        return np.zeros(len(view.samples), dtype=bool)
    polylines, row = Polylines.read(lines), view.samples.row
    off = [
        np.abs(terrain.heights.sample(*xy) - terrain.judged.sample(*xy))
        for xy in (polylines.at(row, station).T for station in view.samples.window(CHORD_M / 2)[:2])
    ]
    noise = 1.4826 * np.nanmedian(np.concatenate(off))
    # heights are stored to a millimetre at best
    steps: Bools = np.maximum(*off) > STEP_NOISES * max(noise, 1e-3)
    return steps


def _published_items(view: RowView, terrain: Terrain) -> list[Measure]:
    """Rate by published scales: NRCS 331 (row grade at most half the slope and 4 %, 10 % with cover), relative grade."""
    s = view.samples
    slope = terrain.slope.sample(s.x, s.y)
    known = np.isfinite(view.grade) & np.isfinite(slope)
    grade, slope, weight = view.grade[known], slope[known], s.weight[known]
    sloping = slope > LEAST_SLOPE
    relative = 100 * grade[sloping] / slope[sloping]
    return [
        *(
            limit.is_(_share(grade <= np.minimum(slope / 2, most) + 1e-9, weight))
            for limit, most in ((LIMIT_BARE, 0.04), (LIMIT_COVERED, 0.10))
        ),
        *(RELATIVE_GRADE.is_(_share(relative <= most, weight[sloping]), at=most) for most in RELATIVE_CLASSES),
    ]


def _fall_items(lines: list[Any], view: RowView, judged: Grid, fall: Fall | None) -> list[Measure]:
    """How far rows fall the way that the design asks for."""
    s = view.samples
    if fall is None:
        return []
    xy, tangent = np.column_stack([s.x, s.y]), np.column_stack([s.tx, s.ty])
    held = fall.held(xy, tangent, view.rise)
    told = np.isfinite(held)
    p05, p50, p95 = (100 * v for v in weighted_quantiles(held[told], s.weight[told], (0.05, 0.5, 0.95)))
    return [
        FALL_P05.is_(p05),
        FALL_P50.is_(p50),
        FALL_P95.is_(p95),
        FALL_WITHIN.is_(fall.kept_share(s, view.rise)),
        FALL_REVERSED.is_(_share(held[told] < -1e-9, s.weight[told])),
        FALL_RISE.is_(fall.rises_along(lines, s, judged, np.inf)[1].max(initial=0.0)),
        FALL_SQUARE.is_(_share(~told, s.weight)),
    ]


def _leaves(view: RowView, plantable: MultiPolygon, reach_m: float) -> Any:
    """Tell from which sides of which samples (left of all, then right of all) the plantable ground ends within reach."""
    s = view.samples
    shapely.prepare(plantable)
    start = np.column_stack([s.x, s.y])
    out = []
    for side, hits in ((1, view.up), (-1, view.down)):
        open_side = np.nonzero(~np.isfinite(hits.distance) | (hits.distance > reach_m))[0]
        ray = side * reach_m * np.column_stack([-s.ty, s.tx])[open_side]
        rays = shapely.linestrings(np.stack([start[open_side], start[open_side] + ray], axis=1))
        leaves = np.zeros(len(s), dtype=bool)
        leaves[open_side] = ~shapely.covers(plantable, rays)
        out.append(leaves)
    return np.concatenate(out)


def _share(mask: Bools, weight: Floats, of: Floats | None = None) -> float:
    total = float((weight if of is None else of).sum())
    return float(weight[mask].sum() / total) if total > 0 else float("nan")


def weighted_quantiles(values: Floats, weight: Floats, shares: tuple[float, ...]) -> list[float]:
    """Return values below which these shares of the weight lie; NaN without values.

    >>> weighted_quantiles(np.array([3.0, 1.0, 2.0]), np.ones(3), (0.5,))
    [2.0]
    """
    if len(values) == 0:
        return [float("nan")] * len(shares)
    found = np.quantile(values, shares, weights=weight, method="inverted_cdf")
    return [float(v) for v in found]
