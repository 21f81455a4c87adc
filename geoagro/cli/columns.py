"""Figures under each other on the terminal."""

from __future__ import annotations

import math
import re
import textwrap
from collections.abc import Iterable, Sequence

import pandas as pd

from geoagro.outputs.tables.column_words import unit_words
from geoagro.outputs.words.say import ENGLISH, Words
from geoagro.values.measures import Measure
from geoagro.values.words import say

_WIDTH = 110
_PERCENT = say("{share:.1f} %")
_UNIT = re.compile(r" |\u00a0(?=%)")
"""Where the unit begins; other no-break spaces are marks of thousands."""
_NUMBER_AND_UNIT, _HELD = re.compile(r"(?<=\d) (?=(?:m|m²|m³|ha|km|cm|kg|h|%)(?:\W|$))"), "\x00"
"""The blank between both, and what holds its place while lines are broken."""


def columns(lines: Iterable[tuple[str, str]]) -> str:
    """Names to the left, figures under each other to the right."""
    kept = [(name, *_UNIT.split(figure, maxsplit=1), "")[:3] for name, figure in lines]
    left = max((len(name) for name, _, _ in kept), default=0)
    right = max((len(number) for _, number, _ in kept), default=0)
    return "\n".join(f"  {name:<{left}}  {number:>{right}} {unit}".rstrip() for name, number, unit in kept)


def number(value: float, words: Words = ENGLISH) -> str:
    """Whole numbers whole, others to three digits that count.

    >>> number(1234.0), number(0.98765), number(4.5012)
    ('1,234', '0.988', '4.5')
    """
    if math.isnan(value):
        return words(say("unknown"))
    text = f"{value:.3g}"
    if float(value).is_integer() or abs(value) >= 1000 or "e" in text:
        return words.number(value)
    return words.number(float(text), len(text.partition(".")[2]))


def grid(rows: Sequence[Sequence[str]], *, left: int = 1) -> str:
    """Cells in columns; the first `left` columns begin, the others end, under each other."""
    widths = [max(len(row[k]) for row in rows) for k in range(len(rows[0]))]
    return "\n".join(
        ("  " + "  ".join(c.ljust(w) if k < left else c.rjust(w) for k, (c, w) in enumerate(zip(row, widths, strict=True)))).rstrip()
        for row in rows
    )  # fmt: skip


def paragraph(text: str, *, deeper: int = 0) -> str:
    """Break a text into lines, set in, by some letters more if asked."""
    room = " " * (2 + deeper)
    return "\n".join(broken(text, _WIDTH, first=room, more=room))


def broken(text: str, width: int, *, first: str = "", more: str = "") -> list[str]:
    """Break a text at blanks into lines of so many letters; numbers stay with their units, words with hyphens whole.

    >>> broken("a path of 100 m², mean", 14)
    ['a path of', '100 m², mean']
    """
    held = _NUMBER_AND_UNIT.sub(_HELD, text)
    lines = textwrap.wrap(held, width, initial_indent=first, subsequent_indent=more, break_on_hyphens=False)
    return [line.replace(_HELD, " ") for line in lines]


def measures(found: Iterable[Measure], words: Words = ENGLISH) -> str:
    """Put measures under each other; shares in percent."""
    return columns((words(measure.words), figure(measure, words)) for measure in found)


def figure(measure: Measure, words: Words = ENGLISH) -> str:
    """Write a measure with its unit; one without a value, or without an end, in a word."""
    value, unit = measure.value, measure.quantity.unit
    if math.isnan(value):
        return words(say("unknown"))
    if math.isinf(value):
        return words(measure.quantity.endless)
    if unit == "share":
        return words(_PERCENT, share=100 * value)
    return f"{number(value, words)} {unit_words(unit, words)}".strip()


def costs(table: pd.DataFrame, words: Words = ENGLISH) -> str:
    """Lines of table LIMIT_COSTS: ground, share and the setting that asks for it, before and because of rows."""
    parts = [
        (say("before rows, % of the field"), table[table["part_of"] == "field"]),
        (say("because of rows, % of the plantable ground"), table[table["part_of"] == "plantable"]),
        (say("path where a bed could be, % of the plantable ground"), table[table["part_of"] == "paths"]),
    ]
    lines = [
        (words.again(reason), words("{area:.0f} m²", area=area), words(_PERCENT, share=share), setting)
        for _, part in parts
        for reason, area, share, setting in part[["words", "area_m2", "share_pct", "setting"]].itertuples(index=False)
    ]
    if not lines:
        return "  " + words(say("none"))
    widths = [max(len(line[k]) for line in lines) for k in range(3)]
    texts = [
        f"    {w:<{widths[0]}}  {a:>{widths[1]}}  {p:>{widths[2]}}  {s}".rstrip() for w, a, p, s in lines
    ]  # fmt: skip
    out, start = [], 0
    for heading, part in parts:
        if len(part):
            out += [f"  {words(heading)}", *texts[start : start + len(part)]]
        start += len(part)
    return "\n".join(out)
