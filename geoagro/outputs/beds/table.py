"""The list beside the plan: what each mark is, how it is planted, how many, and when."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from textwrap import wrap
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import Rectangle

from geoagro.outputs.beds.marks import FAINT, Mark, marks_of
from geoagro.outputs.beds.sides import WEEKS_PER_MONTH
from geoagro.outputs.drawing.letters import wrapped
from geoagro.outputs.drawing.looks import INK
from geoagro.outputs.words.say import Words
from geoagro.plants.records.sheet import BedSheet, SheetKind
from geoagro.values.rules.care import WEEKS_PER_YEAR
from geoagro.values.words import Sentence, say

_HOW_MM, _COUNT_MM, _BAR_MM = 94.0, 20.0, 62.0
_LINE_MM, _LETTERS, _TOP_MM = 3.6, 62, 8.5
_HEAD_PT, _MONTH_PT = 7.5, 7.0


def table_mm(sheet: BedSheet, words: Words) -> float:
    """Height that the table takes on paper."""
    return _TOP_MM + 2.0 + sum(_row_mm(kind, words) for kind in _listed(sheet))


def _listed(sheet: BedSheet) -> list[SheetKind]:
    """Kinds as the list has them: plants that go when a planting is thinned stand in one line with those that stay."""
    rows: dict[tuple[str, str, bool, int], list[SheetKind]] = {}
    for kind in sheet.kinds:
        rows.setdefault((kind.planting, kind.crop, kind.standing, kind.plant_week), []).append(kind)
    return [_together(kinds) for kinds in rows.values()]


def _together(kinds: Sequence[SheetKind]) -> SheetKind:
    last = max(kind.harvest_to_week for kind in kinds)
    thinned = sorted({kind.harvest_to_week for kind in kinds} - {last})
    message = say("Some of them are taken out after {years:.0f} {years:year|years}.")
    told = tuple(Sentence(message, years=week / WEEKS_PER_YEAR) for week in thinned)
    count = sum(kind.per_10_m for kind in kinds)
    return replace(kinds[0], how=(*kinds[0].how, *told), per_10_m=count, harvest_to_week=last)


def _text(kind: SheetKind, words: Words) -> list[str]:
    how = " ".join(words(sentence) for sentence in kind.how)
    notes = f" ({words(kind.notes)})" if kind.notes and not kind.standing else ""
    text = words(say("{name}: {text}"), name=words.title(words.crop(kind.name)), text=f"{how}{notes}")
    return wrap(text, _LETTERS)


def _row_mm(kind: SheetKind, words: Words) -> float:
    return max(2, len(_text(kind, words))) * _LINE_MM + 2.4


def draw_table(axes: Axes, sheet: BedSheet, months: Sequence[int], words: Words) -> None:
    """Draw the table into axes whose unit is a millimetre, the origin top left and y down."""
    axes.axis("off")
    top = _TOP_MM
    bars = 8.0 + _HOW_MM + _COUNT_MM
    scale, last = _scale(sheet)
    heads = (
        (8.0, _TOP_MM - 0.8, words(say("What and how"))),
        (
            8.0 + _HOW_MM,
            _TOP_MM - 0.8,
            "\n".join(wrapped(words(say("Planting points in 10 m of bed")), _COUNT_MM - 1, _HEAD_PT)),
        ),
        (bars, 2.8, words(say("Month (pale: growing, black: harvest)"))),
    )
    for x, foot, head in heads:
        axes.text(x, foot, head, fontsize=_HEAD_PT, color=FAINT, va="bottom", linespacing=1.0)
    listed = _listed(sheet)
    bottom = top + sum(_row_mm(k, words) for k in listed)
    _ticks(axes, (bars, bottom), scale, last, words)
    marks = marks_of(kind.crop for kind in sheet.kinds)
    for kind in listed:
        height, mark = _row_mm(kind, words), marks[kind.crop]
        _row(axes, (kind, mark), top, height, words)
        _bar(axes, (kind, mark), (bars, top + height / 2), scale, last)
        axes.plot([0, bars + _BAR_MM], [top + height - 0.6] * 2, color="#d5d5d5", lw=0.5)
        top += height
    for month in months:
        if month <= last:
            x = bars + month * scale - scale / 2
            axes.plot(x, 6.8, "v", ms=4, color=INK, clip_on=False)


def _scale(sheet: BedSheet) -> tuple[float, int]:
    """Millimetres per month, and the last month shown: at most ten years."""
    last = max(kind.harvest_to_week for kind in sheet.kinds) / WEEKS_PER_MONTH
    months = int(min(np.ceil(last), 120))
    return _BAR_MM / months, months


def _ticks(axes: Axes, place: tuple[float, float], scale: float, last: int, words: Words) -> None:
    left, bottom = place
    step = 1 if last <= 16 else 3 if last <= 36 else 12
    for month in range(0, last + 1, step):
        axes.plot([left + month * scale] * 2, [_TOP_MM, bottom], color="#e2e2e2", lw=0.4, zorder=0)
        if month:
            label = str(month) if step < 12 else words(say("{years} y"), years=month // 12)
            axes.text(
                left + (month - (0.5 if step == 1 else 0)) * scale,
                4.3,
                label,
                fontsize=_MONTH_PT,
                ha="center",
                va="center",
            )


def _row(axes: Axes, drawn: tuple[SheetKind, Mark], top: float, height: float, words: Words) -> None:
    kind, mark = drawn
    paint, size = ("white", 6.0) if kind.standing else (mark.paint, 8.0)
    look: dict[str, Any] = {"ls": "none", "ms": size * mark.larger, "mfc": paint, "mec": INK, "mew": 0.8}
    axes.plot(3.0, top + height / 2 - 0.8, marker=mark.marker, **look)
    for k, line in enumerate(_text(kind, words)):
        axes.text(8.0, top + 1.6 + k * _LINE_MM, line, fontsize=7.8, va="center", color=INK)
    axes.text(
        8.0 + _HOW_MM + 5, top + height / 2 - 0.8, words.number(kind.per_10_m), fontsize=9, va="center", ha="center"
    )


def _bar(axes: Axes, drawn: tuple[SheetKind, Mark], at: tuple[float, float], scale: float, last: int) -> None:
    (kind, mark), (left, y) = drawn, at
    start, ripe, end = (
        min(week / WEEKS_PER_MONTH, last) * scale
        for week in (kind.plant_week, kind.harvest_from_week, kind.harvest_to_week)
    )
    axes.add_patch(Rectangle((left + start, y - 2.2), ripe - start, 2.8, fc=mark.paint, ec=INK, lw=0.5, alpha=0.55))
    axes.add_patch(Rectangle((left + ripe, y - 2.2), end - ripe, 2.8, fc=INK, ec=INK, lw=0.5))
