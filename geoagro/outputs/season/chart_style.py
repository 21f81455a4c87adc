"""The look shared by the charts of a season plan: quiet axes, the crops' own paints, weather bands."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from functools import partial
from typing import Any

import matplotlib.dates as mdates
import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.colors import to_rgb
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter

from geoagro.outputs.drawing.crop_looks import crop_hatch, crop_look, crop_numbers, hatch_ink, rule_paint
from geoagro.outputs.drawing.letters import LEAST_PT, width_mm, wrapped
from geoagro.outputs.drawing.looks import INK
from geoagro.outputs.words.say import ENGLISH, Words
from geoagro.values.season import TASKS, Window

PAPER, GRID, FAINT, ACCENT, WARN = "#ffffff", "#dcdfe2", "#666e76", "#1f5c5a", "#b3372f"
RAINS, FROST = "#cfe3f2", "#e6e0f2"
# the rule of crops' paints, quieter: lightness first, neighbours in a stack of bars half of the scale apart
_TASK_PAINTS = tuple(rule_paint(26.0 + 60 * ((k // 2 + 6 * (k % 2)) / 11), (70 + 120 * k) % 360, 32) for k in range(12))
TASK_PAINT: dict[str, str] = dict(zip(TASKS, _TASK_PAINTS, strict=True))
WIDTH_IN = 8.8
PAGE_SHARE, PAGE_MOST_IN = 176 / (WIDTH_IN * 25.4), 222 / 176 * WIDTH_IN
"""How much smaller charts stand on a page of the report; the height above which one would be smaller still."""
SMALL_PT = LEAST_PT / PAGE_SHARE
"""Smallest type on a chart, points: on the page it is as small as type may be."""
_SUBTITLE, _SUBTITLE_PT = "_subtitle", 9  # with a line before it, so that no legend names it
_EDGE_MM = 6.0
"""Least air between a subtitle and the chart's right edge."""
_BESIDE_NAME = 1.4 + 0.8 + 1.2
"""What a legend has beside each name: mark, what parts them, what parts columns; in heights of letters."""
_NAMED_SHARE = 0.07
"""Weather bands narrower than this share of the chart carry no name."""


@dataclass(frozen=True)
class CropLook:
    """Paint of a crop, and a hatch that tells it apart in black and white."""

    paint: str
    hatch: str

    @property
    def pale(self) -> tuple[float, float, float]:
        """A light tone of the paint, for ground where it grows."""
        red, green, blue = to_rgb(self.paint)
        return 0.62 + 0.38 * red, 0.62 + 0.38 * green, 0.62 + 0.38 * blue

    @property
    def bar(self) -> dict[str, Any]:
        """Arguments for a bar."""
        return {"facecolor": self.paint, "hatch": self.hatch, "edgecolor": hatch_ink(self.paint), "linewidth": 0.4}


def crop_looks(crops: Iterable[str]) -> dict[str, CropLook]:
    """One look per crop, in order of code: the paint of the map, and a hatch that goes with its number."""
    numbers = crop_numbers(crops)
    return {c: CropLook(crop_look(n, None).paint, crop_hatch(n)) for c, n in numbers.items()}


def chart(height_in: float, title: str, subtitle: str) -> tuple[Figure, Axes]:
    """Start a chart with its title above quiet axes; the title says what is seen, the subtitle how to read it."""
    figure = Figure(figsize=(WIDTH_IN, height_in), facecolor=PAPER, layout="constrained")
    axes = figure.add_subplot()
    _write_title(axes, f"{title}\n")
    # in points above the axes: a share of a tall chart's height would lie over the title
    axes.annotate(
        subtitle,
        (0, 1),
        (0, 4),
        xycoords="axes fraction",
        textcoords="offset points",
        fontsize=_SUBTITLE_PT,
        color=FAINT,
        va="bottom",
        label=_SUBTITLE,
    )
    axes.tick_params(colors=INK, labelsize=9, length=0)
    for side in ("top", "right", "left"):
        axes.spines[side].set_visible(False)
    axes.spines["bottom"].set_color(GRID)
    axes.set_axisbelow(True)
    return figure, axes


def _write_title(axes: Axes, title: str) -> None:
    axes.set_title(title, loc="left", fontsize=13, fontweight="bold", color=INK)


def keep_subtitle_inside(figure: Figure) -> None:
    """Lay a chart out; break a subtitle that would run past the right edge into lines, the title moves up by as many.

    How far names beside the axes push it to the right is known only once the chart is laid out.
    """
    figure.draw_without_rendering()
    axes = figure.axes[0]
    subtitle = next(text for text in axes.texts if text.get_label() == _SUBTITLE)
    room_px = figure.bbox.x1 - subtitle.get_window_extent().x0
    lines = wrapped(subtitle.get_text(), room_px / figure.dpi * 25.4 - _EDGE_MM, _SUBTITLE_PT)
    if len(lines) > 1:
        subtitle.set_text("\n".join(lines))
        _write_title(axes, axes.get_title(loc="left") + "\n" * (len(lines) - 1))
        figure.draw_without_rendering()


def legend_below(axes: Axes, handles: list[Any]) -> None:
    """Put the legend under the chart, in as many columns as its words leave room for; none where nothing is drawn."""
    if not handles:
        return
    widest = max(width_mm(handle.get_label(), SMALL_PT) for handle in handles) + _BESIDE_NAME * SMALL_PT * 25.4 / 72
    columns = int(np.clip((WIDTH_IN * 25.4 - 2 * _EDGE_MM) // widest, 1, min(len(handles), 7)))
    axes.figure.legend(
        handles=handles, loc="outside lower center", ncols=columns, fontsize=SMALL_PT, frameon=False, handlelength=1.4,
        columnspacing=1.2,
    )  # fmt: skip


_MOST_YEARS = 12
"""Years that are named below a chart; of longer plans every second or third."""


def month_axis(axes: Axes, first: pd.Timestamp, last: pd.Timestamp, words: Words = ENGLISH) -> None:
    """Months (or years, on long plans) below, with the year under January."""
    axes.set_xlim(mdates.date2num(first), mdates.date2num(last))
    months = 12 * (last.year - first.year) + last.month - first.month
    if months > 40:
        axes.xaxis.set_major_locator(mdates.YearLocator(-(-months // (12 * _MOST_YEARS))))
        axes.xaxis.set_major_formatter(mdates.DateFormatter("%Y"))
        axes.xaxis.set_minor_locator(mdates.MonthLocator(bymonth=(4, 7, 10)))
    else:
        axes.xaxis.set_major_locator(mdates.MonthLocator(interval=1 if months <= 20 else 2))
        axes.xaxis.set_major_formatter(FuncFormatter(partial(_month_text, words)))
    axes.grid(axis="x", color=GRID, linewidth=0.6)


def _month_text(words: Words, value: float, position: int | None) -> str:
    day = mdates.num2date(value)
    name = words.month_name(day)
    return f"{name}\n{day.year}" if day.month == 1 or position == 0 else name


def number_axis(axes: Axes, what: str, words: Words = ENGLISH) -> None:
    """Thousands apart on the left, and what they count at the top."""
    axes.yaxis.set_major_formatter(FuncFormatter(lambda v, _: words.brief(v)))  # 2.5 stays 2.5
    axes.grid(axis="y", color=GRID, linewidth=0.6)
    axes.set_ylabel(what, fontsize=9, color=INK)


def weather_bands(
    axes: Axes, windows: Iterable[Window], first: pd.Timestamp, last: pd.Timestamp, words: Words = ENGLISH
) -> None:
    """Shade rains and frost behind the chart and name them at the top."""
    years = range(np.datetime64(first, "Y").astype(int) + 1969, np.datetime64(last, "Y").astype(int) + 1971)
    low, high = mdates.date2num(first), mdates.date2num(last)
    for window in windows:
        paint = RAINS if window.kind == "rains" else FROST
        for year in years:
            start, end = _span(window, year)
            left, right = max(start, low), min(end, high)
            if right <= left:
                continue
            axes.axvspan(left, right, color=paint, zorder=0, linewidth=0)
            if right - left < _NAMED_SHARE * (high - low):
                continue
            axes.text(
                (left + right) / 2, 0.995, words(window.name), transform=axes.get_xaxis_transform(), ha="center", va="top",
                fontsize=SMALL_PT, color=INK, clip_on=True,
            )  # fmt: skip


def _span(window: Window, year: int) -> tuple[float, float]:
    start = date.fromisoformat(f"{year}-{window.first}")
    over = window.last < window.first
    end = date.fromisoformat(f"{year + over}-{window.last}")
    return float(mdates.date2num(start)), float(mdates.date2num(end)) + 1
