"""Rows given by hand among the others: where the rest may be filled, what joins, whose number is whose."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import shapely
from shapely import LineString, MultiPolygon

from geoagro.errors import LayoutError
from geoagro.rows.by_hand.kept import Joint, away_from, joined, near_to
from geoagro.rows.by_hand.taking_in import Earlier, HandRows, take_in, with_numbers, words_for
from geoagro.rows.task import Around
from geoagro.values.design import RowRule
from geoagro.values.grid import Grid
from geoagro.values.rows import Lines, TreeRows
from geoagro.values.site import DrawnRows, Finding
from geoagro.values.words import Sentence

MARGIN = 1.001
"""New rows keep this much more than the least distance from rows by hand, so that the limit holds after rounding."""


@dataclass(frozen=True, eq=False)
class Hand:
    """Rows by hand, and where other rows may be laid.

    Attributes
    ----------
    rows
        Taken in: trimmed, parted, with their numbers.
    fill
        Ground for other rows; none with method drawn.
    edge
        Outline of the ground that is laid anew; None where that isn't asked for.
    """

    rows: HandRows
    fill: MultiPolygon
    edge: Any | None

    @property
    def lines(self) -> tuple[LineString, ...]:
        """Lines of the rows by hand."""
        return self.rows.lines

    @property
    def around(self) -> Around:
        """What other rows are laid around."""
        return Around(self.lines, tuple(row.line for row in self.rows.replaced), self.edge)

    def rule_for(self, rule: RowRule) -> RowRule:
        """Rule for the rows laid around: where rows were parted, a short piece may be what joins two of them."""
        if self.edge is None:
            return rule
        return rule.model_copy(update={"min_row_length_m": min(rule.spacing_m, rule.min_row_length_m)})

    def filled(self, laid: Lines, heights: Grid | None, rule: RowRule) -> tuple[Hand, Lines]:
        """Put the rows by hand among the others, which keep off them, and join where rows had been parted."""
        nearest = (1 - rule.spacing_tolerance) * rule.spacing_m * MARGIN
        free = away_from(laid.kept, self.lines, nearest)
        close = near_to(laid.kept, self.lines, nearest)
        crowded = [("spacing_limit", line) for line in away_from(close, self.lines, rule.spacing_m / 2)]
        cut = [*laid.cut, *crowded]
        if self.edge is None:
            lines, holds = [*self.lines, *free], [[k] for k in range(len(self.lines))] + [[]] * len(free)
            return self, _long_enough(lines, holds, cut, rule.min_row_length_m)
        joint = Joint(rule.spacing_m, rule.max_grade_pct / 100, rule.min_turn_radius_m, heights)
        lines, holds = joined(self.lines, free, self.edge, joint)
        return self._joined(lines, holds), _long_enough(lines, holds, cut, rule.min_row_length_m)

    def _joined(self, lines: list[LineString], holds: list[list[int]]) -> Hand:
        rows: list[Earlier] = []
        findings = list(self.rows.findings)
        for line, members in zip(lines, holds, strict=True):
            if not members:
                continue
            owners = sorted((self.rows.rows[k] for k in members), key=lambda row: -row.line.length)
            named = next((row for row in owners if row.number), owners[0])
            rows.append(replace(named, line=line))
            for gone in owners:
                if gone.number and gone is not named:
                    text = Sentence("is one row with {named} now, which keeps its number", named=words_for(named))
                    findings.append(Finding("note", Sentence("rows.only_where, {gone}", gone=words_for(gone)), text))
        return replace(self, rows=replace(self.rows, rows=tuple(rows), findings=tuple(findings)))

    def numbered(self, rows: TreeRows, rule: RowRule) -> TreeRows:
        """Give rows their numbers and names back."""
        reuse = rule.method != "drawn" and self.edge is None
        return with_numbers(rows, self.rows, reuse=reuse)


def _long_enough(
    lines: list[LineString], holds: list[list[int]], cut: list[tuple[str, LineString]], shortest_m: float
) -> Lines:
    """Rows without the short ones, except those that hold a row by hand."""
    long = [bool(members) or line.length >= shortest_m for line, members in zip(lines, holds, strict=True)]
    short = [("short_row", line) for line, keep in zip(lines, long, strict=True) if not keep]
    return Lines([line for line, keep in zip(lines, long, strict=True) if keep], [*cut, *short])


def hand_rows(drawn: DrawnRows, open_ground: Any, plantable: MultiPolygon, rule: RowRule) -> Hand:
    """Take rows by hand in.

    Raises LayoutError where none lies in the field, or where nothing plantable is left to lay anew.
    """
    rows = take_in(drawn, open_ground, rule.spacing_m)
    if rule.method == "drawn":
        return Hand(rows, MultiPolygon(), None)
    if drawn.only_where is None:
        return Hand(rows, plantable, None)
    parts = shapely.get_parts(shapely.intersection(plantable, drawn.only_where))
    fill = MultiPolygon([part for part in parts if part.geom_type == "Polygon"])
    if fill.is_empty:
        raise LayoutError("rows.only_where: there is no plantable ground inside its polygons. Draw them elsewhere.")
    return Hand(rows, fill, shapely.boundary(drawn.only_where))
