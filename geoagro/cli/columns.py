"""Figures under each other on the terminal."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Iterable, Sequence

import pandas as pd

from geoagro.values.measures import Measure
from geoagro.values.words import english_number

_WIDTH = 110


def columns(lines: Iterable[tuple[str, str]]) -> str:
    """Names to the left, figures under each other to the right."""
    kept = list(lines)
    left = max((len(name) for name, _ in kept), default=0)
    right = max((len(figure.split(" ")[0]) for _, figure in kept), default=0)
    return "\n".join(
        f"  {name:<{left}}  {number:>{right}} {unit}".rstrip()
        for name, (number, _, unit) in ((name, figure.partition(" ")) for name, figure in kept)
    )


def number(value: float) -> str:
    """Whole numbers whole, others to three digits that count.

    >>> number(1234.0), number(0.98765), number(4.5012)
    ('1,234', '0.988', '4.5')
    """
    if not math.isfinite(value):
        return "unknown" if math.isnan(value) else "no limit"
    return f"{value:,.0f}" if float(value).is_integer() else f"{value:,.3g}" if abs(value) < 1000 else f"{value:,.0f}"


def grid(rows: Sequence[Sequence[str]], *, left: int = 1) -> str:
    """Cells in columns; the first `left` columns begin, the others end, under each other."""
    widths = [max(len(row[k]) for row in rows) for k in range(len(rows[0]))]
    return "\n".join(
        ("  " + "  ".join(c.ljust(w) if k < left else c.rjust(w) for k, (c, w) in enumerate(zip(row, widths, strict=True)))).rstrip()
        for row in rows
    )  # fmt: skip


def paragraph(text: str) -> str:
    """Break a text into lines, set in."""
    return textwrap.fill(text, _WIDTH, initial_indent="  ", subsequent_indent="  ")


def measures(found: Iterable[Measure]) -> str:
    """Put measures under each other; shares in percent."""
    return columns((measure.words, _figure(measure.value, measure.quantity.unit)) for measure in found)


def _figure(value: float, unit: str) -> str:
    return _percent(value) if unit == "share" else f"{number(value)} {unit}".strip()


def _percent(share: float) -> str:
    return "unknown" if math.isnan(share) else f"{100 * share:.1f} %"


def costs(table: pd.DataFrame) -> str:
    """Lines of table LIMIT_COSTS: ground, share and the setting that asks for it, before and because of rows."""
    parts = [
        ("before rows, % of the field", table[table["part_of"] == "field"]),
        ("because of rows, % of the plantable ground", table[table["part_of"] == "plantable"]),
        ("path where a bed could be, % of the plantable ground", table[table["part_of"] == "paths"]),
    ]
    lines = [
        (words, f"{english_number(area)} m²", f"{pct:.1f} %", setting)
        for _, part in parts
        for words, area, pct, setting in part[["words", "area_m2", "share_pct", "setting"]].itertuples(index=False)
    ]
    if not lines:
        return "  none"
    widths = [max(len(line[k]) for line in lines) for k in range(3)]
    texts = [
        f"    {w:<{widths[0]}}  {a:>{widths[1]}}  {p:>{widths[2]}}  {s}".rstrip() for w, a, p, s in lines
    ]  # fmt: skip
    out, start = [], 0
    for heading, part in parts:
        if len(part):
            out += [f"  {heading}", *texts[start : start + len(part)]]
        start += len(part)
    return "\n".join(out)
