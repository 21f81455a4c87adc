"""The bed from the side at chosen months: who is how tall, and what is gone."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from textwrap import fill, wrap
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import Ellipse, PathPatch
from matplotlib.path import Path as Outline
from matplotlib.ticker import MaxNLocator

from geoagro.outputs.beds.marks import FAINT, Mark, marks_of
from geoagro.outputs.drawing.crop_looks import hatch_ink
from geoagro.outputs.drawing.looks import INK
from geoagro.outputs.words.say import Words
from geoagro.plants.records.sheet import BedSheet, SheetKind
from geoagro.values.words import say

WEEKS_PER_MONTH = 365.25 / 12 / 7
_SEEN_MM = 2.0
"""Plants that are lower on paper are drawn by their mark, so that the first months show what was planted."""


def telling_months(sheet: BedSheet) -> list[int]:
    """Months that tell the story: soon after planting, when crops are ready, and when long-lived plants are grown.

    At most four, six where plants stand for years.
    """
    weeks = [float(k.harvest_from_week) for k in sheet.kinds]
    weeks += [min(k.plant_week + 8.0, k.harvest_from_week) for k in sheet.kinds]
    lasting = [k for k in sheet.kinds if k.harvest_to_week - k.plant_week > 104]
    weeks += [min(k.plant_week + k.full_size_weeks, k.harvest_to_week) for k in lasting]
    start = min(k.plant_week for k in sheet.kinds if not k.standing)
    months = sorted({max(first_month(start), round(week / WEEKS_PER_MONTH)) for week in weeks if week > start})
    most = 6 if lasting else 4
    if len(months) <= most:
        return months
    chosen = np.linspace(0, len(months) - 1, most).round().astype(int)
    return [months[k] for k in chosen]


def first_month(plant_week: float) -> int:
    """Give the first month in whose middle, which views show, something stands that was planted in a week.

    >>> first_month(0), first_month(52)
    (1, 13)
    """
    return int(np.floor(plant_week / WEEKS_PER_MONTH + 0.5)) + 1


def month_between(sheet: BedSheet, months: Sequence[int]) -> int | None:
    """Give the month in the middle of the longest stretch without a view, from planting to the last harvest.

    None where every month has one.
    """
    start = min((k.plant_week for k in sheet.kinds if not k.standing), default=0.0)
    last = int(np.ceil(max(k.harvest_to_week for k in sheet.kinds) / WEEKS_PER_MONTH)) + 1
    ends = [first_month(start) - 1, *months, last]
    gaps = [(after - before, -before) for before, after in pairwise(ends) if after - before > 1]
    if not gaps:
        return None
    wide, before = max(gaps)
    return -before + wide // 2


def highest_m(sheet: BedSheet, months: Sequence[int]) -> float:
    """Height of the tallest plant in any of these months; a metre of air where nothing stands."""
    sizes = [k.height_m * k.size((m - 0.5) * WEEKS_PER_MONTH) for m in months for k in sheet.kinds]
    return max(sizes, default=1.0) or 1.0


def draw_side(axes: Axes, sheet: BedSheet, month: int, letters: int, words: Words) -> None:
    """Draw all plants alive in the middle of a month: those that creep behind, then the tall before the short.

    The title is broken into lines of `letters`.
    """
    week = (month - 0.5) * WEEKS_PER_MONTH
    axes.plot([0, sheet.length_m], [0, 0], color=INK, lw=1.2, zorder=9)
    order = sorted(
        range(len(sheet.kinds)), key=lambda k: (sheet.kinds[k].stratum != "ground", -sheet.kinds[k].height_m)
    )
    marks = marks_of(kind.crop for kind in sheet.kinds)
    for level, number in enumerate(order):
        kind = sheet.kinds[number]
        size = kind.size(week)
        places = sheet.x[sheet.kind == number]
        if 0 < size * kind.height_m * _mm_per_m(axes) < _SEEN_MM:
            mark = marks[kind.crop]
            at = np.full(len(places), 0.5 * _SEEN_MM / _mm_per_m(axes))
            look: dict[str, Any] = {"ls": "none", "ms": _SEEN_MM * 72 / 25.4, "mfc": mark.paint, "mec": INK, "mew": 0.5}
            axes.plot(places, at, marker=mark.marker, zorder=8, **look)
        elif size > 0:
            for x in places:
                _plant(axes, (kind, marks[kind.crop]), float(x), size, 2.0 + level / len(order))
    axes.set_title(fill(_title(sheet, month, week, words), letters), fontsize=8, loc="left", color=INK, pad=3)
    axes.set_xticks([])
    axes.yaxis.set_major_locator(MaxNLocator(4, steps=[1, 2, 5, 10]))
    axes.yaxis.set_major_formatter(lambda value, _: words.brief(value) if value >= 0 else "")
    axes.tick_params(labelsize=7, length=2, colors=FAINT)
    for side in ("top", "right", "bottom"):
        axes.spines[side].set_visible(False)


def side_title_lines(sheet: BedSheet, months: Sequence[int], letters: int, words: Words) -> int:
    """Count the lines of the longest title of the views of these months, broken into lines of `letters`."""
    titles = [_title(sheet, month, (month - 0.5) * WEEKS_PER_MONTH, words) for month in months]
    return max((len(wrap(title, letters)) for title in titles), default=1)


def _mm_per_m(axes: Axes) -> float:
    low, high = axes.get_ylim()
    return float(axes.bbox.height / axes.figure.dpi * 25.4 / (high - low))


def _title(sheet: BedSheet, month: int, week: float, words: Words) -> str:
    standing = {k.name for k in sheet.kinds if k.harvest_to_week >= week}
    gone = dict.fromkeys(k.name for k in sheet.kinds if k.name not in standing)
    ripe = dict.fromkeys(k.name for k in sheet.kinds if k.harvest_from_week <= week <= k.harvest_to_week)
    parts = [
        words(say("Month {month}"), month=month)
        if month <= 24
        else words(say("Year {year}"), year=(month - 1) // 12 + 1)
    ]
    parts += [words(say("harvest: {crops}"), crops=words.crops(ripe))] if ripe else []
    parts += [words(say("gone: {crops}"), crops=words.crops(gone))] if gone else []
    return words.listed(parts)


def _plant(axes: Axes, drawn: tuple[SheetKind, Mark], x: float, size: float, order: float) -> None:
    kind, mark = drawn
    height, width = kind.height_m * size, kind.crown_m * size
    look: dict[str, Any] = {
        "fc": mark.paint,
        "ec": hatch_ink(mark.paint),
        "lw": 0.5,
        "hatch": mark.hatch,
        "alpha": 0.9,
        "zorder": order,
    }
    habit = "tree" if kind.habit == "herb" and kind.height_m > 2 else kind.habit  # bananas carry a crown on a stem
    stem_to = {"tree": 0.5, "shrub": 0.35}.get(habit, 0.0)
    axes.plot([x, x], [0, height * max(stem_to, 0.05)], color=INK, lw=1.0, zorder=order)
    if habit == "grass":
        axes.add_patch(PathPatch(_blade(x, height, width), **look))
    elif habit in ("herb", "vine"):
        axes.add_patch(PathPatch(_dome(x, height, width), **look))
    else:
        base = stem_to * height * 0.8
        axes.add_patch(Ellipse((x, (height + base) / 2), width, height - base, **look))


def _dome(x: float, height: float, width: float) -> Outline:
    t = np.linspace(0, np.pi, 25)
    return Outline(np.column_stack([x + width / 2 * np.cos(t), height * np.sin(t) ** 0.7]), closed=False)


def _blade(x: float, height: float, width: float) -> Outline:
    t = np.linspace(0, 1, 12)
    half = width / 2 * np.sin(np.pi * t**0.8) * (0.4 + 0.6 * (1 - t))
    y = height * t
    return Outline(np.concatenate([np.column_stack([x - half, y]), np.column_stack([x + half, y])[::-1]]), closed=False)
