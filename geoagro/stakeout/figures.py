"""The stake-out in figures: how many stakes, against fixed steps, and how far the walk is."""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely

from geoagro.stakeout.chords import Chain, off_tape
from geoagro.stakeout.walk import Walk
from geoagro.values.rows import TreeRows
from geoagro.values.stakeout import STAKE_SUMMARY, StakeRule

_COMMON_STEP_M = 10.0  # common practice, no source


def stake_summary(rows: TreeRows, walk: Walk, rule: StakeRule, *, coarser: dict[float, int]) -> Any:
    """Build table STAKE_SUMMARY; `coarser` holds numbers of stakes by other tolerances, metres."""
    lines = rows.frame.geometry.to_numpy()
    lines_m = float(shapely.length(lines).sum())
    hectares = lines_m * rows.spacing_m / 1e4
    others = [
        (f"marks_at_{1000 * tolerance:.0f}_mm", count, "", f"Stakes in all if the tolerance were {tolerance:g} m.")
        for tolerance, count in coarser.items()
    ]
    measures = [*_stakes(walk.marks, lines, hectares, rule), *others, *_walking(walk, lines_m)]
    return STAKE_SUMMARY.frame({name: [m[k] for m in measures] for k, name in enumerate(STAKE_SUMMARY.columns)})


Measure = tuple[str, float, str, str]


def _stakes(marks: Any, lines: Any, hectares: float, rule: StakeRule) -> list[Measure]:
    off = marks["off_tape_m"].to_numpy()
    step = safe_step(lines, rule)
    safe = fixed_count(lines, step) if np.isfinite(step) else np.nan
    even = float(shapely.length(lines).sum()) / max(len(marks) - len(lines), 1)
    return [
        ("marks", len(marks), "", "Stakes in all."),
        ("marks_per_ha", len(marks) / hectares, "1/ha", "Stakes over row length times row spacing."),
        ("tape_only", int((marks["kind"] == "tape").sum()), "", "Stakes that only the tape needs."),
        ("off_tape_max", float(np.nanmax(off)), "m", "Farthest that a row lies off the tape between two stakes."),
        (
            "beyond_tolerance",
            int((off > rule.tolerance_m + 1e-9).sum()),
            "",
            f"Tapes farther off the row than {rule.tolerance_m:g} m.",
        ),
        (
            "below_min_spacing",
            int((marks["tape_m"] < rule.min_spacing_m - 0.01).sum()),
            "",
            f"Tapes shorter than {rule.min_spacing_m:g} m, where a curve or a place that needs a stake asks for it.",
        ),
        ("even_step", even, "m", "Even step that takes as many stakes."),
        ("even_off_tape", worst_off_tape(lines, even), "m", "Farthest that a row lies off the tapes of that step."),
        ("fixed_step", step, "m", "Longest even step that keeps every row within the tolerance; empty if none does."),
        ("fixed_per_ha", safe / hectares, "1/ha", "Stakes at that step, row ends included."),
        (
            "common_per_ha",
            fixed_count(lines, _COMMON_STEP_M) / hectares,
            "1/ha",
            f"Stakes every {_COMMON_STEP_M:g} m (common practice, no source).",
        ),
        ("common_off_tape", worst_off_tape(lines, _COMMON_STEP_M), "m", "Farthest that a row lies off those tapes."),
    ]


def _walking(walk: Walk, lines_m: float) -> list[Measure]:
    between = walk.between_m
    return [
        ("row_length", lines_m, "m", "Length of all rows."),
        ("walk", walk.along_rows_m + between["planned"], "m", "Walk over all stakes, without ways to and fro."),
        ("between_rows", between["planned"], "m", "Part of the walk between rows, in the planned order."),
        ("between_back_and_forth", between["back_and_forth"], "m", "The same by row number, back and forth."),
        ("between_one_way", between["one_way"], "m", "The same by row number, each row from its start."),
        ("between_bound", between["bound"], "m", "The same: no order of whole rows can be shorter than this."),
        ("hours", float(walk.parts["hours"].sum()), "h", "Walking and setting stakes, ways from the start included."),
        ("days", float(walk.parts["day"].max()), "", "Days for the given crews."),
    ]


def fixed_count(lines: Any, step_m: float) -> int:
    """Stakes at a fixed step, with one at each row end."""
    return int((np.ceil(shapely.length(lines) / step_m - 1e-9) + 1).sum())


def safe_step(lines: Any, rule: StakeRule) -> float:
    """Find the longest step of whole `step_m` up to `max_spacing_m` that keeps every row within the tolerance.

    NaN where even the shortest doesn't, since no stake stands on a sharp bend.
    """
    low, high = 0, int(rule.max_spacing_m / rule.step_m + 1e-9)
    while low < high:
        middle = (low + high + 1) // 2
        fits = worst_off_tape(lines, middle * rule.step_m) <= rule.tolerance_m
        low, high = (middle, high) if fits else (low, middle - 1)
    return low * rule.step_m if low else np.nan


def worst_off_tape(lines: Any, step_m: float) -> float:
    """Measure how far rows lie off tapes between stakes at a fixed step."""
    return max(float(np.nanmax(_off_fixed(line, step_m))) for line in lines)


def _off_fixed(line: Any, step_m: float) -> Any:
    vertices = np.append(0.0, np.cumsum(np.hypot(*np.diff(shapely.get_coordinates(line), axis=0).T)))
    stakes = np.unique(np.append(np.arange(0.0, line.length, step_m), line.length))
    station = np.unique(np.concatenate([vertices, stakes]))
    xy = shapely.get_coordinates(shapely.line_interpolate_point(line, station))
    nothing = np.zeros(len(station))
    return off_tape(Chain(xy, station, nothing > 0, nothing), np.searchsorted(station, stakes))
