"""Rows that are on contour and equally spaced at once, as far as the ground lets them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from shapely import LineString, MultiPolygon

from geoagro.rows.fall import Fall, aimed, row_limits, wanted_fall
from geoagro.rows.finishing import finish_rows
from geoagro.rows.guides import pin_guides
from geoagro.rows.lattice import Lattice, build_lattice
from geoagro.rows.level_lines import clipped, level_lines
from geoagro.rows.quality import legal_share, view_rows
from geoagro.rows.relaxation import Slopes, Wishes, relax_rows
from geoagro.rows.row_field import Limits, legal_field, level_start, poisson_start
from geoagro.rows.straight import best_bearing, straight_rows
from geoagro.values.design import RowRule
from geoagro.values.grid import Floats, Grid
from geoagro.values.progress import Progress, silent
from geoagro.values.rows import Lines

CELL_SHARES = (0.6, 1.0)
"""Distance between nodes of the row field, in spacings: fine on small fields, coarse on large ones."""
FINE_NODES = 60_000
"""The row field is coarsened where it would have more nodes than this."""
FIELD_TOLERANCE_SHARE = 0.9
FIELD_GRADE_SHARE = 0.85
"""The row field aims a little inside the limits."""
BENDS_M = (6.0, 2.0, 12.0)
"""How stiff the row field starts; the fit that follows finds another valley from each."""
TRIED_HA = 16.0
"""More starts are tried on small fields, where each costs a second or less: together no more ground than this."""
PHASES = (0.0, 0.5)
RELAX_STEP_M = 5 / 3
RELAX_ROUNDS = (12, 16)
"""Rounds of nudging, on large and on small fields."""
MORE_ROUNDS, MORE_TIMES = 8, 3
"""The best set on a small field is nudged on, for as long as it gains, this many times at the most."""
HOPELESS = 0.1
STRAIGHT_WORTH = 0.01
"""Straight rows are taken where bending them wouldn't win more than this share of the ground."""


@dataclass(frozen=True)
class Task:
    """What a set of contour rows is laid for.

    Attributes
    ----------
    plantable
        Where rows may stand, working CRS.
    smooth
        Heights smoothed at the scale of the rows: where rows should run.
    judged
        Heights smoothed little: what grades are held on.
    guides
        Lines that a row must run on.
    fall
        Wanted fall along rows; None for level rows.
    """

    plantable: MultiPolygon
    smooth: Grid
    judged: Grid
    rule: RowRule
    guides: tuple[LineString, ...] = ()
    fall: Fall | None = None


def contour_rows(
    plantable: MultiPolygon,
    smooth: Grid,
    judged: Grid,
    rule: RowRule,
    *,
    guides: Sequence[LineString] = (),
    outlet: Any | None = None,
    progress: Progress = silent,
) -> Lines:
    """Lay candidate sets of rows and keep the one that is legal on most ground.

    Each candidate starts from another row field, is made legal where it can be (`legal_field`), nudged on real row
    geometry (`relax_rows`) and cut where a hard limit still breaks (`finish_rows`). Straight rows at the best bearing
    compete too, so that gentle ground isn't given bends for millimetres of height.

    Parameters
    ----------
    plantable
        Where rows may stand, working CRS.
    smooth
        Heights smoothed at the scale of the rows: where rows should run.
    judged
        Heights smoothed little: what grades are held on.
    guides
        Lines that a row must run on (an existing row, a track's edge, a terrace bank).
    outlet
        Point or line that rows fall toward, where the rule asks for it.
    """
    task = Task(plantable, smooth, judged, rule, tuple(guides), wanted_fall(rule, smooth, outlet))
    count = int(np.clip(TRIED_HA / (plantable.area / 1e4), 1, len(BENDS_M)))
    best: _Candidate | None = None
    for number, draft in enumerate(_drafts(task, BENDS_M[:count])):
        progress("rows", (number + 0.5) / (count + 1))
        found = _candidate(_relaxed(draft, task, RELAX_ROUNDS[count > 1]), task)
        best = found if best is None or found.share > best.share else best
    assert best is not None  # there is always a first start
    for _ in range(MORE_TIMES if count > 1 else 0):
        more = _candidate(_relaxed(best.rows, task, MORE_ROUNDS), task)
        if more.share <= best.share:
            break
        best = more
    progress("rows", 1.0)
    if task.guides or task.fall is not None:
        return best.held
    return _straight_if_as_good(task, best).held


@dataclass(frozen=True)
class _Candidate:
    """Rows before and after the hard limits, and the share of the ground on which what is left is legal."""

    rows: list[LineString]
    held: Lines
    share: float


def _candidate(rows: list[LineString], task: Task) -> _Candidate:
    rule = task.rule
    held = finish_rows(
        rows,
        task.plantable,
        task.judged,
        spacing_m=rule.spacing_m,
        tolerance=rule.spacing_tolerance,
        max_grade=rule.max_grade_pct / 100,
        min_radius_m=rule.min_turn_radius_m,
        min_length_m=rule.min_row_length_m,
    )
    return _Candidate(rows, held, _legal(held.kept, task) if held.kept else 0.0)


def _straight_if_as_good(task: Task, best: _Candidate) -> _Candidate:
    """Straight rows at the bearing that plants most, unless bent ones win more than STRAIGHT_WORTH over them."""
    rule = task.rule
    bearing = best_bearing(task.plantable, spacing_m=rule.spacing_m, min_length_m=rule.min_row_length_m)
    rows = straight_rows(
        task.plantable, spacing_m=rule.spacing_m, min_length_m=rule.min_row_length_m, bearing_deg=bearing
    ).kept
    # what isn't legal before the cuts isn't legal after them, but for a neighbour that a cut takes away
    if not rows or _legal(rows, task) + HOPELESS < best.share:
        return best
    straight = _candidate(rows, task)
    return straight if straight.share + STRAIGHT_WORTH >= best.share else best


def _drafts(task: Task, bends_m: tuple[float, ...]) -> Iterator[list[LineString]]:
    """Level lines of one row field after another, reaching past the plantable ground."""
    d = task.rule.spacing_m
    wide = row_limits(task.rule)
    limits = Limits(wide.tolerance * FIELD_TOLERANCE_SHARE, wide.grade * FIELD_GRADE_SHARE)
    domain = task.plantable.buffer(2 * d)
    share = np.clip(np.sqrt(domain.area / FINE_NODES) / d, *CELL_SHARES)
    lattice = aimed(build_lattice(domain, task.smooth, float(share) * d), task.fall)
    start = poisson_start(lattice, lattice.uphill)
    for bend_m in bends_m:
        phi = level_start(lattice, start, limits, bend_m=bend_m, pinned=pin_guides(lattice, start, task.guides, d))
        phi = legal_field(lattice, phi, limits, pinned=pin_guides(lattice, phi, task.guides, d))
        yield _rows_of(lattice, phi, task, choose=len(bends_m) > 1)


def _rows_of(lattice: Lattice, phi: Floats, task: Task, *, choose: bool) -> list[LineString]:
    """Return the level lines, among a few shifts by a part of the spacing, that is legal on most length.

    Guides have whole multiples of the spacing, so with them there is no choice; on a large field no shift matters.
    """
    d = task.rule.spacing_m

    def share(phase: float) -> float:
        return _legal(clipped(level_lines(lattice, phi, d, phase), task.plantable, task.rule.min_row_length_m), task)

    best = 0.0 if task.guides or not choose else max(PHASES, key=share)
    return clipped(level_lines(lattice, phi, d, best), task.plantable.buffer(1.5 * d), 0.5 * d)


def _relaxed(rows: list[LineString], task: Task, rounds: int) -> list[LineString]:
    rule = task.rule
    wishes = Wishes(
        rule.spacing_m,
        row_limits(rule),
        rule.preferred_grade_pct / 100,
        rule.min_turn_radius_m,
        task.fall,
        task.guides,
    )
    area = task.plantable.buffer(0.3 * rule.spacing_m)
    return relax_rows(rows, Slopes.of(task.judged), area, wishes, steps_m=(RELAX_STEP_M,) * rounds)


def _legal(rows: list[LineString], task: Task) -> float:
    rule = task.rule
    return legal_share(
        view_rows(rows, task.judged, rule.spacing_m),
        task.plantable.area,
        spacing_m=rule.spacing_m,
        tolerance=rule.spacing_tolerance,
        max_grade=rule.max_grade_pct / 100,
        min_run_m=rule.min_row_length_m,
    )
