"""Tree rows by the method that the design asks for, around those given by hand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

from shapely import LineString, MultiPolygon

from geoagro.errors import LayoutError
from geoagro.rows.by_hand.among import Hand, hand_rows
from geoagro.rows.by_hand.followed import guides_followed, told_guides
from geoagro.rows.by_hand.limits import broken_limits, told
from geoagro.rows.by_hand.zoned import with_zones, without_zones
from geoagro.rows.contour import contour_rows
from geoagro.rows.fall import wanted_fall
from geoagro.rows.numbering import number_rows
from geoagro.rows.parallel import parallel_rows
from geoagro.rows.quality import JUDGE_STEP_M, chord_grade, chord_rise
from geoagro.rows.sampling import sample_rows
from geoagro.rows.straight import main_bearing, straight_rows
from geoagro.rows.task import NOTHING, Around
from geoagro.values.design import RowRule
from geoagro.values.ground import Ground
from geoagro.values.progress import Progress, silent
from geoagro.values.rows import ApartGround, HandNotes, Lines, RowWindow, TreeRows
from geoagro.values.site import DrawnRows, Finding
from geoagro.values.terrain import JUDGE_SIGMA_M, Terrain, judging_scale
from geoagro.values.words import Sentence

MOSTLY_KEPT = 0.8
"""Where rows keep a wanted fall on less of their length than this, it is told (our choice)."""


def lay_rows(
    ground: Ground,
    terrain: Terrain,
    rule: RowRule,
    *,
    guides: Sequence[LineString] = (),
    outlet: Any | None = None,
    window: RowWindow | None = None,
    longest_way_m: float | None = None,
    drawn: DrawnRows | None = None,
    open_ground: Any | None = None,
    apart: Sequence[ApartGround] = (),
    progress: Progress = silent,
) -> TreeRows:
    """Lay, number and measure the tree rows; `window` is what the beds between them ask of their distance.

    Parameters
    ----------
    longest_way_m
        Longest way of water one way along a row, minded with `rule.avoid_low_points`.
    drawn
        Rows given by hand: with method drawn these and no others, else the rest of the field is filled around them.
    open_ground
        As far as rows by hand may reach: the field without ground kept free (the plantable ground, if left out).
    apart
        Zones whose rows have a spacing of their own; with method drawn nothing is laid in them either.

    Raises
    ------
    LayoutError
        Where the method needs what isn't known (heights, a guide, rows by hand) or where no row is long enough.
    """
    if rule.method == "drawn" and drawn is None:
        raise LayoutError("rows.method: drawn takes rows from a file. Give inputs.rows with a file and layer.")
    hand = None if drawn is None else hand_rows(drawn, open_ground or ground.plantable, ground.plantable, rule)
    asked = _Asked(terrain, guides, outlet, longest_way_m, progress)
    fill = ground.plantable if hand is None else hand.fill
    main = without_zones(fill, () if rule.method == "drawn" else apart)
    around = NOTHING if hand is None else hand.around
    lines = _lines(main, rule if hand is None else hand.rule_for(rule), window, asked, around)
    if hand is not None:
        hand, filled = hand.filled(lines, terrain.judged, rule)
        lines = replace(filled, findings=lines.findings)
    lines = with_zones(lines, fill, apart, rule, lambda own, zone, rule: _lines(own, rule, zone.window, asked, NOTHING))
    if not lines.kept:
        raise LayoutError(_no_row(rule))
    widest = max([rule.spacing_m, *(zone.spacing_m for zone in apart)])
    rows = number_rows(lines, heights=terrain.judged, spacing_m=widest, crs=terrain.crs)
    told_too = (*_missed_fall_told(lines, asked, rule), *_levelling_told(lines, terrain, rule))
    rows = replace(rows, spacing_m=rule.spacing_m, findings=(*lines.findings, *told_too))
    return rows if hand is None and not guides else _with_notes(rows, hand, asked, ground, rule)


def _no_row(rule: RowRule) -> str:
    """Say that no row was laid, and which keys would help with this method."""
    shortest = f"No row of {rule.min_row_length_m:g} m or more"
    if rule.method == "straight":
        turned = "" if isinstance(rule.bearing_deg, str) else ", or give another rows.bearing_deg"
        return f"{shortest} holds the limits on this ground. Lower rows.min_row_length_m or raise rows.max_grade_pct{turned}."
    remedy = (
        "rows.min_row_length_m or rows.min_turn_radius_m, or raise rows.max_grade_pct or rows.spacing_tolerance_pct."
    )
    if rule.method == "contour" and rule.turning_cost_m > rule.min_row_length_m:
        return (
            f"{shortest} holds the limits on this ground and is worth its two turns, {rule.turning_cost_m:g} m of row. "
            f"Lower rows.turning_cost_m, {remedy}"
        )
    return f"{shortest} holds the limits on this ground. Lower {remedy}"


def _missed_fall_told(lines: Lines, asked: _Asked, rule: RowRule) -> list[Finding]:
    smooth, judged = asked.terrain.smooth, asked.terrain.judged
    fall = None if smooth is None else wanted_fall(rule, smooth, asked.outlet)
    if rule.method != "contour" or fall is None or judged is None:
        return []
    samples = sample_rows(lines.kept, JUDGE_STEP_M)
    kept = fall.kept_share(samples, chord_rise(lines.kept, samples, judged))
    if not kept < MOSTLY_KEPT:
        return []
    text = Sentence(
        "rows fall as wanted, give or take half of it, on {kept:.0f} % of their length; a wider "
        "spacing_tolerance_pct leaves them more room for that",
        kept=100 * kept,
    )
    return [Finding("warning", "rows.target_grade_pct", text)]


def _levelling_told(lines: Lines, terrain: Terrain, rule: RowRule) -> list[Finding]:
    if judging_scale(rule.levelled_m) == JUDGE_SIGMA_M or terrain.heights is None:
        return []
    samples = sample_rows(lines.kept, JUDGE_STEP_M)
    steep = chord_grade(lines.kept, samples, terrain.heights) > rule.max_grade_pct / 100
    text = Sentence(
        "grades are judged as if bumps up to {length:g} m long were levelled: on the ground as surveyed {share:.1f} % of the row "
        "length is steeper than max_grade_pct. Level before rows are staked out, and have buried pipes and cables located "
        "before digging; local rules go first",
        length=rule.levelled_m,
        share=100 * float(samples.weight[steep].sum() / samples.weight.sum()),
    )
    return [Finding("warning", "rows.levelled_m", text)]


def _with_notes(rows: TreeRows, hand: Hand | None, asked: _Asked, ground: Ground, rule: RowRule) -> TreeRows:
    """Rows with their numbers by hand, and what became of all that was drawn."""
    heights = asked.terrain.judged
    rows = rows if hand is None else hand.numbered(rows, rule)
    fall = None if asked.terrain.smooth is None else wanted_fall(rule, asked.terrain.smooth, asked.outlet)
    limits = broken_limits(rows, ground.plantable, heights, rule, fall=fall)
    followed = guides_followed(rows, asked.guides, ground, heights, rule, fall=fall)
    found = (*(hand.rows.findings if hand else ()), *told_guides(followed), *told(limits))
    return replace(rows, by_hand=HandNotes(followed, limits, found))


def _bearing(rule: RowRule, drawn: Sequence[LineString]) -> float | Literal["auto"]:
    """Bearing of straight rows: as asked, else that of the lines that were drawn."""
    if not isinstance(rule.bearing_deg, str):
        return rule.bearing_deg
    return main_bearing(drawn) if drawn else "auto"


@dataclass(frozen=True, eq=False)
class _Asked:
    """What all rows of a field are laid on and for."""

    terrain: Terrain
    guides: Sequence[LineString]
    outlet: Any | None
    longest_way_m: float | None
    progress: Progress


def _lines(plantable: MultiPolygon, rule: RowRule, window: RowWindow | None, asked: _Asked, around: Around) -> Lines:
    if rule.method == "drawn" or plantable.is_empty:
        return Lines([], [])
    judged, guides = asked.terrain.judged, asked.guides
    steepest = None if judged is None else rule.max_grade_pct
    if rule.method == "straight":
        kept = [*around.kept, *guides] if rule.bearing_deg == "guide" else around.kept
        longest = max(kept, key=lambda line: line.length, default=None)
        return straight_rows(
            plantable,
            spacing_m=rule.spacing_m,
            min_length_m=rule.min_row_length_m,
            bearing_deg=_bearing(rule, kept),
            surface=judged,
            max_grade_pct=steepest,
            through=None if longest is None else longest.interpolate(0.5, normalized=True),
        )
    if rule.method == "guide":
        return parallel_rows(
            plantable,
            [*around.kept, *guides],
            spacing_m=rule.spacing_m,
            min_length_m=rule.min_row_length_m,
            min_turn_radius_m=rule.min_turn_radius_m,
            spacing_tolerance_pct=rule.spacing_tolerance_pct,
            surface=judged,
            max_grade_pct=steepest,
        )
    _, smooth = asked.terrain.need_heights("rows.method: contour")
    assert judged is not None  # built together with the smooth surface
    return contour_rows(
        plantable,
        smooth,
        judged,
        rule,
        guides=guides,
        outlet=asked.outlet,
        window=window,
        longest_way_m=asked.longest_way_m,
        around=around,
        progress=asked.progress,
    )
