"""The trade between ground, spacing, grade and row ends: rows laid at a few settings, each measured alike."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from functools import partial
from itertools import product
from typing import Any

from shapely import LineString

from geoagro.errors import DesignError, GeoagroError
from geoagro.rows import quality_table as q
from geoagro.rows.layout import lay_rows
from geoagro.rows.records.comparison import ROW_COMPARISON
from geoagro.values.design import RowRule
from geoagro.values.ground import Ground
from geoagro.values.measures import Measures
from geoagro.values.progress import Progress, silent
from geoagro.values.rows import TreeRows
from geoagro.values.terrain import Terrain

AROUND = (0.5, 1.0, 1.5)
"""Settings tried, as multiples of the design's own; chosen to bracket it, no source."""
WIDEST_TOLERANCE = 0.4


def settings_around(
    rule: RowRule,
    *,
    grades_pct: Sequence[float] = (),
    tolerances: Sequence[float] = (),
    with_guide: bool = False,
) -> tuple[RowRule, ...]:
    """Give rules on a grid of grade limits and tolerances for contour rows, and on the grade limits for the others.

    Straight rows (and rows parallel to guides) keep their spacing whatever the tolerance, so they are asked for
    at the design's own. The design's own values are always among them.

    Parameters
    ----------
    rule
        The design's own.
    grades_pct, tolerances
        Values to try, percent and share; multiples AROUND of the design's own where none are given.
    with_guide
        True where the design has guide lines.

    Raises
    ------
    DesignError
        For a grade limit that isn't above 0 or is below the target grade, or a tolerance not above 0 or above 0.4.
    """
    grades = _values(rule.max_grade_pct, grades_pct, least=rule.target_grade_pct, most=math.inf)
    widths = _values(rule.spacing_tolerance, tolerances, least=0.0, most=WIDEST_TOLERANCE)
    _refuse("grade limit", grades, least=rule.target_grade_pct, most=math.inf)
    _refuse("spacing tolerance", widths, least=0.0, most=WIDEST_TOLERANCE)
    contour = [_changed(rule, "contour", g, x) for x, g in product(widths, grades)]
    others = ["straight", "guide"] if with_guide else ["straight"]
    return (*contour, *(_changed(rule, m, g, rule.spacing_tolerance) for m, g in product(others, grades)))


def _values(own: float, asked: Sequence[float], *, least: float, most: float) -> list[float]:
    around = [round(own * k, 4) for k in AROUND]
    return sorted({own, *(asked or [v for v in around if least <= v <= most])})


def _refuse(what: str, values: Iterable[float], *, least: float, most: float) -> None:
    for value in values:
        if not (value > 0 and least <= value <= most):
            room = f"above 0, at least {least:g}" if least else "above 0"
            room += f", at most {most:g}" if math.isfinite(most) else ""
            raise DesignError(f"A {what} of {value:g} can't be compared; it must be {room}. Give other values.")


def _changed(rule: RowRule, method: str, grade_pct: float, tolerance: float) -> RowRule:
    return rule.model_copy(
        update={
            "method": method,
            "max_grade_pct": grade_pct,
            "preferred_grade_pct": min(rule.preferred_grade_pct, grade_pct),
            "spacing_tolerance": tolerance,
        }
    )


def compare_settings(
    ground: Ground,
    terrain: Terrain,
    rules: Sequence[RowRule],
    *,
    own: RowRule,
    guides: Sequence[LineString] = (),
    outlet: Any | None = None,
    progress: Progress = silent,
) -> Any:
    """Lay rows by each rule and measure them; a rule that can't be laid keeps its line, with the reason.

    Returns
    -------
    Table ROW_COMPARISON, in the order of `rules`. Rows are judged at the limits that they were laid with.
    """
    lines = []
    for number, rule in enumerate(rules, start=1):
        tell = _renamed(progress, f"setting {number} of {len(rules)}: {setting_words(rule)}")
        tell("", 0.0)
        lay = partial(lay_rows, ground, terrain, rule, guides=guides, outlet=outlet, progress=tell)
        judge = partial(q.row_quality, plantable=ground.plantable, terrain=terrain, rule=rule)
        lines.append(_line(lay, judge, rule, own))
        tell("", 1.0)
    return ROW_COMPARISON.frame({name: [line[name] for line in lines] for name in ROW_COMPARISON.columns})


def setting_words(rule: RowRule) -> str:
    """Name a setting by what is varied.

    >>> setting_words(RowRule(method="contour", max_grade_pct=3, spacing_tolerance=0.05))
    'contour, 3 % grade, 5 % spacing'
    """
    return f"{rule.method}, {rule.max_grade_pct:g} % grade, {100 * rule.spacing_tolerance:g} % spacing"


def _renamed(progress: Progress, what: str) -> Progress:
    """One bar per setting, whatever the engine calls its stages."""
    return lambda _stage, share: progress(what, share)


def _line(
    lay: Callable[[], TreeRows], judge: Callable[[TreeRows], Measures], rule: RowRule, own: RowRule
) -> dict[str, Any]:
    found = Measures(())
    problem = ""
    try:
        found = judge(lay())
    except GeoagroError as error:
        problem = str(error)
    return {
        "method": rule.method,
        "max_grade_pct": rule.max_grade_pct,
        "spacing_tolerance": rule.spacing_tolerance,
        "own": rule == own,
        **_measures(found, rule),
        "rows": int(found[q.ROWS]) if q.ROWS in found else 0,
        "problem": problem,
    }


def _measures(found: Measures, rule: RowRule) -> dict[str, float]:
    """Pick the measures of the comparison from those of a layout; NaN where one is unknown."""
    return {
        "in_limits": found.at(q.IN_LIMITS).get(rule.max_grade_pct, math.nan),
        "covered": found[q.COVERED],
        "in_tolerance": found[q.SPACING_WITHIN],
        "spacing_p05_m": found[q.SPACING_P05] * rule.spacing_m,
        "spacing_p95_m": found[q.SPACING_P95] * rule.spacing_m,
        "grade_p95_pct": found[q.GRADE_P95],
        "grade_max_pct": found[q.GRADE_MAX],
        "row_ends_per_ha": found[q.ROW_ENDS],
        "mean_row_m": found[q.MEAN_ROW_LENGTH],
    }
