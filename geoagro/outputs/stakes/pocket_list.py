"""A list per row to carry in a pocket: four cards on a page, to be cut apart, in walking order.

A long row goes on over several cards; short ones share a card.
"""

from __future__ import annotations

import json
import shutil
import tempfile
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any

import matplotlib as mpl
import numpy as np
import typst

from geoagro.errors import OutputError
from geoagro.outputs.drawing.typefaces import FONTS
from geoagro.outputs.stakes.cautions import CAUTIONS
from geoagro.stakeout.records.stakes import StakeOut
from geoagro.values.stakeout import STAKE_KINDS, TAPE, Paper, name_in_row

TEMPLATE = Path(__file__).with_name("pocket_list.typ")
# name of the paper, lines that fit a quarter of it
_PAPERS: dict[Paper, tuple[str, int]] = {"a4": ("a4", 18), "letter": ("us-letter", 16)}
_HEADING_LINES = 3.8
_HEADS = ("stake", "tape, m", "rise, cm", "to row above, m", "to row below, m")
_FOOT = "tape, rise: from the stake above in the list; to row: level tape at right angles. Mind: "


def write_pocket_list(path: Path, stakes: StakeOut, *, title: str, paper: Paper) -> int:
    """Write the cards as a PDF; return their number.

    Raises OutputError where the pages can't be set.
    """
    name, most = _PAPERS[paper]
    cards = list(_cards(stakes, most))
    document = {
        "title": f"Pocket list: {title}",
        "name": title,
        "paper": name,
        "heads": _HEADS,
        "foot": _FOOT + ", ".join(caution.lower() for caution, _ in CAUTIONS) + ".",
        "cards": cards,
    }
    with tempfile.TemporaryDirectory(dir=path.parent) as folder:
        work = Path(folder)
        shutil.copy(TEMPLATE, work / TEMPLATE.name)
        (work / "cards.json").write_text(json.dumps(document, ensure_ascii=False), encoding="utf-8")
        _typeset(work / TEMPLATE.name, path)
    return len(cards)


def _typeset(template: Path, path: Path) -> None:
    fallback = Path(mpl.get_data_path()) / "fonts" / "ttf"
    try:
        typst.compile(
            str(template),
            output=str(path),
            root=str(template.parent),
            font_paths=[str(FONTS), str(fallback)],
            ignore_system_fonts=True,
        )
    except typst.TypstError as error:
        raise OutputError(f"{path.name}: the pages can't be set ({error}).") from error


def _cards(stakes: StakeOut, most: int) -> Iterator[dict[str, Any]]:
    """Fill cards with sections in walking order; a heading takes the room of three lines and a half."""
    card: list[dict[str, Any]] = []
    used = 0.0
    for section in _sections(stakes, most):
        need = len(section["lines"]) + (_HEADING_LINES if card else 0.0)
        if card and used + need > most:
            yield {"sections": card}
            card, used, need = [], 0.0, float(len(section["lines"]))
        card.append(section)
        used += need
    yield {"sections": card}


def _sections(stakes: StakeOut, most: int) -> Iterator[dict[str, Any]]:
    tapes = {
        str(side): dict(zip(table["mark"], table["level_m"], strict=True))
        for side, table in stakes.tape_offsets.groupby("side")
    }
    rise = dict(zip(stakes.levels["to_mark"], stakes.levels["rise_m"], strict=True))
    rows = sorted((mine for _, mine in stakes.marks.groupby("row")), key=lambda mine: mine["walk"].min())
    for place, mine in enumerate(rows, start=1):
        first = mine.iloc[0]
        backwards = bool(first["walk"] > mine["walk"].iloc[-1])
        lines = _lines(list(mine.itertuples()), rise, tapes, backwards=backwards)
        count = -(-len(lines) // most)
        for k in range(count):
            more = f", card {k + 1} of {count}" if count > 1 else ""
            yield {
                "row": f"Row {first['label']}",
                "place": f"part {first['part']}, row {place} of the walk{more}",
                "way": "from its end to its start" if backwards else "from its start to its end",
                "lines": lines[k * most : (k + 1) * most],
            }


def _lines(
    marks: list[Any], rise: dict[str, float], tapes: dict[str, dict[str, float]], *, backwards: bool
) -> list[tuple[str, ...]]:
    """Write the stakes in walking order, tape and rise always from the one before.

    Both are kept with the stake farther along the row, so that walked from its end a row has them one line later, and
    what rose there falls here.
    """
    if not backwards:
        return [_line(mark, mark.tape_m, rise.get(mark.mark, np.nan), tapes) for mark in marks]
    turned = marks[::-1]
    first = _line(turned[0], np.nan, np.nan, tapes)
    more = [_line(mark, old.tape_m, -rise.get(old.mark, np.nan), tapes) for old, mark in pairwise(turned)]
    return [first, *more]


def _line(mark: Any, tape_m: float, rise_m: float, tapes: dict[str, dict[str, float]]) -> tuple[str, ...]:
    up, down = (tapes.get(side, {}).get(mark.mark, np.nan) for side in ("up", "down"))
    return (
        name_in_row(mark.mark, mark.label),
        _fixed(tape_m, 2),
        _fixed(100 * rise_m, 0, sign=True),
        _fixed(up, 2),
        _fixed(down, 2),
        _note(mark),
    )


def _fixed(value: float, decimals: int, *, sign: bool = False) -> str:
    if not np.isfinite(value):
        return "\u2013"
    rounded = round(float(value), decimals) + 0.0
    return f"{rounded:{'+' if sign and rounded else ''}.{decimals}f}"


def _note(mark: Any) -> str:
    """Say in a few letters what is here: the end of the row, or which bed begins or ends."""
    if mark.kind == "bed_end" and mark.note:
        return str(mark.note.split("; ")[0].split("-")[-1])
    return "" if mark.kind == TAPE else STAKE_KINDS[mark.kind].brief
