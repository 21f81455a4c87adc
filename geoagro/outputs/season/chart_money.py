"""Money: what comes and goes, and the balance with the spread of the simulated runs."""

from __future__ import annotations

import matplotlib.dates as mdates
import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter
from scipy.optimize import isotonic_regression

from geoagro.arrays import Floats
from geoagro.outputs.drawing.looks import INK
from geoagro.outputs.season import chart_style as style
from geoagro.outputs.season.names import Names
from geoagro.outputs.words.say import Words
from geoagro.season.records.figures import Key
from geoagro.values.base.records import Record, records
from geoagro.values.words import say

_SECOND = "#a76917"


def draw_money(names: Names) -> Figure:
    """Draw the balance month by month: likely, 8 of 10 runs, all-low and all-high, and where it breaks even."""
    plan, words = names.plan, names.words
    cash = plan.cash
    figure, axes = style.chart(
        4.0,
        words(say("Cash balance since the start")),
        words(
            say("{money}. Band: 8 of 10 of {runs} simulated runs. Dotted: all low, all high."),
            money=plan.rule.currency,
            runs=plan.rule.simulation.runs,
        ),
    )
    at = _month_ends(cash)
    axes.fill_between(
        at, cash["balance_p10"], cash["balance_p90"], color=style.ACCENT, alpha=0.18, linewidth=0, zorder=1
    )
    for k in ("low", "high"):
        axes.plot(at, cash[f"balance_{k}"], color=style.FAINT, linewidth=1.0, linestyle=":", zorder=2)
    axes.plot(at, cash["balance_p50"], color=style.ACCENT, linewidth=1.2, linestyle=(0, (4, 2)), zorder=3)
    axes.plot(at, cash["balance_likely"], color=INK, linewidth=1.8, zorder=4)
    _frame(axes, cash, plan.rule.currency, words)
    _end_labels(axes, cash, at[-1], words)
    _break_even(axes, names, at)
    return figure


_MOST_LEVERS = 12


def draw_sensitivity(names: Names) -> Figure:
    """Draw how far each assumption moves the net present value, the farthest on top."""
    plan, words = names.plan, names.words
    table = plan.sensitivity.head(_MOST_LEVERS)
    figure, axes = style.chart(
        1.3 + 0.27 * max(len(table), 1),
        words(say("What matters most")),
        words(
            say(
                "Net present value, {money}; one assumption, yours or the library's, at its low (hatched) and high end."
            ),
            money=plan.rule.currency,
        ),
    )
    base = plan.figure(Key.WORTH)
    for lane, row in enumerate(records(table)):
        for end, hatch in ((row.number("at_low"), "////"), (row.number("at_high"), "")):
            axes.barh(
                lane,
                end - base,
                left=base,
                height=0.6,
                color=style.ACCENT if not hatch else "#d9e4e3",
                hatch=hatch,
                edgecolor=INK,
                linewidth=0.4,
            )
    axes.axvline(base, color=INK, linewidth=1.0)
    axes.set_yticks(
        range(len(table)),
        [_lever(names, r) for r in records(table)],
    )
    axes.set_ylim(max(len(table), 1) - 0.4, -0.6)
    axes.xaxis.set_major_formatter(FuncFormatter(lambda v, _: words.number(v)))
    axes.grid(axis="x", color=style.GRID, linewidth=0.6)
    return figure


def _lever(names: Names, row: Record) -> str:
    subject, item, whose = (names.cell(key, row.text(key)) for key in ("subject", "item", "whose"))
    return f"{names.words.title(subject)}, {item} ({whose})"


def _month_ends(cash: pd.DataFrame) -> Floats:
    return np.asarray(mdates.date2num(cash["month"] + pd.offsets.MonthEnd(0)), dtype=float)


def _frame(axes: Axes, cash: pd.DataFrame, currency: str, words: Words) -> None:
    first, last = cash["month"].iloc[0], cash["month"].iloc[-1] + pd.DateOffset(months=1)
    style.month_axis(axes, first, last + (last - first) * 0.12, words)
    axes.axhline(0, color=INK, linewidth=0.9, zorder=2)
    style.number_axis(axes, currency, words)


_ENDS = {
    "high": say("all high"),
    "p90": say("9 of 10 below"),
    "likely": say("likely"),
    "p50": say("median run"),
    "p10": say("1 of 10 below"),
    "low": say("all low"),
}


def _end_labels(axes: Axes, cash: pd.DataFrame, at: float, words: Words) -> None:
    values = {key: float(cash[f"balance_{key}"].iloc[-1]) for key in _ENDS}
    low, high = axes.get_ylim()
    step = (high - low) * 0.055
    keys = sorted(_ENDS, key=lambda key: values[key])
    spots = spread(np.array([values[key] for key in keys]), step, low, high)
    lead = 0.012 * float(np.diff(axes.get_xlim())[0])
    for key, spot in zip(keys, spots, strict=True):
        if abs(spot - values[key]) > step / 4:  # a line leads from the band's end to a name that had to move
            axes.plot([at, at + lead], [values[key], spot], color=style.FAINT, lw=0.6, clip_on=False)
        weight = "bold" if key == "likely" else "normal"
        axes.annotate(
            words(_ENDS[key]),
            (at + lead, spot),
            (2, 0),
            textcoords="offset points",
            fontsize=style.SMALL_PT,
            va="center",
            color=INK,
            fontweight=weight,
        )


def spread(values: Floats, step: float, low: float, high: float) -> Floats:
    """Places for names beside rising values, `step` apart at least, within low and high, moved as little as can be.

    The sum of squared moves is least (isotonic regression of the values less their even steps).

    >>> spread(np.array([0.0, 0.0, 9.0]), 2.0, -5.0, 20.0).tolist()
    [-1.0, 1.0, 9.0]
    """
    even = step * np.arange(len(values))
    spots: Floats = isotonic_regression(values - even).x + even
    spots -= max(spots[-1] - high, 0.0)
    spots += max(low - spots[0], 0.0)
    return spots


def _break_even(axes: Axes, names: Names, at: Floats) -> None:
    plan, words = names.plan, names.words
    since = plan.figure(Key.BREAK_EVEN)
    if np.isnan(since):
        return
    starts = plan.cash["month"].to_numpy()
    month = int(np.searchsorted(starts, np.datetime64(plan.start, "M").astype(starts.dtype))) + int(since)
    axes.plot(at[month], plan.cash["balance_likely"].iloc[month], "o", color=style.WARN, markersize=7, zorder=5)
    early = month < len(at) / 2
    axes.annotate(
        words(say("breaks even for good in {month}"), month=words.month(pd.Timestamp(starts[month]))),
        (at[month], plan.cash["balance_likely"].iloc[month]),
        (8, -16) if early else (-8, 12),
        textcoords="offset points",
        ha="left" if early else "right",
        fontsize=9,
        color=style.WARN,
        fontweight="bold",
        bbox={"facecolor": style.PAPER, "edgecolor": "none", "alpha": 0.85, "pad": 1.5},
    )
