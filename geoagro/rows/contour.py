"""Rows that are on contour and equally spaced at once, as far as the ground lets them."""

from __future__ import annotations

from shapely import LineString, MultiPolygon

from geoagro.rows.finishing import finish_rows
from geoagro.rows.lattice import Lattice, build_lattice
from geoagro.rows.level_lines import clipped, level_lines
from geoagro.rows.quality import legal_share, view_rows
from geoagro.rows.relaxation import Slopes, relax_rows
from geoagro.rows.row_field import Limits, legal_field, level_start, poisson_start
from geoagro.values.design import RowRule
from geoagro.values.grid import Floats, Grid
from geoagro.values.progress import Progress, silent
from geoagro.values.rows import Lines

CELL_SHARE = 0.45
FIELD_TOLERANCE_SHARE = 0.9
FIELD_GRADE_SHARE = 0.85
BEND_M = 6.0
PHASES = (0.0, 0.5)
RELAX_STEP_M = 5 / 3
RELAX_ROUNDS = 16


def contour_rows(
    plantable: MultiPolygon, smooth: Grid, judged: Grid, rule: RowRule, *, progress: Progress = silent
) -> Lines:
    """Lay rows by a robust fit of the row field, nudge them to their limits, and cut what can't hold them.

    Parameters
    ----------
    smooth
        Heights smoothed at the scale of the rows: where rows should run.
    judged
        Heights smoothed little: what grades are held on.
    """
    d = rule.spacing_m
    limits = Limits(rule.spacing_tolerance, rule.max_grade_pct / 100)
    progress("row field", 0.0)
    lattice = build_lattice(plantable.buffer(2 * d), smooth, CELL_SHARE * d)
    aim = Limits(limits.tolerance * FIELD_TOLERANCE_SHARE, limits.grade * FIELD_GRADE_SHARE)
    phi = level_start(lattice, poisson_start(lattice, lattice.uphill), aim, bend_m=BEND_M)
    progress("row field", 0.2)
    phi = legal_field(lattice, phi, aim)
    progress("rows", 0.5)
    rows = _best_phase(lattice, phi, plantable, judged, rule)
    rows = relax_rows(
        rows,
        Slopes.of(judged),
        plantable.buffer(0.3 * d),
        spacing_m=d,
        limits=limits,
        min_radius_m=rule.min_turn_radius_m,
        steps_m=(RELAX_STEP_M,) * RELAX_ROUNDS,
    )
    progress("limits", 0.8)
    done = finish_rows(
        rows,
        plantable,
        judged,
        spacing_m=d,
        tolerance=rule.spacing_tolerance,
        max_grade=limits.grade,
        min_radius_m=rule.min_turn_radius_m,
        min_length_m=rule.min_row_length_m,
    )
    progress("rows", 1.0)
    return done


def _best_phase(
    lattice: Lattice, phi: Floats, plantable: MultiPolygon, judged: Grid, rule: RowRule
) -> list[LineString]:
    """Return the family of level lines, among a few shifts by a part of the spacing, that is legal on most length."""
    d = rule.spacing_m

    def share(phase: float) -> float:
        rows = clipped(level_lines(lattice, phi, d, phase), plantable, rule.min_row_length_m)
        return legal_share(
            view_rows(rows, judged, d),
            plantable.area,
            spacing_m=d,
            tolerance=rule.spacing_tolerance,
            max_grade=rule.max_grade_pct / 100,
            min_run_m=rule.min_row_length_m,
        )

    best = max(PHASES, key=share)
    return clipped(level_lines(lattice, phi, d, best), plantable.buffer(1.5 * d), 0.5 * d)
