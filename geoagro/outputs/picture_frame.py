"""What stands around the map: title, legend, scale bar, north arrow, CRS."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from matplotlib_scalebar.scalebar import ScaleBar

from geoagro.crs import name_of, scale_at
from geoagro.outputs import looks
from geoagro.outputs.looks import Fill, Line
from geoagro.outputs.picture_page import Page
from geoagro.values.layout import Layout

_TEXT_PT = 14.0
_TITLE_PT = 30.0
_GREY = "#565e66"


@dataclass(frozen=True)
class LegendEntry:
    """A mark and its words."""

    words: str
    mark: Artist


def fill_entry(words: str, look: Fill, hatch: str) -> LegendEntry:
    """Legend entry of a fill."""
    return LegendEntry(words, Patch(facecolor=look.paint, edgecolor=look.ink, linewidth=0.8, hatch=hatch))


def line_entry(words: str, look: Line) -> LegendEntry:
    """Legend entry of a line, heavy enough to be seen."""
    return LegendEntry(words, Line2D([], [], color=look.ink, linewidth=max(look.width_mm / 25.4 * 72, 1.0)))


def draw_frame(figure: Any, axes: Any, layout: Layout, page: Page, legend: list[LegendEntry]) -> None:
    """Add everything around the map."""
    _title(figure, layout, page)
    _legend(figure, page, legend)
    _scale_bar(axes)
    _north(axes, layout, page)
    _foot(figure, layout, page)


def _title(figure: Any, layout: Layout, page: Page) -> None:
    left, bottom, _, height = page.map_rectangle
    top = bottom + height
    millimetre = 1 / page.size_mm[1]
    name = layout.site.name
    room = 60 if page.lying else 40
    size = _TITLE_PT * min(1.0, room / max(len(name), 1))
    figure.text(left, top + 13 * millimetre, name, fontsize=size, fontweight="bold", color=looks.INK, va="bottom")
    figure.text(left, top + 4 * millimetre, _facts(layout), fontsize=_TEXT_PT + 2, color=_GREY, va="bottom")


def _facts(layout: Layout) -> str:
    hectares = layout.site.boundary.area / 10_000
    rows = layout.rows.frame
    return (
        f"{hectares:.2f} ha  ·  {len(rows)} tree rows, {layout.rows.spacing_m:g} m apart, "
        f"{rows['length_m'].sum():,.0f} m long in all  ·  {len(layout.plants.frame):,} plants"
    )


def _legend(figure: Any, page: Page, entries: list[LegendEntry]) -> None:
    left, bottom, _, height = page.legend_rectangle
    wrapped = [textwrap.fill(entry.words, 25) for entry in entries]
    drawn = figure.legend(
        [entry.mark for entry in entries],
        wrapped,
        loc="upper left",
        bbox_to_anchor=(left, bottom + height),
        ncols=1 if page.lying else 3,
        fontsize=_TEXT_PT,
        handlelength=2.2,
        handleheight=1.5,
        labelspacing=0.65,
        columnspacing=1.6,
        borderpad=0.0,
        borderaxespad=0.0,
        frameon=False,
    )
    drawn.set_zorder(10)


def _scale_bar(axes: Any) -> None:
    axes.add_artist(
        ScaleBar(
            1.0,
            units="m",
            location="lower left",
            length_fraction=0.2,
            width_fraction=0.008,
            box_alpha=0.85,
            color=looks.INK,
            pad=0.5,
            border_pad=0.5,
            font_properties={"size": _TEXT_PT},
        )
    )


def _north(axes: Any, layout: Layout, page: Page) -> None:
    """Draw an arrow to true north, turned off the map's upright by the grid convergence of the field's middle."""
    west, south, east, north = page.extent
    convergence = scale_at(layout.site.crs, (west + east) / 2, (south + north) / 2).convergence_deg
    radians = np.deg2rad(-convergence)  # bearing of true north, clockwise from grid north
    length = 15.0 / page.mm_per_m
    foot = np.array([east - 11 / page.mm_per_m, north - 24 / page.mm_per_m])
    tip = foot + length * np.array([np.sin(radians), np.cos(radians)])
    axes.annotate(
        "",
        xy=tip,
        xytext=foot,
        arrowprops={"facecolor": looks.INK, "edgecolor": "white", "width": 4, "headwidth": 15, "headlength": 18},
        zorder=9,
    )
    beyond = foot + (length + 4.0 / page.mm_per_m) * np.array([np.sin(radians), np.cos(radians)])
    axes.text(*beyond, "N", fontsize=18, fontweight="bold", ha="center", va="center", color=looks.INK, zorder=9)


def _foot(figure: Any, layout: Layout, page: Page) -> None:
    west, south, east, north = page.extent
    convergence = scale_at(layout.site.crs, (west + east) / 2, (south + north) / 2).convergence_deg
    side = "east" if convergence > 0 else "west"
    text = (
        f"{name_of(layout.site.crs)}. Up is grid north, {abs(convergence):.1f}° {side} of true north (N).\n"
        f"1 : {1000 / page.mm_per_m:,.0f} on A3. Lengths are horizontal."
    )
    left, bottom, _, _ = page.legend_rectangle
    wrapped = "\n".join(textwrap.fill(line, 34 if page.lying else 110) for line in text.split("\n"))
    figure.text(left, bottom, wrapped, fontsize=_TEXT_PT - 2.5, color=_GREY, va="bottom", linespacing=1.35)
