"""A list per row to carry in a pocket: four cards on a page, to be cut apart, in walking order."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from geoagro.outputs.cautions import CAUTIONS
from geoagro.outputs.paper import GREY, PALE, Page, pdf_pages
from geoagro.outputs.sheet_plan import PAPERS_MM
from geoagro.values.stakeout import Paper, StakeOut

_EDGE_MM = 7.0
_LINE_MM = 5.0
_HEAD_MM = 24.0
# heading, right edge of the column in millimetres, what it holds
_COLUMNS = (
    ("stake", 15.0),
    ("tape m", 29.0),
    ("rise cm", 43.0),
    ("up m", 55.0),
    ("down m", 68.0),
)
_NOTE_MM = 71.0
_KINDS = {
    "row_end": "end",
    "exclusion_edge": "end, kept free",
    "gap": "gap",
    "bed_end": "bed end",
    "bend": "bend",
    "tape": "",
}


Line = tuple[tuple[str, ...], str]  # values of the columns, note


@dataclass(frozen=True)
class Card:
    """Lines of one row, as many as fit a card; row `place` of the walk."""

    label: str
    part: int
    place: int
    backwards: bool
    more: str
    lines: list[Line]


def write_pocket_list(path: Path, stakes: StakeOut, *, title: str, paper: Paper) -> int:
    """Write the cards as a PDF; return their number."""
    height, width = PAPERS_MM[paper]
    cards = list(_cards(stakes, int((height / 2 - 2 * _EDGE_MM - _HEAD_MM) / _LINE_MM)))
    with pdf_pages(path, f"Pocket list: {title}") as add:
        for first in range(0, len(cards), 4):
            page = Page(width, height)
            page.line([width / 2] * 2, [0, height], width_pt=0.4, color=GREY, dashes=(4, 4))
            page.line([0, width], [height / 2] * 2, width_pt=0.4, color=GREY, dashes=(4, 4))
            for k, card in enumerate(cards[first : first + 4]):
                corner = (k % 2) * width / 2 + _EDGE_MM, height - (k // 2) * height / 2 - _EDGE_MM
                _draw_card(page, card, title, corner)
            add(page)
    return len(cards)


def _cards(stakes: StakeOut, most: int) -> Iterator[Card]:
    tapes = {
        side: dict(zip(table["mark"], table["level_m"], strict=True))
        for side, table in stakes.tape_offsets.groupby("side")
    }
    rise = dict(zip(stakes.levels["to_mark"], stakes.levels["rise_m"], strict=True))
    rows = sorted((mine for _, mine in stakes.marks.groupby("row")), key=lambda mine: mine["walk"].min())
    for place, mine in enumerate(rows, start=1):
        lines = [(_values(mark, rise, tapes), _note(mark)) for mark in mine.itertuples()]
        count = -(-len(lines) // most)
        first = mine.iloc[0]
        backwards = bool(first["walk"] > mine["walk"].iloc[-1])
        for k in range(count):
            more = f", card {k + 1} of {count}" if count > 1 else ""
            some = lines[k * most : (k + 1) * most]
            yield Card(str(first["label"]), int(first["part"]), place, backwards, more, some)


def _draw_card(page: Page, card: Card, title: str, corner: tuple[float, float]) -> None:
    left, top = corner
    width = page.width / 2 - 2 * _EDGE_MM
    page.write(left, top, f"Row {card.label}", size_pt=15, fontweight="bold")
    page.write(left + width, top, f"part {card.part}, row {card.place} of the walk{card.more}", size_pt=7.5, ha="right")
    way = "walk it from its end: list from below" if card.backwards else "walk it from its start"
    page.write(left + width, top - 4, way, size_pt=7.5, ha="right")
    page.write(left, top - 7.5, title[:60], size_pt=6.5, color=GREY)
    _draw_lines(page, card, left, top - 12.5)
    bottom = top - page.height / 2 + 2 * _EDGE_MM
    page.line([left, left + width], [bottom + 4.2] * 2, width_pt=0.4, color=PALE)
    words = "tape, rise: from the stake above; up, down: level tape at right angles to the next row"
    page.write(left, bottom + 3.4, words, size_pt=5.6)
    page.write(left, bottom + 0.8, "Mind: " + ", ".join(name.lower() for name, _ in CAUTIONS) + ".", size_pt=5.6)


def _draw_lines(page: Page, card: Card, left: float, head: float) -> None:
    """Draw the table, every second line shaded, with a box to tick at the end of each."""
    width = page.width / 2 - 2 * _EDGE_MM
    for name, right in _COLUMNS:
        page.write(left + right, head, name, size_pt=7, ha="right", fontweight="bold")
    page.line([left, left + width], [head - 4, head - 4], width_pt=0.8)
    for k, (values, note) in enumerate(card.lines):
        y = head - 5.4 - k * _LINE_MM
        if k % 2 == 1:
            page.box(left, y - _LINE_MM + 1.2, width, _LINE_MM, fc="#efefef", lw=0)
        for (_, right), text in zip(_COLUMNS, values, strict=True):
            weight = "bold" if right == _COLUMNS[0][1] else "normal"
            page.write(left + right, y, text, size_pt=8.2, ha="right", fontweight=weight)
        page.write(left + _NOTE_MM, y - 0.2, note, size_pt=6.2)
        page.box(left + width - 3.4, y - 2.9, 3.0, 3.0, lw=0.5)


def _values(mark: Any, rise: dict[str, float], tapes: dict[str, dict[str, float]]) -> tuple[str, ...]:
    up, down = (tapes.get(side, {}).get(mark.mark, np.nan) for side in ("up", "down"))
    return (
        mark.mark.split("-", 1)[1],
        _fixed(mark.tape_m, 2),
        _fixed(100 * rise.get(mark.mark, np.nan), 0, sign=True),
        _fixed(up, 2),
        _fixed(down, 2),
    )


def _fixed(value: float, decimals: int, *, sign: bool = False) -> str:
    if not np.isfinite(value):
        return "\u2013"
    rounded = round(float(value), decimals) + 0.0
    return f"{rounded:{'+' if sign and rounded else ''}.{decimals}f}"


def _note(mark: Any) -> str:
    beds = [part.split("-")[-1] for part in (mark.note or "").split("; ") if "-" in part and mark.kind != "gap"]
    return " ".join(filter(None, [_KINDS[mark.kind], ", ".join(beds[:1])]))
