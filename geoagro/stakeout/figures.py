"""The stake-out in figures: how many stakes, against fixed steps, and how far the walk is."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import shapely
from shapely import LineString

from geoagro.arrays import Floats, Shapes
from geoagro.planar.polylines import Polylines
from geoagro.stakeout.chords import Chain, off_tape
from geoagro.stakeout.records import figures as f
from geoagro.stakeout.walk import Walk
from geoagro.values.measures import Measure, Measures
from geoagro.values.rows import TreeRows
from geoagro.values.stakeout import StakeRule


def stake_measures(rows: TreeRows, walk: Walk, rule: StakeRule, *, coarser: dict[float, int]) -> Measures:
    """Measure a stake-out; `coarser` holds numbers of stakes by other tolerances, metres."""
    lines = rows.frame.geometry.to_numpy()
    lines_m = float(shapely.length(lines).sum())
    hectares = lines_m * rows.spacing_m / 1e4
    others = [f.MARKS_AT_TOLERANCE.is_(count, at=tolerance) for tolerance, count in coarser.items()]
    return Measures((*_stakes(walk.marks, lines, hectares, rule), *others, *_walking(walk, lines_m)))


def _stakes(marks: gpd.GeoDataFrame, lines: Shapes, hectares: float, rule: StakeRule) -> list[Measure]:
    off = marks["off_tape_m"].to_numpy()
    step = safe_step(lines, rule)
    safe = fixed_count(lines, step) if np.isfinite(step) else np.nan
    even = float(shapely.length(lines).sum()) / max(len(marks) - len(lines), 1)
    common = f.COMMON_STEP_M
    return [
        f.MARKS.is_(len(marks)),
        f.MARKS_PER_HA.is_(len(marks) / hectares),
        f.TAPE_ONLY.is_((marks["kind"] == "tape").sum()),
        f.OFF_TAPE.is_(np.nanmax(off)),
        f.BEYOND.is_((off > rule.tolerance_m + 1e-9).sum(), at=rule.tolerance_m),
        f.NEAR.is_((marks["tape_m"] < rule.min_spacing_m - 0.01).sum(), at=rule.min_spacing_m),
        f.EVEN_STEP.is_(even),
        f.EVEN_OFF_TAPE.is_(worst_off_tape(lines, even)),
        f.FIXED_STEP.is_(step),
        f.FIXED_PER_HA.is_(safe / hectares),
        f.COMMON_PER_HA.is_(fixed_count(lines, common) / hectares, at=common),
        f.COMMON_OFF_TAPE.is_(worst_off_tape(lines, common), at=common),
    ]


def _walking(walk: Walk, lines_m: float) -> list[Measure]:
    between = walk.between_m
    return [
        f.ROW_LENGTH.is_(lines_m),
        f.WALK.is_(walk.along_rows_m + between["planned"]),
        f.BETWEEN.is_(between["planned"]),
        f.BETWEEN_BACK_AND_FORTH.is_(between["back_and_forth"]),
        f.BETWEEN_ONE_WAY.is_(between["one_way"]),
        f.BETWEEN_BOUND.is_(between["bound"]),
        f.HOURS.is_(walk.parts["hours"].sum()),
        f.DAYS.is_(walk.parts["day"].max()),
    ]


def fixed_count(lines: Shapes, step_m: float) -> int:
    """Stakes at a fixed step, with one at each row end."""
    return int((np.ceil(shapely.length(lines) / step_m - 1e-9) + 1).sum())


def safe_step(lines: Shapes, rule: StakeRule) -> float:
    """Find the longest step of whole `step_m` up to `max_spacing_m` that keeps every row within the tolerance.

    NaN where even the shortest doesn't, since no stake stands on a sharp bend.
    """
    low, high = 0, int(rule.max_spacing_m / rule.step_m + 1e-9)
    while low < high:
        middle = (low + high + 1) // 2
        fits = worst_off_tape(lines, middle * rule.step_m) <= rule.tolerance_m
        low, high = (middle, high) if fits else (low, middle - 1)
    return low * rule.step_m if low else np.nan


def worst_off_tape(lines: Shapes, step_m: float) -> float:
    """Measure how far rows lie off tapes between stakes at a fixed step."""
    return max(float(np.nanmax(_off_fixed(line, step_m))) for line in lines)


def _off_fixed(line: LineString, step_m: float) -> Floats:
    vertices = Polylines.read([line]).station
    stakes = np.unique(np.append(np.arange(0.0, line.length, step_m), line.length))
    station = np.unique(np.concatenate([vertices, stakes]))
    xy = shapely.get_coordinates(shapely.line_interpolate_point(line, station))
    nothing = np.zeros(len(station))
    return off_tape(Chain(xy, station, nothing > 0, nothing), np.searchsorted(station, stakes))
