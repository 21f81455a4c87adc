"""How hard the ground is for rows that are on contour and equally spaced at once."""

from __future__ import annotations

from typing import Literal

import numpy as np
import pandas as pd
from shapely import MultiPolygon

from geoagro.arrays import Floats
from geoagro.errors import LayoutError
from geoagro.terrain.slope import gradient
from geoagro.terrain.smoothing import smoothed
from geoagro.terrain.window import cells_on
from geoagro.values.grid import Grid
from geoagro.values.terrain import TERRAIN_DIFFICULTY, Difficulty, Terrain
from geoagro.values.words import Sentence, in_a_row, say

Binding = Literal["spacing", "grade", "both", "neither"]
CLEAR = 1.5
"""One tolerance binds alone where it gives out 1.5 times sooner than the other."""
EASY = 0.10
"""Neither binds where parallel rows hold the grade on all but this share of the ground."""


def flow_curvature(surface: Grid) -> Grid:
    """Curvature of the flow lines, 1/m: how fast contours draw together (+) or apart (-) along themselves.

    With p, q the slopes to east and north and r, s, t their derivatives (z_xx, z_xy, z_yy)

        kf = ((p^2 - q^2) s - p q (r - t)) / (p^2 + q^2)^1.5

    the "rotor" of Shary 1995, "Land surface in gravity points classification by a complete system of
    curvatures", Mathematical Geology 27(3): 373-390. Walking along a contour with the upslope side on the
    left, the distance w between neighbouring contours changes by d(ln w)/ds = kf. Level cells are NaN.
    """
    p, q = gradient(surface)
    z, h = np.pad(surface.values, 1, constant_values=np.nan), surface.cell_m
    middle = surface.values
    r = (z[1:-1, 2:] - 2 * middle + z[1:-1, :-2]) / h**2
    t = (z[:-2, 1:-1] - 2 * middle + z[2:, 1:-1]) / h**2
    s = (z[:-2, 2:] - z[:-2, :-2] - z[2:, 2:] + z[2:, :-2]) / (4 * h**2)
    with np.errstate(divide="ignore", invalid="ignore"):
        kf = ((p**2 - q**2) * s - p * q * (r - t)) / (p**2 + q**2) ** 1.5
    return surface.with_values(np.where(np.isfinite(kf), kf, np.nan))


def terrain_difficulty(
    terrain: Terrain, plantable: MultiPolygon, *, spacing_m: float, spacing_tolerance_pct: float, max_grade_pct: float
) -> Difficulty:
    """Tell before any layout how far rows can be level, or parallel, and which tolerance will bind.

    Neighbouring contours draw together or apart, and the direction of contours turns, by one and the same
    quantity: the flow-line curvature kf. With x the spacing tolerance, g the grade limit, S the slope:

    - a row that stays level keeps its spacing within (1 - x) to (1 + x) for ln((1 + x)/(1 - x)) / abs(kf) metres;
    - a row parallel to a level row at the distance u climbs S sin(kf u), so parallels hold the grade up to
      u = asin(min(1, g/S)) / abs(kf), and everywhere where S <= g.

    Parameters
    ----------
    terrain
        With heights. kf is that of the smooth surface smoothed once more by one spacing: second derivatives
        double the noise, and no row follows a bend shorter than the distance to its neighbour.
    plantable
        Ground that the summary is taken over, working CRS; where it holds no cell's centre, the cells that it touches.
    spacing_m, spacing_tolerance_pct, max_grade_pct
        Row spacing (m), its tolerance (%, above 0, below 100) and the grade limit (%, above 0).

    Raises
    ------
    LayoutError
        Without heights, with a tolerance out of range, or where no cell of the ground has a slope.
    """
    if not (0 < spacing_tolerance_pct < 100 and max_grade_pct > 0 and spacing_m > 0):
        raise LayoutError(
            f"Difficulty needs spacing_m above 0 (is {spacing_m:g}), spacing_tolerance_pct between 0 and 100 "
            f"(is {spacing_tolerance_pct:g}) and max_grade_pct above 0 (is {max_grade_pct:g}). Set them under rows."
        )
    _, surface = terrain.need_heights("The terrain difficulty map")
    inside = cells_on(surface, plantable) & np.isfinite(terrain.slope.values)
    if not inside.any():
        raise LayoutError("No cell of the plantable ground has a slope; give a raster that covers the field.")
    slope = terrain.slope.values
    kf = flow_curvature(smoothed(surface, spacing_m))
    bend = np.abs(kf.values)
    grade, tolerance = max_grade_pct / 100, spacing_tolerance_pct / 100
    with np.errstate(divide="ignore", invalid="ignore"):
        level = np.log((1 + tolerance) / (1 - tolerance)) / bend
        parallel = np.arcsin(np.minimum(1.0, grade / slope)) / bend
    # level cells have no contour to follow; any row is level there
    level = np.where(slope > 0, level, np.where(slope == 0, np.inf, np.nan))
    parallel = np.where(slope > grade, parallel, np.where(np.isnan(slope), np.nan, np.inf))
    summary = _summary(bend[inside], level[inside], parallel[inside], spacing_m)
    free = float(np.mean(slope[inside] <= grade))
    across = float(np.sqrt(plantable.area))
    binding = _binding(level[inside], parallel[inside], across)
    sentence = _sentence(binding, summary, free, spacing_tolerance_pct, max_grade_pct)
    return Difficulty(kf, surface.with_values(level), surface.with_values(parallel), summary, binding, sentence)


def _percentiles(values: Floats) -> Floats:
    """10, 50 and 90 %; inf counts as the longest."""
    known = values[~np.isnan(values)]
    if len(known) == 0:
        return np.full(3, np.nan)
    out: Floats = np.percentile(known, [10, 50, 90], method="lower")
    return out


def _summary(bend: Floats, level: Floats, parallel: Floats, spacing_m: float) -> pd.DataFrame:
    rows = (
        ("flow_curvature", bend, "1/m", say("Absolute curvature of the lines of steepest descent.")),
        ("equidistant", level, "m", say("How far a level row keeps its spacing within the tolerance.")),
        ("holds_grade", parallel, "m", say("How far to one side of a level row parallel rows hold the grade limit.")),
        ("rows_that_hold_grade", parallel / spacing_m, "rows", say("The same counted in rows, on one side.")),
    )
    p = np.array([_percentiles(values) for _, values, _, _ in rows])
    columns = {
        "measure": [row[0] for row in rows],
        "p10": p[:, 0],
        "p50": p[:, 1],
        "p90": p[:, 2],
        "unit": [row[2] for row in rows],
        "definition": [row[3] for row in rows],
    }
    return TERRAIN_DIFFICULTY.frame(columns)


def _binding(level: Floats, parallel: Floats, across_m: float) -> Binding:
    """Compare the two distances where parallel rows from the field's middle don't hold the grade to its edge."""
    known = ~np.isnan(level) & ~np.isnan(parallel)
    hard = known & (parallel < across_m / 2) & (level < across_m)
    if hard.sum() <= EASY * known.sum():
        return "neither"
    ratio = float(np.median(parallel[hard] / level[hard]))
    if ratio > CLEAR:
        return "spacing"
    return "grade" if ratio < 1 / CLEAR else "both"


_VERDICTS: dict[Binding, str] = {
    "spacing": say(
        "Where parallel rows can't cross the field, spacing is the tighter limit: a level row leaves its spacing sooner than "
        "parallel rows leave the grade limit. Keep rows parallel and let them slope a little."
    ),
    "grade": say(
        "Where parallel rows can't cross the field, grade is the tighter limit: parallel rows leave the grade limit sooner "
        "than a level row leaves its spacing. Keep rows level and let their spacing vary."
    ),
    "both": say("Where parallel rows can't cross the field, spacing and grade are about equally tight."),
    "neither": say("Neither limit is reached on most of the field: parallel rows hold the grade."),
}


def _sentence(binding: Binding, summary: pd.DataFrame, free: float, tolerance_pct: float, max_grade_pct: float) -> str:
    median = summary.set_index("measure")["p50"]
    told = [
        _metres(float(median["equidistant"]), tolerance_pct),
        _rows(float(median["rows_that_hold_grade"]), max_grade_pct),
    ]
    if free >= 0.005:
        told.append(Sentence("On {share:.0f} % of the plantable ground rows may run any way.", share=100 * free))
    return in_a_row(*told, Sentence(_VERDICTS[binding]))


def _metres(value: float, tolerance_pct: float) -> str:
    if value < 10_000:
        message = say(
            "Half of the plantable ground lets a level row keep its spacing within {tolerance:.0f} % for at least {metres:.0f} m."
        )
        return Sentence(message, tolerance=tolerance_pct, metres=value)
    message = say(
        "Half of the plantable ground lets a level row keep its spacing within {tolerance:.0f} % for any distance."
    )
    return Sentence(message, tolerance=tolerance_pct)


def _rows(value: float, grade_pct: float) -> str:
    if value < 200:
        message = say(
            "On half of it at least {rows} {rows:parallel row on each side of a level row holds|parallel rows on each side "
            "of a level row hold} {grade:g} %."
        )
        return Sentence(message, grade=grade_pct, rows=int(value))
    return Sentence("On half of it any number of parallel rows beside a level row hold {grade:g} %.", grade=grade_pct)
