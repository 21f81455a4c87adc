"""Light on beds by month, and what company leaves of each crop's yield, as a chart."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from geoagro.light.records.bed_light import BedLight
from geoagro.outputs.drawing.looks import INK
from geoagro.outputs.drawing.sheet import save_drawn
from geoagro.outputs.drawing.typefaces import lettered
from geoagro.outputs.words.say import ENGLISH, Words
from geoagro.values.words import say
from geoagro.yields.records.tables import RecipeYields

_DPI = 160
_FAINT = "#6b7075"
_YEARS = (1, 3, 5, 8, 20)
_TOGETHER_PCT, _APART_PCT = 0.8, 6.0
_DASHES: tuple[Any, ...] = ("-", (0, (6, 2)), (0, (2, 1.5)), (0, (6, 2, 1.5, 2)), (0, (1, 1.5)))


def write_light_chart(light: BedLight, yields: RecipeYields, name: str, path: Path, words: Words = ENGLISH) -> None:
    """Draw both and save them as PNG."""
    with lettered():
        save_drawn(draw_light(light, yields, name, words), path, dpi=_DPI)


def draw_light(light: BedLight, yields: RecipeYields, name: str, words: Words = ENGLISH) -> Figure:
    """Draw the light on beds by month and year of age, and the yield of a place by crop and round."""
    rows = _told(yields.yields, yields.land)
    figure = Figure(figsize=(9.2, 4.2 + 0.3 * max(len(rows), 4)), layout="constrained")
    above, below = figure.subplots(2, 1, height_ratios=(3.2, 0.3 * max(len(rows), 4)))
    title = words(say("{name}: light on the beds and yields in company"), name=name)
    figure.suptitle(title, fontsize=12, x=0.01, ha="left", color=INK)
    _months(above, light, words)
    _yields(below, rows, words)
    return figure


def _months(axes: Axes, light: BedLight, words: Words) -> None:
    axes.set_title(
        words(say("Light that trees leave on vegetable beds; band: eight of ten beds")),
        fontsize=9,
        loc="left",
        color=INK,
    )
    ends: list[tuple[float, int]] = []
    for year, dash in zip(_YEARS, _DASHES, strict=True):
        part = light.months[light.months["year"] == year]
        part = part.assign(place=(part["month"] - light.first_month) % 12 + 1).sort_values("place")
        axes.fill_between(part["place"], part["low_pct"], part["high_pct"], color="#ffb86b", alpha=0.22, lw=0)
        axes.plot(part["place"], part["mean_pct"], color=INK, lw=1.6, ls=dash)
        ends += [(float(part["mean_pct"].iloc[-1]), year)] if len(part) else []
    _name_lines(axes, ends, words)
    axes.set(ylim=(0, 104), xlim=(1, 13.4))
    axes.set_ylabel(words(say("% of open light")), fontsize=8)
    axes.set_xticks(
        range(1, 13), [words.month_name(date(2001, (light.first_month - 1 + k) % 12 + 1, 1)) for k in range(12)]
    )
    _dress(axes)


def _name_lines(axes: Axes, ends: list[tuple[float, int]], words: Words) -> None:
    """Write the year beside the end of each line, lines that end together as one, names far enough apart to be read."""
    names: list[tuple[float, list[int]]] = []
    for value, year in sorted(ends, key=lambda end: (-end[0], end[1])):
        if names and names[-1][0] - value < _TOGETHER_PCT:
            names[-1][1].append(year)
        else:
            names.append((value, [year]))
    last = np.inf
    for value, years in names:
        last = min(value, last - _APART_PCT)
        axes.plot([12.03, 12.3], [value, last], color=_FAINT, lw=0.6)
        message = say("years {years}") if len(years) > 1 else say("year {years}")
        text = words(message, years=", ".join(map(str, sorted(years))))
        axes.text(12.33, last, text, fontsize=8, va="center", color=INK)


def _told(table: pd.DataFrame, land: pd.DataFrame) -> Any:
    """Choose rounds of crops harvested once; of perennials the first, third and last of the years in which they bear."""
    bears = pd.MultiIndex.from_frame(table[["year", "crop"]]).isin(pd.MultiIndex.from_frame(land[["year", "crop"]]))
    table = table[(table["year"] == 0) | bears]
    year = table.groupby(["planting", "crop"])["year"]
    kept = (table["year"] == 0) | year.rank("dense").isin([1, 3]) | (table["year"] == year.transform("max"))
    return table[kept].sort_values(["bed_kind", "planting", "crop", "year", "planting_no"], ignore_index=True)


def _yields(axes: Axes, rows: Any, words: Words) -> None:
    axes.set_title(
        words(say("Yield of a place, of its yield grown alone: likely (dot), low to high (bar)")),
        fontsize=9,
        loc="left",
        color=INK,
    )
    place = np.arange(len(rows))
    axes.hlines(place, 100 * rows["place_low"], 100 * rows["place_high"], color=_FAINT, lw=3)
    axes.plot(100 * rows["place_likely"], place, "o", color=INK, ms=4.5)
    axes.axvline(100, color=_FAINT, lw=0.9, ls="--")
    names = [_name(row, words) for row in rows.itertuples()]
    axes.set_yticks(place, names)
    axes.set_ylim(len(rows) - 0.4, -0.6)
    axes.set_xlim(0, max(110.0, 104 * float(rows["place_high"].max()) if len(rows) else 110.0))
    axes.set_xlabel("%", fontsize=8)
    _dress(axes)


def _name(row: Any, words: Words) -> str:
    measured = row.basis == "measured"
    if row.year:
        message = say("{crop}, year {number} (measured)") if measured else say("{crop}, year {number}")
    else:
        message = say("{crop}, planting {number} (measured)") if measured else say("{crop}, planting {number}")
    return words(message, crop=words.crop(row.crop), number=int(row.year or row.planting_no))


def _dress(axes: Axes) -> None:
    axes.tick_params(labelsize=8)
    axes.grid(color="#e4e4e4", lw=0.6)
    axes.set_axisbelow(True)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
