"""Bed use by month; beds with the same crops and dates share a bar."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.container import BarContainer
from matplotlib.figure import Figure

from geoagro.outputs.drawing.letters import width_mm
from geoagro.outputs.drawing.looks import INK
from geoagro.outputs.season import chart_style as style
from geoagro.outputs.season.names import Names
from geoagro.outputs.words.say import Words
from geoagro.values.words import say

MONTHS, MOST_LANES = 36, 40
_LANE_IN, _AROUND_IN, _MONTHS_IN = 0.44, 1.7, 6.2
"""Height of a bar with the air below it, what the chart has around its bars, width of all months, about."""
_NAME_HIGH = 1.0
"""Room that a name wants above the next one, in the size of its type."""


_Named = tuple[float, float, float]
"""Height, begin and end of a name in months."""


def draw_beds(names: Names) -> Figure:
    """Draw which crops stand in which bed in the first months; free months stay white."""
    plan, words = names.plan, names.words
    table = plan.bed_months.pivot(index="bed", columns="month", values="crops").iloc[:, :MONTHS]
    lanes = bed_lanes(names, table)
    looks = style.crop_looks(plan.material["crop"])
    shown = min(len(lanes), MOST_LANES)
    lane_in = min(_LANE_IN, (style.PAGE_MOST_IN - _AROUND_IN) / max(shown, 1))
    figure, axes = style.chart(
        _AROUND_IN + lane_in * shown,
        words(say("Which crop stands in which bed")),
        words(say("One stripe per crop; white: free. Beds with the same crops and dates share a bar.")),
    )
    for lane, (_, row) in enumerate(lanes[:MOST_LANES]):
        _draw_lane(axes, lane, row, looks, names=names, lane_in=lane_in)
    lane_names = [name for name, _ in lanes[:MOST_LANES]]
    axes.set_yticks(range(len(lane_names)), lane_names)
    axes.set_ylim(len(lane_names) - 0.4, -0.6)
    _months(axes, table.columns, words)
    style.legend_below(axes, [_swatch(axes, names.crop(crop), look) for crop, look in looks.items()])
    if len(lanes) > MOST_LANES:
        more = words(say("More groups of beds in table season_beds: {n}"), n=len(lanes) - MOST_LANES)
        axes.set_xlabel(more, fontsize=style.SMALL_PT, color=style.FAINT)
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


def _draw_lane(
    axes: Axes, lane: int, row: Any, looks: dict[str, style.CropLook], *, names: Names, lane_in: float
) -> None:
    """Each crop keeps its stripe; months with any crop have a grey ground, so that white means free."""
    sets = [set(text.split("+")) if text else set() for text in row]
    crops = [crop for crop in looks if any(crop in here for here in sets)]
    _runs(axes, [bool(here) for here in sets], lane - 0.38, 0.76, color="#eceff0", linewidth=0, zorder=1)
    height, apart = 0.76 / max(len(crops), 1), _NAME_HIGH * style.SMALL_PT / 72 / lane_in
    named: list[_Named] = []
    for k, crop in enumerate(crops):
        look = looks[crop]
        drawn = look.bar | {"linewidth": 0.2, "zorder": 2}
        there = [crop in here for here in sets]
        _runs(axes, there, lane - 0.38 + k * height, height, **drawn)
        middle = lane - 0.38 + (k + 0.5) * height
        near = [(begin, end) for at, begin, end in named if abs(at - middle) < apart]
        named += [(middle, *span) for span in _name_run(axes, there, middle, names.crop(crop), near)]
    axes.hlines([lane - 0.38, lane + 0.38], 0, len(row), color=style.GRID, linewidth=0.5, zorder=3)


def _name_run(
    axes: Axes, there: list[bool], middle: float, name: str, near: list[tuple[float, float]]
) -> Iterator[tuple[float, float]]:
    """Write a crop's name into the first of its runs that has room beside the names `near`; give the months that it takes."""
    wide = (width_mm(name, style.SMALL_PT) / 25.4 + 4 / 72) * len(there) / _MONTHS_IN
    for begin, months in _spans(there):
        at = float(begin)
        for left, right in sorted(near):
            at = right if left < at + wide and at < right else at
        if months > at - begin + wide:
            box = {"boxstyle": "square,pad=0.05", "facecolor": "white", "edgecolor": "none"}
            axes.text(at + 0.12, middle, name, fontsize=style.SMALL_PT, va="center", color=INK, bbox=box, zorder=4)
            yield at, at + wide
            return


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
