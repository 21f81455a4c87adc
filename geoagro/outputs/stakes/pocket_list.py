"""A list per row to carry in a pocket: four cards on a page, to be cut apart, in walking order.

A long row goes on over several cards; short ones share a card.
"""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np

from geoagro.outputs.drawing.setting import set_pages
from geoagro.outputs.stakes.cautions import CAUTIONS
from geoagro.outputs.stakes.mark_words import note_words
from geoagro.outputs.words.say import NOTHING, Words
from geoagro.stakeout.records.stakes import StakeOut
from geoagro.values.stakeout import STAKE_KINDS, TAPE, Paper, name_in_row
from geoagro.values.words import say

TEMPLATE = Path(__file__).with_name("pocket_list.typ")
# name of the paper, lines that fit a quarter of it
_PAPERS: dict[Paper, tuple[str, int]] = {"a4": ("a4", 18), "letter": ("us-letter", 16)}
_HEADING_LINES = 3.8
_HEADS = (say("stake"), say("tape, m"), say("rise, cm"), say("to row above, m"), say("to row below, m"))
_FOOT = say("tape, rise: from the stake above in the list; to row: level tape at right angles. Mind: {cautions}.")


def write_pocket_list(path: Path, stakes: StakeOut, words: Words, *, title: str, paper: Paper) -> int:
    """Write the cards as a PDF; return their number.

    Raises OutputError where the pages can't be set.
    """
    name, most = _PAPERS[paper]
    cards = list(_cards(stakes, words, most))
    mind = ", ".join(words(caution).lower() for caution, _ in CAUTIONS)
    document = {
        "title": words(say("Pocket list: {field}"), field=title),
        "name": title,
        "paper": name,
        "language": words.locale.language,
        "heads": [words(head) for head in _HEADS],
        "foot": words(_FOOT, cautions=mind),
        "cards": cards,
    }
    with tempfile.TemporaryDirectory(dir=path.parent) as folder:
        set_pages(TEMPLATE, document, "cards.json", Path(folder), path)
    return len(cards)


def _cards(stakes: StakeOut, words: Words, most: int) -> Iterator[dict[str, Any]]:
    """Fill cards with sections in walking order; a heading takes the room of three lines and a half."""
    card: list[dict[str, Any]] = []
    used = 0.0
    for section in _sections(stakes, words, most):
        need = len(section["lines"]) + (_HEADING_LINES if card else 0.0)
        if card and used + need > most:
            yield {"sections": card}
            card, used, need = [], 0.0, float(len(section["lines"]))
        card.append(section)
        used += need
    yield {"sections": card}


def _sections(stakes: StakeOut, words: Words, most: int) -> Iterator[dict[str, Any]]:
    tapes = {
        str(side): dict(zip(table["stake"], table["level_m"], strict=True))
        for side, table in stakes.tape_offsets.groupby("side")
    }
    rise = dict(zip(stakes.levels["to_stake"], stakes.levels["rise_m"], strict=True))
    rows = sorted((mine for _, mine in stakes.marks.groupby("row")), key=lambda mine: mine["walk"].min())
    for place, mine in enumerate(rows, start=1):
        first = mine.iloc[0]
        backwards = bool(first["walk"] > mine["walk"].iloc[-1])
        lines = _lines(list(mine.itertuples()), rise, tapes, words, backwards=backwards)
        count = -(-len(lines) // most)
        for k in range(count):
            message = (
                say("part {part}, row {place} of the walk, card {card} of {cards}")
                if count > 1
                else say("part {part}, row {place} of the walk")
            )
            yield {
                "row": words(say("Row {row}"), row=first["label"]),
                "place": words(message, part=first["day_trip"], place=place, card=k + 1, cards=count),
                "way": words(say("from its end to its start") if backwards else say("from its start to its end")),
                "lines": lines[k * most : (k + 1) * most],
            }


def _lines(
    marks: list[Any], rise: dict[str, float], tapes: dict[str, dict[str, float]], words: Words, *, backwards: bool
) -> list[tuple[str, ...]]:
    """Write the stakes in walking order, tape and rise always from the one before.

    Both are kept with the stake farther along the row, so that walked from its end a row has them one line later, and
    what rose there falls here.
    """
    if not backwards:
        return [_line(mark, mark.tape_m, rise.get(mark.stake, np.nan), tapes, words) for mark in marks]
    turned = marks[::-1]
    first = _line(turned[0], np.nan, np.nan, tapes, words)
    more = [_line(mark, old.tape_m, -rise.get(old.stake, np.nan), tapes, words) for old, mark in pairwise(turned)]
    return [first, *more]


def _line(mark: Any, tape_m: float, rise_m: float, tapes: dict[str, dict[str, float]], words: Words) -> tuple[str, ...]:
    up, down = (tapes.get(side, {}).get(mark.stake, np.nan) for side in ("up", "down"))
    return (
        name_in_row(mark.stake, mark.label),
        _fixed(tape_m, 2, words),
        _fixed(100 * rise_m, 0, words, sign=True),
        _fixed(up, 2, words),
        _fixed(down, 2, words),
        _note(mark, words),
    )


def _fixed(value: float, decimals: int, words: Words, *, sign: bool = False) -> str:
    if not np.isfinite(value):
        return NOTHING
    rounded = round(float(value), decimals) + 0.0
    return ("+" if sign and rounded > 0 else "") + words.number(rounded, decimals)


def _note(mark: Any, words: Words) -> str:
    """Say in a few letters what is here: the end of the row, or which bed begins or ends."""
    if mark.kind == "bed_end" and mark.note:
        return note_words(mark.note.split("; ")[0].split("-")[-1], words)
    return "" if mark.kind == TAPE else words(STAKE_KINDS[mark.kind].brief)
