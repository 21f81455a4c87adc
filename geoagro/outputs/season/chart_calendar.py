"""The calendar drawn: one lane per crop from nursery to harvest, one lane per kind of care."""

from __future__ import annotations

from typing import Any

import matplotlib.dates as mdates
import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from geoagro.outputs.drawing.crop_looks import hatch_ink
from geoagro.outputs.drawing.letters import width_mm
from geoagro.outputs.drawing.looks import INK
from geoagro.outputs.season import chart_style as style
from geoagro.outputs.season.names import Names
from geoagro.outputs.words.say import Words
from geoagro.season.records.tables import SeasonPlan
from geoagro.values.base.records import records
from geoagro.values.rules.bed_kinds import lasting, lasts
from geoagro.values.words import say

SHORTEST_MONTHS, LONGEST_MONTHS = 14, 30
_LANE, _BAR, _LEAST_DAYS = 0.37, 0.5, 3.0
_AXES_SHARE, _AIR_MM = 0.55, 1.0
"""Least share of the figure's width that names of lanes leave to the months; air after a number."""
_NURSERY_LINE = (0, (3, 1.5))
"""Crops have hatches of their own, so that a nursery is told by its outline."""

Lane = tuple[tuple[str, str], pd.DataFrame]
"""Planting and crop, or task and kind of bed, with the lines of the calendar."""


def draw_calendar(names: Names) -> Figure:
    """Draw the first months of the plan; what stands longer runs on past the right edge."""
    plan, words = names.plan, names.words
    table = plan.calendar
    first, last = calendar_span(plan)
    crops = _crop_lanes(table[table["earliest"] < last])
    care = _care_lanes(table, last)
    figure, axes = style.chart(
        1.7 + _LANE * (len(crops) + len(care)),
        words(say("What is done when")),
        words(say("Solid: by the levelled plan. Thin line: from the earliest to the latest day that does no harm.")),
    )
    style.month_axis(axes, first, last, words)
    style.weather_bands(axes, plan.rule.windows, first, last, words)
    looks = style.crop_looks(table.loc[table["crop"] != "", "crop"].unique())
    lane_names = []
    for lane, ((planting, crop), part) in enumerate(crops):
        _draw_crop(axes, lane, part, looks[crop], edge=mdates.date2num(last), words=words)
        lane_names.append(names.planting(crop, planting))
    for k, ((task, kind), part) in enumerate(care):
        _draw_care(axes, len(crops) + k, part, style.TASK_PAINT[task])
        lane_names.append(f"{names.task(task)}, {names.beds(kind)}")
    axes.axhline(len(crops) - 0.5, color=style.FAINT, linewidth=0.8)
    axes.set_yticks(range(len(lane_names)), lane_names)
    axes.set_ylim(len(lane_names) - 0.4, -1.2)
    _legend(axes, words)
    return figure


def calendar_span(plan: SeasonPlan) -> tuple[pd.Timestamp, pd.Timestamp]:
    """First and last day of the calendar: from the first work to the end of the first crops, in whole months."""
    table = plan.calendar
    once = table[
        ~lasting(table["bed_kind"].to_numpy(dtype=object)) & (table["task"] == "harvest") & (table["planting_no"] == 1)
    ]
    begin = table["earliest"].min().to_period("M").to_timestamp()
    wanted = once["latest"].max() if len(once) else begin
    least, most = (begin + pd.DateOffset(months=m) for m in (SHORTEST_MONTHS, LONGEST_MONTHS))
    end = min(max(wanted, least), most)
    return begin, end.to_period("M").to_timestamp() + pd.DateOffset(months=1)


def _crop_lanes(table: pd.DataFrame) -> list[Lane]:
    """Lanes of the crops, vegetable beds first, each in order of planting."""
    rows = table[table["crop"] != ""]
    order = rows[rows["task"] == "plant"].groupby(["planting", "crop"], sort=False)["earliest"].min()
    kind = rows.groupby(["planting", "crop"], sort=False)["bed_kind"].first()
    planted: list[tuple[str, str]] = order.index.tolist()
    keys = sorted(planted, key=lambda key: (lasts(kind[key]), order[key], key))
    return [(key, rows[(rows["planting"] == key[0]) & (rows["crop"] == key[1])]) for key in keys]


def _care_lanes(table: pd.DataFrame, last: pd.Timestamp) -> list[Lane]:
    rows = table[(table["earliest"] < last) & table["task"].isin(["prepare", "mulch", "weed", "prune"])]
    lanes = rows.groupby(["task", "bed_kind"], sort=False)
    return [((str(part["task"].iloc[0]), str(part["bed_kind"].iloc[0])), part) for _, part in lanes]


def _draw_crop(axes: Axes, lane: int, part: pd.DataFrame, look: style.CropLook, *, edge: float, words: Words) -> None:
    planted: list[tuple[float, int]] = []
    for _, cycle in part.groupby("planting_no"):
        begin, end = _grows(cycle, edge)
        axes.barh(lane, end - begin, left=begin, height=_BAR, color=look.pale, zorder=2)
        _bars(
            axes,
            lane,
            cycle[cycle["task"] == "nursery"],
            paint=style.PAPER,
            edge=INK,
            line=_NURSERY_LINE,
        )
        _bars(
            axes,
            lane,
            cycle[cycle["task"] == "harvest"],
            paint=look.paint,
            edge=hatch_ink(look.paint),
            hatch=look.hatch,
        )
        plant = cycle[cycle["task"] == "plant"]
        _bars(axes, lane, plant, paint=INK, edge=INK)
        planted.append((begin, int(plant["places"].sum())))
    for begin, places in _told_apart(planted, axes, words):
        axes.annotate(
            words.number(places), (begin, lane - _BAR / 2), (0, 1), textcoords="offset points", fontsize=style.SMALL_PT,
            color=INK,
        )  # fmt: skip


def _told_apart(planted: list[tuple[float, int]], axes: Axes, words: Words) -> list[tuple[float, int]]:
    """Add up plantings (day, points) whose numbers would lie on one another; the sum stands at the first of them."""
    low, high = axes.get_xlim()
    days_per_mm = (high - low) / (_AXES_SHARE * style.WIDTH_IN * 25.4)
    told: list[tuple[float, int]] = []
    for begin, places in sorted(planted):
        before = told[-1] if told else None
        if before and begin < before[0] + days_per_mm * (width_mm(words.number(before[1]), style.SMALL_PT) + _AIR_MM):
            told[-1] = (before[0], before[1] + places)
        else:
            told.append((begin, places))
    return told


def _grows(cycle: pd.DataFrame, edge: float) -> tuple[float, float]:
    begin = mdates.date2num(cycle.loc[cycle["task"] == "plant", "likely_from"].min())
    harvest = cycle[cycle["task"] == "harvest"]
    several = lasts(cycle["bed_kind"].iloc[0]) or not len(harvest)
    last = harvest["likely_to"].fillna(harvest["latest"]).max()
    end = edge + 40 if several else mdates.date2num(last)
    return float(begin), float(end)


def _draw_care(axes: Axes, lane: int, part: pd.DataFrame, paint: str) -> None:
    _bars(axes, lane, part, paint=paint, edge=INK)
    for row in records(part[part["task"] == "weed"]):
        if (begin := row.day("likely_from")) is not None:
            at = mdates.date2num(begin)
            axes.annotate(
                f"{row.whole('round')}",
                (at, lane - _BAR / 2),
                (0, 1),
                textcoords="offset points",
                fontsize=style.SMALL_PT,
            )


def _bars(
    axes: Axes, lane: int, rows: pd.DataFrame, *, paint: str, edge: str, hatch: str = "", line: Any = "-"
) -> None:
    """Solid from the first to the last likely day, a thin line from the earliest to the latest."""
    rows = rows[rows["likely_from"].notna()]
    if not len(rows):
        return
    begin = mdates.date2num(rows["likely_from"])
    end = mdates.date2num(rows["likely_to"].fillna(rows["latest"])) + 1
    width = np.maximum(end - begin, _LEAST_DAYS)
    axes.barh(
        lane,
        width,
        left=begin,
        height=_BAR,
        color=paint,
        edgecolor=edge,
        linewidth=0.6,
        linestyle=line,
        hatch=hatch,
        zorder=3,
    )
    early, late = mdates.date2num(rows["earliest"]), mdates.date2num(rows["latest"])
    axes.hlines(np.full(len(rows), lane + _BAR / 2 + 0.1), early, late, color=INK, linewidth=0.9, zorder=4)


def _legend(axes: Axes, words: Words) -> None:
    grey = style.FAINT
    handles = [
        axes.barh(
            [np.nan], [np.nan], color=style.PAPER, edgecolor=INK, linestyle=_NURSERY_LINE, label=words(say("Nursery"))
        ),
        axes.barh([np.nan], [np.nan], color=INK, label=words(say("Planting (planting points above)"))),
        axes.barh([np.nan], [np.nan], color="#d9dde0", label=words(say("Growing"))),
        axes.barh([np.nan], [np.nan], color=grey, edgecolor=INK, linewidth=0.6, label=words(say("Harvest"))),
    ]
    style.legend_below(axes, handles)
