"""Tree rows by the method that the design asks for, around those given by hand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any, Literal

from shapely import LineString

from geoagro.errors import LayoutError
from geoagro.rows.by_hand.among import hand_rows
from geoagro.rows.by_hand.followed import guides_followed, told_guides
from geoagro.rows.by_hand.limits import broken_limits, told
from geoagro.rows.contour import contour_rows
from geoagro.rows.numbering import number_rows
from geoagro.rows.parallel import parallel_rows
from geoagro.rows.straight import main_bearing, straight_rows
from geoagro.rows.task import NOTHING, Around
from geoagro.values.design import RowRule
from geoagro.values.ground import Ground
from geoagro.values.progress import Progress, silent
from geoagro.values.rows import HandNotes, Lines, RowWindow, TreeRows
from geoagro.values.site import DrawnRows
from geoagro.values.terrain import Terrain


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

    Raises
    ------
    LayoutError
        Where the method needs what isn't known (heights, a guide, rows by hand) or where no row is long enough.
    """
    hand = None if drawn is None else hand_rows(drawn, open_ground or ground.plantable, ground.plantable, rule)
    if rule.method == "drawn":
        if hand is None:
            raise LayoutError("rows.method: drawn takes rows from a file. Give inputs.rows with a file and layer.")
        lines = Lines([], [])
    else:
        fill = ground if hand is None else replace(ground, plantable=hand.fill)
        lines = _lines(
            fill,
            terrain,
            rule if hand is None else hand.rule_for(rule),
            guides=guides,
            outlet=outlet,
            window=window,
            longest_way_m=longest_way_m,
            around=NOTHING if hand is None else hand.around,
            progress=progress,
        )
    told_lines = lines.findings
    if hand is not None:
        hand, lines = hand.filled(lines, terrain.judged, rule)
    if not lines.kept:
        raise LayoutError(
            f"No row of {rule.min_row_length_m:g} m or more holds the limits on this ground. Lower "
            "rows.min_row_length_m or rows.min_turn_radius_m, or raise rows.max_grade_pct or rows.spacing_tolerance."
        )
    rows = number_rows(lines, heights=terrain.judged, spacing_m=rule.spacing_m, crs=terrain.crs)
    rows = replace(rows, findings=told_lines)
    if hand is None and not guides:
        return rows
    rows = rows if hand is None else hand.numbered(rows, rule)
    limits = broken_limits(rows, ground.plantable, terrain.judged, rule)
    followed = guides_followed(rows, guides, ground, terrain.judged, rule)
    found = (*(hand.rows.findings if hand else ()), *told_guides(followed), *told(limits))
    return replace(rows, by_hand=HandNotes(followed, limits, found))


def _bearing(rule: RowRule, drawn: Sequence[LineString]) -> float | Literal["auto"]:
    """Bearing of straight rows: as asked, else that of the lines that were drawn."""
    if not isinstance(rule.bearing_deg, str):
        return rule.bearing_deg
    return main_bearing(drawn) if drawn else "auto"


def _lines(
    ground: Ground,
    terrain: Terrain,
    rule: RowRule,
    *,
    guides: Sequence[LineString],
    outlet: Any | None,
    window: RowWindow | None,
    longest_way_m: float | None,
    around: Around,
    progress: Progress,
) -> Lines:
    steepest = None if terrain.judged is None else rule.max_grade_pct
    if rule.method == "straight":
        kept = [*around.kept, *guides] if rule.bearing_deg == "guide" else around.kept
        longest = max(kept, key=lambda line: line.length, default=None)
        return straight_rows(
            ground.plantable,
            spacing_m=rule.spacing_m,
            min_length_m=rule.min_row_length_m,
            bearing_deg=_bearing(rule, kept),
            surface=terrain.judged,
            max_grade_pct=steepest,
            through=None if longest is None else longest.interpolate(0.5, normalized=True),
        )
    if rule.method == "guide":
        return parallel_rows(
            ground.plantable,
            [*around.kept, *guides],
            spacing_m=rule.spacing_m,
            min_length_m=rule.min_row_length_m,
            min_turn_radius_m=rule.min_turn_radius_m,
            spacing_tolerance=rule.spacing_tolerance,
            surface=terrain.judged,
            max_grade_pct=steepest,
        )
    _, smooth = terrain.need_heights("rows.method: contour")
    assert terrain.judged is not None  # built together with the smooth surface
    return contour_rows(
        ground.plantable,
        smooth,
        terrain.judged,
        rule,
        guides=guides,
        outlet=outlet,
        window=window,
        longest_way_m=longest_way_m,
        around=around,
        progress=progress,
    )
