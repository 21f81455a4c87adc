"""Work by week against what the crew can do, and harvest by month."""

from __future__ import annotations

import matplotlib.dates as mdates
import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from geoagro.outputs.drawing.looks import INK
from geoagro.outputs.season import chart_style as style
from geoagro.outputs.season.chart_calendar import calendar_span
from geoagro.outputs.season.names import Names
from geoagro.values.season import TASKS
from geoagro.values.words import say

_MOST_NAMES = 12
"""Years that are named under a chart; of longer plans every second or third."""


def draw_work(names: Names) -> Figure:
    """Draw person-days of each week, task upon task, in the months that the calendar shows."""
    plan, words = names.plan, names.words
    first, last = calendar_span(plan)
    weeks = _by_week(plan.days[plan.days["day"] < last])
    load = plan.weeks[plan.weeks["week"] < last]
    figure, axes = style.chart(
        3.2,
        words(say("Work by week")),
        words(
            say(
                "Bars: levelled plan. Line: what {n:g} people (and helpers) can do. Dotted: before work was spread over the "
                "crew's days."
            ),
            n=plan.people,
        ),
    )
    style.month_axis(axes, first, last, words)
    top = _stack(axes, weeks, names)
    at = mdates.date2num(load["week"])
    axes.step(at, load["capacity"], where="post", color=INK, linewidth=1.1, zorder=3)
    axes.step(at, load["wanted"], where="post", color=style.WARN, linewidth=1.2, linestyle=":", zorder=4)
    style.number_axis(axes, words(say("person-days a week")), words)
    axes.set_ylim(0, max(float(load["capacity"].max()), top, float(load["wanted"].max())) * 1.18)
    style.legend_below(axes, axes.get_legend_handles_labels()[0])
    return figure


def _stack(axes: Axes, weeks: pd.DataFrame, names: Names) -> float:
    """Bars of the tasks upon each other; returns the height of the highest week."""
    base = np.zeros(len(weeks))
    for task in (t for t in TASKS if t in weeks.columns):
        height = weeks[task].to_numpy()
        axes.bar(
            mdates.date2num(weeks.index), height, width=6.2, bottom=base, align="edge",
            color=style.TASK_PAINT[task], label=names.task(task), zorder=2,
        )  # fmt: skip
        base += height
    return float(base.max(initial=0.0))


def _by_week(days: pd.DataFrame) -> pd.DataFrame:
    week = days["day"] - pd.to_timedelta(days["day"].dt.day_of_week, unit="D")
    return days.assign(week=week).pivot_table(
        index="week", columns="task", values="person_days", aggfunc="sum", fill_value=0.0
    )


def draw_harvest(names: Names) -> Figure:
    """Draw kilograms of each month (of each year on long plans), crop upon crop, with the low-high span of the sum."""
    plan, words = names.plan, names.words
    yearly = plan.rule.years > 3
    months = plan.yields.merge(plan.cash[["month", "year"]], on="month")
    key = "year" if yearly else "month"
    likely = months.pivot_table(index=key, columns="crop", values="kg_likely", aggfunc="sum", fill_value=0.0)
    spans = months.groupby(key)[["kg_low", "kg_high"]].sum()
    figure, axes = style.chart(
        3.2,
        words(say("Harvest by year") if yearly else say("Harvest by month")),
        words(say("Likely kilograms, crop upon crop. Bar ends: all yields low, all yields high.")),
    )
    at = likely.index.to_numpy() if yearly else mdates.date2num(likely.index) + 14
    width = 0.62 if yearly else 22.0
    base = np.zeros(len(likely))
    looks = style.crop_looks(plan.material["crop"])
    for crop in likely.columns:
        axes.bar(
            at, likely[crop], width=width, bottom=base, label=names.crop(str(crop)), zorder=2, **looks[crop].bar,
        )  # fmt: skip
        base += likely[crop].to_numpy()
    axes.vlines(at, spans["kg_low"], spans["kg_high"], color=INK, linewidth=1.2, zorder=3)
    axes.plot(at, spans["kg_low"], "_", at, spans["kg_high"], "_", color=INK, markersize=8, zorder=3)
    _harvest_axis(axes, names, yearly=yearly)
    style.number_axis(axes, words(say("kg")), words)
    axes.set_ylim(0, max(float(spans["kg_high"].max()) if len(spans) else 1.0, 1.0) * 1.2)
    style.legend_below(axes, axes.get_legend_handles_labels()[0])
    return figure


def _harvest_axis(axes: Axes, names: Names, *, yearly: bool) -> None:
    plan = names.plan
    if not yearly:
        end = plan.cash["month"].iloc[-1] + pd.DateOffset(months=1)
        style.month_axis(axes, plan.cash["month"].iloc[0], end, names.words)
        return
    axes.set_xlim(0.4, plan.rule.years + 0.6)
    step = -(-plan.rule.years // _MOST_NAMES)
    shown = range(1, plan.rule.years + 1, step)
    axes.set_xticks(shown, [names.words(say("Year {n}"), n=k) for k in shown])
