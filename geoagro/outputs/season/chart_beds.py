"""Bed use by month; beds with the same crops and dates share a bar."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.container import BarContainer
from matplotlib.figure import Figure

from geoagro.outputs.drawing.looks import INK
from geoagro.outputs.season import chart_style as style
from geoagro.outputs.season.names import Names
from geoagro.outputs.words.say import Words
from geoagro.values.words import say

MONTHS, MOST_LANES = 36, 40
_MOST_NAMED, _ROOMY_LANES = 3, 24
"""With more crops in a bar (one fewer where there are many bars) stripes are so thin that every second name stands farther right."""
_NAME_PT, _MONTHS_IN = 6.0, 6.5
"""Size of a name in a bar; width of all months on the chart, inches, about."""


def draw_beds(names: Names) -> Figure:
    """Draw which crops stand in which bed in the first months; free months stay white."""
    plan, words = names.plan, names.words
    table = plan.bed_months.pivot(index="bed", columns="month", values="crops").iloc[:, :MONTHS]
    lanes = bed_lanes(names, table)
    looks = style.crop_looks(plan.material["crop"])
    shown = min(len(lanes), MOST_LANES)
    named = _MOST_NAMED if shown <= _ROOMY_LANES else _MOST_NAMED - 1
    figure, axes = style.chart(
        1.7 + (0.44 if shown <= _ROOMY_LANES else 0.34) * shown,
        words(say("Which crop stands in which bed")),
        words(say("One stripe per crop; white: free. Beds with the same crops and dates share a bar.")),
    )
    for lane, (_, row) in enumerate(lanes[:MOST_LANES]):
        _draw_lane(axes, lane, row, looks, names=names, named=named)
    lane_names = [name for name, _ in lanes[:MOST_LANES]]
    axes.set_yticks(range(len(lane_names)), lane_names)
    axes.set_ylim(len(lane_names) - 0.4, -0.6)
    _months(axes, table.columns, words)
    style.legend_below(axes, [_swatch(axes, names.crop(crop), look) for crop, look in looks.items()])
    if len(lanes) > MOST_LANES:
        more = words(say("More groups of beds in table season_beds: {n}"), n=len(lanes) - MOST_LANES)
        axes.set_xlabel(more, fontsize=8, color=style.FAINT)
    return figure


def _swatch(axes: Axes, name: str, look: style.CropLook) -> BarContainer:
    return axes.bar([np.nan], [np.nan], label=name, **look.bar)


def bed_lanes(names: Names, table: pd.DataFrame) -> list[tuple[str, tuple[str, ...]]]:
    """Beds in walking order, those with the same crops in every month together under one name."""
    order = names.plan.bed_months["bed"].drop_duplicates()
    rows = table.loc[order]
    groups: dict[tuple[str, ...], list[str]] = {}
    for bed, row in zip(order, rows.to_numpy(), strict=True):
        groups.setdefault(tuple(row), []).append(str(bed))
    return [(_group_name(beds, names.words), row) for row, beds in groups.items()]


def _group_name(beds: list[str], words: Words) -> str:
    if len(beds) == 1:
        return beds[0]
    trees = all("-T" in bed for bed in beds)
    message = say("{n} tree beds: {first} ... {last}") if trees else say("{n} beds: {first} ... {last}")
    return words(message, n=len(beds), first=beds[0], last=beds[-1])


def _draw_lane(axes: Axes, lane: int, row: Any, looks: dict[str, style.CropLook], *, names: Names, named: int) -> None:
    """Each crop keeps its stripe; months with any crop have a grey ground, so that white means free."""
    sets = [set(text.split("+")) if text else set() for text in row]
    crops = [crop for crop in looks if any(crop in here for here in sets)]
    _runs(axes, [bool(here) for here in sets], lane - 0.38, 0.76, color="#eceff0", linewidth=0, zorder=1)
    height, shift = 0.76 / max(len(crops), 1), 0.0
    for k, crop in enumerate(crops):
        look = looks[crop]
        drawn = look.bar | {"linewidth": 0.2, "zorder": 2}
        there = [crop in here for here in sets]
        _runs(axes, there, lane - 0.38 + k * height, height, **drawn)
        wide = _name_run(axes, there, (shift, lane - 0.38 + (k + 0.5) * height), names.crop(crop))
        shift = wide if len(crops) > named and k % 2 == 0 else 0.0
    axes.hlines([lane - 0.38, lane + 0.38], 0, len(row), color=style.GRID, linewidth=0.5, zorder=3)


def _name_run(axes: Axes, there: list[bool], place: tuple[float, float], name: str) -> float:
    """Write a crop's name into the first of its runs that is long enough; give the months that it takes, 0 where none is.

    `place` is how far from the run's start, in months, and the height: every second name of thin stripes is moved.
    """
    shift, middle = place
    wide = (0.62 * _NAME_PT * len(name) + 4) * len(there) / (_MONTHS_IN * 72)
    for begin, months in _spans(there):
        if months > shift + wide:
            box = {"boxstyle": "square,pad=0.08", "facecolor": "white", "edgecolor": "none"}
            axes.text(begin + shift + 0.12, middle, name, fontsize=_NAME_PT, va="center", color=INK, bbox=box, zorder=4)
            return wide
    return 0.0


def _spans(there: list[bool]) -> list[tuple[int, int]]:
    edges = np.flatnonzero(np.diff(np.array([False, *there, False]).astype(np.int8)))
    return [(int(begin), int(end - begin)) for begin, end in edges.reshape(-1, 2)]


def _runs(axes: Axes, there: list[bool], top: float, height: float, **drawn: Any) -> None:
    """One bar per unbroken run of months."""
    axes.broken_barh(_spans(there), (top, height), **drawn)


def _months(axes: Axes, months: Any, words: Words) -> None:
    axes.set_xlim(0, len(months))
    step = 1 if len(months) <= 18 else 3
    at = np.arange(0, len(months), step)
    axes.set_xticks(
        at,
        [words.month_name(months[k]) + (f"\n{months[k]:%Y}" if k == 0 or months[k].month <= step else "") for k in at],
    )
    axes.grid(axis="x", color=style.GRID, linewidth=0.6)
