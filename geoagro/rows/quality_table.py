"""The measures of a set of rows as a table in words."""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely
from shapely import MultiPolygon

from geoagro.arrays import Floats
from geoagro.rows.fall import Fall, wanted_fall
from geoagro.rows.quality import NEIGHBOUR_REACH, RowView, chord_rise, legal_share, view_rows, window_radius
from geoagro.values.design import RowRule
from geoagro.values.layout import LAYOUT_QUALITY
from geoagro.values.rows import TreeRows
from geoagro.values.terrain import Terrain

RELATIVE_CLASSES = (5, 10, 25, 50)
LEAST_SLOPE = 0.02


def quality_table(
    rows: TreeRows, plantable: MultiPolygon, terrain: Terrain, rule: RowRule, *, outlet: Any | None = None
) -> Any:
    """Table LAYOUT_QUALITY of laid rows; grade lines are left out where heights are unknown.

    `outlet` is what rows fall toward, where the rule asks for it.
    """
    lines = list(rows.frame.geometry)
    view = view_rows(lines, terrain.judged, rows.spacing_m)
    items = _spacing_items(view, plantable, rule) + _row_items(lines, view, plantable.area, rule)
    if terrain.judged is not None:
        items += _grade_items(view, plantable.area, rule) + _published_items(view, terrain)
    if terrain.judged is not None and terrain.smooth is not None and rule.target_grade_pct > 0:
        items += _fall_items(lines, view, terrain, wanted_fall(rule, terrain.smooth, outlet))
    measure, value, unit, definition = (list(v) for v in zip(*items, strict=True))
    return LAYOUT_QUALITY.frame({"measure": measure, "value": value, "unit": unit, "definition": definition})


Item = tuple[str, float, str, str]


def _spacing_items(view: RowView, plantable: MultiPolygon, rule: RowRule) -> list[Item]:
    d, weight = rule.spacing_m, view.samples.weight
    distance = np.concatenate([view.up.distance, view.down.distance])
    twice = np.concatenate([weight, weight])
    found = np.isfinite(distance)
    ratio, w = distance[found] / d, twice[found]
    x = rule.spacing_tolerance
    p05, p50, p95 = weighted_quantiles(ratio, w, (0.05, 0.5, 0.95))
    rays = "rays square to the row, each side, up to 2.5 spacings"
    return [
        ("covered", float(weight.sum() * d / plantable.area), "share", "Row length times spacing over plantable area."),
        (
            "spacing within tolerance",
            _share(np.abs(ratio - 1) <= x + 1e-6, w),
            "share",
            f"Of neighbours met by {rays}.",
        ),
        (
            "nearer than tolerance",
            _share(view.nearest < (1 - x) * d - 1e-6, weight),
            "share",
            "Row length nearer to another row than the tolerance allows.",
        ),
        ("spacing p05", p05, "spacings", f"5 % of {rays} meet a row nearer than this."),
        ("spacing p50", p50, "spacings", f"Median of {rays}."),
        ("spacing p95", p95, "spacings", f"5 % of {rays} meet a row farther than this."),
        (
            "open sides",
            _share(distance > NEIGHBOUR_REACH * d, twice),
            "share",
            "Row sides without a neighbour within 1.6 spacings, edges of the field included.",
        ),
        (
            "open sides at the edge",
            _share(distance > NEIGHBOUR_REACH * d, twice * _leaves(view, plantable, NEIGHBOUR_REACH * d), twice),
            "share",
            "Part of the open sides from which the plantable ground ends within 1.6 spacings.",
        ),
    ]


def _row_items(lines: list[Any], view: RowView, area_m2: float, rule: RowRule) -> list[Item]:
    length = view.samples.row_length
    radius = window_radius(lines, view.samples)
    return [
        ("rows", float(len(length)), "", "Number of rows."),
        ("row length", float(length.sum()), "m", "Sum of row lengths."),
        ("mean row length", float(length.mean()), "m", "Row length over number of rows."),
        (
            "rows below minimum length",
            float((length < rule.min_row_length_m - 1e-6).sum()),
            "",
            "Rows shorter than rows.min_row_length_m.",
        ),
        ("row ends per hectare", float(2 * len(length) / area_m2 * 1e4), "1/ha", "Two per row, over plantable area."),
        (
            "radius p01",
            weighted_quantiles(radius, view.samples.weight, (0.01,))[0],
            "m",
            "1 % of the row length bends tighter over 5 m.",
        ),
        ("radius min", float(radius.min()), "m", "Tightest bend over 5 m."),
    ]


def _grade_items(view: RowView, area_m2: float, rule: RowRule) -> list[Item]:
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

    every = "Row length times spacing over plantable area, counting stretches of the minimum row length that hold spacing and grade"
    limits = sorted({rule.max_grade_pct, 2.0, 4.0})
    return [
        *((f"legal share at {g:g} % grade", legal(g), "share", f"{every} {g:g} % at once.") for g in limits),
        ("grade p50", p50, "%", "Median grade over 10 m along the row."),
        ("grade p95", p95, "%", "95 % of the row length is flatter than this over 10 m."),
        ("grade max", float(np.nanmax(view.grade) * 100), "%", "Steepest 10 m along any row."),
    ]


def _published_items(view: RowView, terrain: Terrain) -> list[Item]:
    """Rate by published scales: NRCS 331 (row grade at most half the slope and 4 %, 10 % with cover), RUSLE2 relative grade."""
    s = view.samples
    slope = terrain.slope.sample(s.x, s.y)
    known = np.isfinite(view.grade) & np.isfinite(slope)
    grade, slope, weight = view.grade[known], slope[known], s.weight[known]
    items: list[Item] = [
        (
            f"within tree-row grade limit, {name}",
            _share(grade <= np.minimum(slope / 2, most) + 1e-9, weight),
            "share",
            f"Row length at or below half the land slope and {most:.0%} (USDA-NRCS 331, row grade).",
        )
        for name, most in (("bare alleys", 0.04), ("covered alleys", 0.10))
    ]
    sloping = slope > LEAST_SLOPE
    relative = 100 * grade[sloping] / slope[sloping]
    for limit in RELATIVE_CLASSES:
        items.append(
            (
                f"relative row grade up to {limit} %",
                _share(relative <= limit, weight[sloping]),
                "share",
                "Row grade over land slope, where the land slopes more than 2 % (classes of the RUSLE2 training slides).",
            )
        )
    return items


def _fall_items(lines: list[Any], view: RowView, terrain: Terrain, fall: Fall | None) -> list[Item]:
    """How far rows fall the way that the design asks for."""
    s = view.samples
    if fall is None:
        return []
    xy, tangent = np.column_stack([s.x, s.y]), np.column_stack([s.tx, s.ty])
    held = fall.held(xy, tangent, chord_rise(lines, s, terrain.judged))
    told = np.isfinite(held)
    p05, p50, p95 = (100 * v for v in weighted_quantiles(held[told], s.weight[told], (0.05, 0.5, 0.95)))
    where = "where rows don't run square to the way they should fall"
    return [
        ("fall p05", p05, "%", f"5 % of the row length falls less than this the wanted way over 10 m, {where}."),
        ("fall p50", p50, "%", f"Median fall the wanted way over 10 m, {where}."),
        ("fall p95", p95, "%", f"95 % of the row length falls less than this the wanted way over 10 m, {where}."),
        (
            "fall reversed",
            _share(held[told] < -1e-9, s.weight[told]),
            "share",
            f"Row length that falls the wrong way, {where}.",
        ),
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


def _share(mask: Any, weight: Floats, of: Floats | None = None) -> float:
    total = float((weight if of is None else of).sum())
    return float(weight[mask].sum() / total) if total > 0 else float("nan")


def weighted_quantiles(values: Floats, weight: Floats, shares: tuple[float, ...]) -> list[float]:
    """Return values below which these shares of the weight lie; NaN without values.

    >>> weighted_quantiles(np.array([3.0, 1.0, 2.0]), np.ones(3), (0.5,))
    [2.0]
    """
    if len(values) == 0:
        return [float("nan")] * len(shares)
    order = np.argsort(values, kind="stable")
    total = np.cumsum(weight[order])
    at = np.searchsorted(total, np.asarray(shares) * total[-1] * (1 - 1e-12))
    return [float(v) for v in values[order][np.minimum(at, len(order) - 1)]]
