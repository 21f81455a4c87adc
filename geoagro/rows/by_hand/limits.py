"""What limits rows given by hand break, and where: reported, not enforced."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import geopandas as gpd
import numpy as np
import shapely
from shapely import LineString, MultiPolygon
from shapely.ops import substring

from geoagro.arrays import Bools, Floats
from geoagro.planar.segments import segments_of
from geoagro.rows.fall import Fall
from geoagro.rows.finishing import MOST_SAG_M
from geoagro.rows.quality import NEIGHBOUR_REACH, OWN_GAP, chord_grade, window_radius
from geoagro.rows.sampling import RowSamples, cast, nearest_other, sample_rows
from geoagro.values.design import RowRule
from geoagro.values.grid import Grid
from geoagro.values.rows import ROW_LIMITS, TreeRows
from geoagro.values.site import Finding
from geoagro.values.words import Sentence, say

STEP_M = 0.5
CLOSE_M = 2.0
"""Stretches nearer than this are told as one."""
ROUNDING = 1e-6


@dataclass(frozen=True, eq=False)
class _Broken:
    """One limit: where samples break it, how badly (the larger, the worse), what is allowed, and who asks for it."""

    limit: str
    bad: Bools
    worst: Floats
    sign: int
    allowed: float
    unit: str
    setting: str


def broken_limits(
    rows: TreeRows, plantable: MultiPolygon, heights: Grid | None, rule: RowRule, *, fall: Fall | None = None
) -> gpd.GeoDataFrame:
    """Layer ROW_LIMITS of the rows given by hand (column `by_hand`), by row, then limit, then place.

    Grades, and with a wanted fall where a row rises on its way, need `heights` (the judging surface); without them none are told.
    """
    lines = list(rows.frame.geometry.to_numpy())
    asked = np.asarray(rows.frame["by_hand"], dtype=bool)
    samples = sample_rows(lines, STEP_M)
    mine = asked[samples.row]
    items = []
    every = _all(lines, samples, plantable, heights, rule)
    if fall is not None and heights is not None:
        every.append(_rises(lines, samples, heights, fall))
    for broken in every:
        for row, a, b, worst in _stretches(samples, broken.bad & mine, broken.sign * broken.worst):
            items.append((row, broken, a, b, worst))
    items.sort(key=lambda item: (int(rows.frame["row"].iloc[item[0]]), item[1].limit, item[2]))
    return _layer(items, rows, samples, lines)


def _all(
    lines: Sequence[LineString], samples: RowSamples, plantable: MultiPolygon, heights: Grid | None, rule: RowRule
) -> list[_Broken]:
    d, x = rule.spacing_m, rule.spacing_tolerance
    segments = segments_of(lines)
    own = OWN_GAP * d
    near = nearest_other(samples, segments, within_m=d, own_gap_m=own)
    sides = [cast(samples, segments, side=s, reach_m=NEIGHBOUR_REACH * d, own_gap_m=own).distance for s in (1, -1)]
    wide = np.max([np.where(np.isfinite(side), side, 0.0) for side in sides], axis=0)
    grade, radius = chord_grade(lines, samples, heights) * 100, window_radius(lines, samples)
    length = samples.row_length[samples.row]
    shapely.prepare(plantable)
    off = ~shapely.intersects_xy(plantable, samples.x, samples.y)
    crosses = ~shapely.is_simple(np.asarray(lines, dtype=object))[samples.row]
    low, high = (1 - x) * d, (1 + x) * d
    spacing = "rows.spacing_m, rows.spacing_tolerance_pct"
    return [
        _Broken("spacing_limit", near < low - ROUNDING, near, -1, low, "m", spacing),
        _Broken("spacing_tolerance", wide > high + ROUNDING, wide, 1, high, "m", spacing),
        _Broken("grade_limit", grade > rule.max_grade_pct + ROUNDING, grade, 1, rule.max_grade_pct, "%",
                "rows.max_grade_pct"),
        _Broken("turn_radius", radius < rule.min_turn_radius_m - ROUNDING, radius, -1, rule.min_turn_radius_m, "m",
                "rows.min_turn_radius_m"),
        _Broken("short_row", length < rule.min_row_length_m - ROUNDING, length, -1, rule.min_row_length_m, "m",
                "rows.min_row_length_m"),
        _Broken("not_plantable", off, np.zeros(len(off)), 1, 0.0, "m", "ground"),
        _Broken("crosses_itself", crosses, np.zeros(len(off)), 1, 0.0, "m", ""),
    ]  # fmt: skip


def _rises(lines: Sequence[LineString], samples: RowSamples, heights: Grid, fall: Fall) -> _Broken:
    """Where rows rise on the way that they should fall, so that water stands in them or runs back."""
    bad, _ = fall.rises_along(lines, samples, heights, MOST_SAG_M)
    _, risen = fall.rises_along(lines, samples, heights, np.inf)
    return _Broken("rise_limit", bad, risen, 1, MOST_SAG_M, "m", "rows.target_grade_pct, rows.fall_toward")


def _stretches(samples: RowSamples, bad: Any, badness: Floats) -> list[tuple[int, float, float, int]]:
    """Row, from, to (metres along the row) and worst sample of each stretch of bad samples of one row."""
    k = np.flatnonzero(bad)
    if len(k) == 0:
        return []
    half = samples.weight[k] / 2
    gap = (samples.station[k] - half)[1:] - (samples.station[k] + half)[:-1]
    new = np.append(True, (samples.row[k][1:] != samples.row[k][:-1]) | (gap > CLOSE_M))
    first = np.flatnonzero(new)
    last = np.append(first[1:], len(k)) - 1
    found = []
    for a, b in zip(first, last, strict=True):
        worst = k[a : b + 1][np.argmax(badness[k[a : b + 1]])]
        ends = samples.station[k[a]] - half[a], samples.station[k[b]] + half[b]
        found.append((int(samples.row[k[a]]), float(ends[0]), float(ends[1]), int(worst)))
    return found


def _layer(items: list[Any], rows: TreeRows, samples: RowSamples, lines: Sequence[LineString]) -> gpd.GeoDataFrame:
    crs = rows.frame.crs
    if not items:
        return ROW_LIMITS.empty(crs)
    number = rows.frame["row"].to_numpy()
    worst = [k for *_, k in items]
    columns = {
        "row": [number[row] for row, *_ in items],
        "limit": [broken.limit for _, broken, *_ in items],
        "from_m": [a for _, _, a, _, _ in items],
        "to_m": [b for _, _, _, b, _ in items],
        "worst": [b - a if broken.limit == "not_plantable" else broken.worst[k] for _, broken, a, b, k in items],
        "allowed": [broken.allowed for _, broken, *_ in items],
        "unit": [broken.unit for _, broken, *_ in items],
        "x": samples.x[worst],
        "y": samples.y[worst],
        "setting": [broken.setting for _, broken, *_ in items],
    }
    return ROW_LIMITS.frame(columns, geometry=[substring(lines[row], a, b) for row, _, a, b, _ in items], crs=crs)


WORDS = {
    "grade_limit": say("steeper than rows.max_grade_pct"),
    "rise_limit": say("rising on the way that they should fall, so that water would stand or run back"),
    "spacing_limit": say("nearer to another row than spacing and tolerance allow"),
    "spacing_tolerance": say("farther from the next row than spacing and tolerance allow"),
    "turn_radius": say("bent tighter than rows.min_turn_radius_m"),
    "short_row": say("shorter than rows.min_row_length_m"),
    "crosses_itself": say("crossing themselves"),
    "not_plantable": say("off the plantable ground, where no bed or plant is placed"),
}


def told(limits: gpd.GeoDataFrame) -> tuple[Finding, ...]:
    """One finding for each kind of broken limit: how much, on how many rows, and the worst place."""
    found = []
    for limit, part in limits.groupby("limit", sort=True):
        gap = part["worst"] - part["allowed"]
        worst = part.iloc[int(gap.abs().argmax())]
        metres = float((part["to_m"] - part["from_m"]).sum())
        measured = Sentence(
            "{worst:.2f} {unit} where {allowed:g} {unit} are allowed",
            worst=worst["worst"], unit=worst["unit"], allowed=worst["allowed"],
        ) if worst["unit"] else Sentence("the longest stretch")  # fmt: skip
        text = Sentence(
            "{metres:.1f} m of {count} {count:row are|rows are} {words}; worst: {measured}, row {row}, "
            "{from_m:.1f} to {to_m:.1f} m along it, at {x} {y}. Nothing was changed; layer row_limits shows "
            "every place",
            metres=metres,
            count=part["row"].nunique(),
            words=Sentence(WORDS[str(limit)]),
            measured=measured,
            row=str(worst["row"]),
            from_m=worst["from_m"],
            to_m=worst["to_m"],
            x=f"{worst['x']:.1f}",
            y=f"{worst['y']:.1f}",
        )
        found.append(Finding("warning", "rows by hand", text))
    return tuple(found)
