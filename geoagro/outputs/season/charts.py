"""The charts of a season plan as PNG and SVG files."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from pathlib import Path

import matplotlib as mpl
from matplotlib.figure import Figure

from geoagro.outputs.drawing.typefaces import family
from geoagro.outputs.season import chart_style as style
from geoagro.outputs.season.chart_beds import draw_beds
from geoagro.outputs.season.chart_calendar import draw_calendar
from geoagro.outputs.season.chart_money import draw_money, draw_sensitivity
from geoagro.outputs.season.chart_work import draw_harvest, draw_work
from geoagro.outputs.season.names import Names
from geoagro.outputs.words.say import ENGLISH, Words
from geoagro.season.records.tables import SeasonPlan

CHARTS: dict[str, Callable[[Names], Figure]] = {
    "season_calendar": draw_calendar,
    "season_work": draw_work,
    "season_harvest": draw_harvest,
    "season_money": draw_money,
    "season_sensitivity": draw_sensitivity,
    "season_beds": draw_beds,
}
DPI = 180


def chart_files() -> list[str]:
    """Names of all chart files."""
    return [f"{name}.{kind}" for name in CHARTS for kind in ("png", "svg")]


def write_charts(plan: SeasonPlan, folder: Path, words: Words = ENGLISH) -> None:
    """Write every chart into `folder`; the same plan gives the same bytes."""
    for name, draw in CHARTS.items():
        save_chart(partial(draw, Names(plan, words)), folder / name)


def save_chart(draw: Callable[[], Figure], stem: Path) -> None:
    """Draw one figure as PNG and SVG in the report's type, without a date and with fixed ids."""
    with mpl.rc_context({"svg.hashsalt": stem.name, "font.family": family()}):
        figure = draw()
        style.keep_subtitle_inside(figure)
        figure.set_layout_engine(None)  # laid out once is enough: with an engine each file is drawn twice
        figure.savefig(stem.with_suffix(".png"), dpi=DPI, metadata={"Software": None})
        figure.savefig(stem.with_suffix(".svg"), metadata={"Date": None, "Creator": None})
