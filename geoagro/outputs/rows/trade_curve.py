"""What each setting of the rows gives, drawn so that a setting can be chosen: one small chart per measure.

All charts share the grade limits below, one band for each, so that one reads upwards what a limit costs and gives.
Within a band the settings stand side by side, so that none hides another; they differ by mark and dash before they
differ by colour.
"""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.ticker import FuncFormatter, MaxNLocator

from geoagro.outputs.drawing.looks import INK

_SIZE_IN = (12.4, 8.2)
_DPI = 160
_BAND, _GRID, _FAINT, _GREY = "#f4f2ec", "#d9dcdf", "#8a939b", "#565e66"
_SPREAD = 0.56  # of a band's width, from the first series to the last
_GAP = 1.2  # distances beyond this many typical ones are told as a number
_OWN_PT = 15.0
_SETTINGS: Any = {"font.family": "DejaVu Sans", "text.parse_math": False}
# tolerances from narrow to wide: from dark to light
_CONTOUR: tuple[tuple[str, str, Any], ...] = (
    ("#0f3d3c", "o", "-"),
    ("#2c7d7a", "s", (0, (6, 2))),
    ("#6cb3ae", "^", (0, (2, 1.4))),
    ("#a4cfc9", "v", (0, (5, 1.5, 1, 1.5))),
)
_OTHERS: dict[str, tuple[str, str, Any]] = {
    "straight": ("#c9701b", "D", (0, (1, 1.5))),
    "guide": ("#5f4690", "P", (0, (7, 1.5, 1, 1.5, 1, 1.5))),
}
_READING = "Rows laid at each setting on the same ground. Read upwards from a grade limit: what does it give, what does it cost?"
_WORDS = {"straight": "straight rows", "guide": "rows parallel to the guide"}


@dataclass(frozen=True)
class _Series:
    """Settings that differ in the grade limit only."""

    words: str
    paint: str
    mark: str
    dash: Any
    lines: Any


@dataclass(frozen=True)
class _Panel:
    """One measure: its columns, factor and words."""

    columns: tuple[str, ...]
    factor: float
    title: str
    reading: str
    unit: str
    from_zero: bool


_PANELS = (
    _Panel(("in_limits",), 100, "Ground with rows that hold all limits", "More is better", "%", from_zero=False),
    _Panel(("covered",), 100, "Ground with rows", "More is better", "%", from_zero=False),
    _Panel(("row_ends_per_ha",), 1, "Row ends per hectare", "Fewer is better: each is a turn", "", from_zero=True),
    _Panel(("grade_p95_pct",), 1, "Grade along the rows", "95 % of the row length is flatter", "%", from_zero=True),
    _Panel(
        ("spacing_p05_m", "spacing_p95_m"), 1, "Distance between rows", "Nine tenths lie within; numbers tell of gaps", "m",
        from_zero=False,
    ),
)  # fmt: skip


def write_trade_curve(table: Any, path: Path, *, title: str) -> None:
    """Draw table ROW_COMPARISON as a PNG file; the same table gives the same bytes."""
    with mpl.rc_context(_SETTINGS):
        figure = draw_trade_curve(table, title=title)
        FigureCanvasAgg(figure)
        figure.savefig(path, dpi=_DPI, metadata={"Software": None})


def draw_trade_curve(table: Any, *, title: str) -> Figure:
    """Draw five charts and, in the sixth place, what the marks mean."""
    figure = Figure(figsize=_SIZE_IN, facecolor="white")
    figure.subplots_adjust(left=0.055, right=0.985, top=0.80, bottom=0.075, wspace=0.2, hspace=0.5)
    figure.text(0.055, 0.96, title, fontsize=18, fontweight="bold", color=INK, va="center")
    figure.text(0.055, 0.92, _READING, fontsize=10.5, color=_GREY, va="center")
    places = figure.subplots(2, 3).ravel()
    series = list(_series(table))
    for axes, panel in zip(places, _PANELS, strict=False):
        _draw_panel(axes, panel, series, table)
    _draw_key(places[-1], series, table)
    return figure


def _series(table: Any) -> Iterator[_Series]:
    contour = table[table["method"] == "contour"]
    for number, (width, lines) in enumerate(contour.groupby("spacing_tolerance")):
        paint, mark, dash = _CONTOUR[min(number, len(_CONTOUR) - 1)]
        yield _Series(f"contour rows, spacing ± {100 * width:g} %", paint, mark, dash, lines)
    for method, (paint, mark, dash) in _OTHERS.items():
        lines = table[table["method"] == method]
        if len(lines):
            yield _Series(_WORDS[method], paint, mark, dash, lines)


def _draw_panel(axes: Axes, panel: _Panel, series: list[_Series], table: Any) -> None:
    _prepare(axes, panel, table)
    draw = _draw_range if len(panel.columns) > 1 else _draw_line
    for number, one in enumerate(series):
        draw(axes, panel, one, _aside(number, len(series)), table)
    if panel.columns == ("grade_p95_pct",):
        _draw_limit(axes, table)
    _fit_heights(axes, panel, table)


def _draw_line(axes: Axes, panel: _Panel, one: _Series, aside: float, table: Any) -> None:
    lines = one.lines.sort_values("max_grade_pct")
    x, y = _band(lines, table) + aside, panel.factor * lines[panel.columns[0]].to_numpy()
    axes.plot(x, y, color=one.paint, linestyle=one.dash, linewidth=1.3, zorder=3)
    _marks(axes, x, y, one, lines["own"].to_numpy(dtype=bool))


def _draw_range(axes: Axes, panel: _Panel, one: _Series, aside: float, table: Any) -> None:
    """Draw the range between two columns as an upright; what runs off the chart ends in its number."""
    low, high = (panel.factor * one.lines[name].to_numpy() for name in panel.columns)
    x = _band(one.lines, table) + aside
    most = _ceiling(panel, table)
    off = high > most
    axes.vlines(x, low, np.minimum(high, most), color=one.paint, linewidth=2.2, zorder=3)
    own = one.lines["own"].to_numpy(dtype=bool)
    for y, kept in ((low, ~np.isnan(low)), (high, ~off)):
        _marks(axes, x[kept], y[kept], one, own[kept])
    for place, value in zip(x[off], high[off], strict=True):
        axes.annotate(
            f"{value:.1f} {panel.unit}", (place, most), xytext=(0, 2), textcoords="offset points", ha="center",
            va="bottom", rotation=90, fontsize=8.5, color=INK, zorder=6,
        )  # fmt: skip


def _ceiling(panel: _Panel, table: Any) -> float:
    """Highest value drawn in a chart of ranges: beyond it, a distance is no spacing but a gap in the rows."""
    typical = np.nanmedian(table[list(panel.columns)].to_numpy(dtype=float))
    return float(panel.factor * typical * _GAP)


def _marks(axes: Axes, x: Any, y: Any, one: _Series, own: Any) -> None:
    axes.plot(
        x, y, color=one.paint, marker=one.mark, linestyle="none", markersize=7, markeredgecolor="white",
        markeredgewidth=0.8, zorder=4,
    )  # fmt: skip
    axes.plot(
        x[own], y[own], marker="o", linestyle="none", markersize=_OWN_PT, fillstyle="none", color=INK,
        markeredgewidth=1.6, zorder=5,
    )  # fmt: skip


def _band(lines: Any, table: Any) -> Any:
    """Middle of the band of each line: the position of its grade limit among all of them."""
    return np.searchsorted(np.unique(table["max_grade_pct"]), lines["max_grade_pct"].to_numpy()).astype(float)


def _aside(number: int, count: int) -> float:
    """Distance of a series' marks from the middle of their band."""
    return (number - (count - 1) / 2) * _SPREAD / max(count - 1, 1)


def _prepare(axes: Axes, panel: _Panel, table: Any) -> None:
    grades = np.unique(table["max_grade_pct"])
    axes.set_title(panel.title, loc="left", fontsize=12, fontweight="bold", color=INK, pad=22)
    axes.text(0, 1.03, panel.reading, transform=axes.transAxes, fontsize=9.5, color=_GREY, va="bottom")
    axes.set_xlim(-0.5, len(grades) - 0.5)
    axes.set_xticks(range(len(grades)), [f"{grade:g} %" for grade in grades])
    for band in range(len(grades)):
        axes.axvspan(band - 0.46, band + 0.46, color=_BAND, linewidth=0, zorder=0)
    axes.set_xlabel("grade limit", fontsize=9.5, color=_GREY, labelpad=2)
    axes.yaxis.set_major_formatter(FuncFormatter(_with_unit(panel.unit)))
    axes.tick_params(colors=INK, labelsize=9.5, length=0)
    axes.grid(axis="y", color=_GRID, linewidth=0.8, zorder=1)
    for side in ("top", "right", "left"):
        axes.spines[side].set_visible(False)
    axes.spines["bottom"].set_color(_FAINT)


def _with_unit(unit: str) -> Callable[[float, Any], str]:
    return lambda value, _: f"{value:g} {unit}".strip()


def _draw_limit(axes: Axes, table: Any) -> None:
    """Draw each band's own limit over the chart of grades: nothing may lie above it."""
    grades = np.unique(table["max_grade_pct"])
    bands = np.arange(len(grades))
    axes.hlines(grades, bands - 0.46, bands + 0.46, color=_GREY, linewidth=1.2, zorder=2)
    axes.text(bands[-1] - 0.44, grades[-1], "the limit", fontsize=9, color=_GREY, va="bottom")


def _fit_heights(axes: Axes, panel: _Panel, table: Any) -> None:
    values = panel.factor * table[list(panel.columns)].to_numpy(dtype=float)
    known = values[np.isfinite(values)]
    axes.yaxis.set_major_locator(MaxNLocator(5))
    if len(known) == 0:
        axes.set_yticks([])
        axes.text(0.5, 0.5, "heights unknown", transform=axes.transAxes, ha="center", color=_GREY)
        return
    low, high = float(known.min()), float(known.max())
    if len(panel.columns) > 1:
        most = _ceiling(panel, table)
        high = most + 0.2 * (most - low) if high > most else high  # room for the number
    if panel.columns == ("grade_p95_pct",):
        high = max(high, float(table["max_grade_pct"].max()))
    room = 0.12 * max(high - low, 0.02 * high, 1e-6)
    axes.set_ylim(0 if panel.from_zero else low - room, high + room)


def _draw_key(axes: Axes, series: list[_Series], table: Any) -> None:
    """Explain the marks, and name the settings that gave no rows."""
    axes.axis("off")
    handles = [
        Line2D(
            [], [], color=one.paint, marker=one.mark, linestyle=one.dash, linewidth=1.6, markersize=7,
            markeredgecolor="white", label=one.words,
        )
        for one in series
    ]  # fmt: skip
    if table["own"].any():
        handles.append(
            Line2D([], [], color=INK, marker="o", linestyle="none", markersize=_OWN_PT - 3, fillstyle="none",
                   markeredgewidth=1.6, label="the design as it stands")
        )  # fmt: skip
    axes.legend(
        handles=handles, loc="upper left", bbox_to_anchor=(-0.02, 1.08), fontsize=10.5, frameon=False,
        handlelength=3.6, labelspacing=0.9,
    )  # fmt: skip
    failed = table[table["problem"] != ""]
    if len(failed):
        names = "; ".join(
            f"{r.method} at {r.max_grade_pct:g} %, ± {100 * r.spacing_tolerance:g} %" for r in failed.itertuples()
        )
        axes.text(
            0, 0.02, textwrap.fill(f"No rows: {names}.", 52), transform=axes.transAxes, fontsize=9, color=_GREY,
            va="bottom",
        )  # fmt: skip
