"""What stands around the map: title, legend, scale bar, north arrow, CRS."""

from __future__ import annotations

import re
import textwrap
from dataclasses import dataclass

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch, Polygon
from matplotlib_scalebar.scalebar import ScaleBar

from geoagro.crs import name_of, scale_at
from geoagro.outputs.drawing import looks
from geoagro.outputs.drawing.looks import Fill, Line
from geoagro.outputs.drawing.page import Page
from geoagro.outputs.words.say import Words
from geoagro.values.site import Site
from geoagro.values.words import say

_TEXT_PT = 14.0
_TITLE_PT = 30.0
_GREY = "#565e66"
_FOOT_MM = 34.0  # room for the notes below scale bar and north arrow
_FURNITURE_MM = 90.0  # room for scale bar and north arrow side by side


@dataclass(frozen=True)
class LegendEntry:
    """A mark and its words: a message or sentence, said in the reader's language when the legend is written."""

    words: str
    mark: Artist


def fill_entry(words: str, look: Fill, hatch: str) -> LegendEntry:
    """Legend entry of a fill."""
    return LegendEntry(words, Patch(facecolor=look.paint, edgecolor=look.ink, linewidth=0.8, hatch=hatch))


def line_entry(words: str, look: Line) -> LegendEntry:
    """Legend entry of a line, heavy enough to be seen."""
    return LegendEntry(words, Line2D([], [], color=look.ink, linewidth=max(look.width_mm / 25.4 * 72, 1.0)))


def draw_frame(
    figure: Figure,
    axes: Axes,
    site: Site,
    words: Words,
    *,
    facts: str,
    page: Page,
    legend: list[LegendEntry],
    legend_pt: float = _TEXT_PT,
) -> None:
    """Add everything around the map; `facts` stand below the name of the field, the legend's type is of size `legend_pt`."""
    west, south, east, north = page.extent
    convergence = scale_at(site.crs, (west + east) / 2, (south + north) / 2).convergence_deg
    _title(figure, site.name, facts, page)
    _legend(figure, page, legend, words, legend_pt)
    _scale_bar(figure, axes, page)
    _north(figure, page, words)
    _foot(figure, site, page, convergence, words)


def _title(figure: Figure, name: str, facts: str, page: Page) -> None:
    left, bottom, _, height = page.map_rectangle
    top = bottom + height
    millimetre = 1 / page.size_mm[1]
    room = 60 if page.lying else 40
    size = _TITLE_PT * min(1.0, room / max(len(name), 1))
    figure.text(left, top + 13 * millimetre, name, fontsize=size, fontweight="bold", color=looks.INK, va="bottom")
    figure.text(left, top + 4 * millimetre, facts, fontsize=_TEXT_PT + 2, color=_GREY, va="bottom")


_NUMBER_AND_UNIT = re.compile(r"(?<=\d) (?=(m|m²|m³|ha|cm|kg|%)(\W|$))")


def in_lines(text: str, letters: int) -> str:
    """Break text between words into lines; a number keeps its unit.

    >>> in_lines("Contour, every 1 m", 17).splitlines()[0]
    'Contour, every'
    """
    return textwrap.fill(_NUMBER_AND_UNIT.sub("\u00a0", text), letters)


def _legend(figure: Figure, page: Page, entries: list[LegendEntry], words: Words, size_pt: float) -> None:
    left, bottom, _, height = page.legend_rectangle
    wrapped = [in_lines(words(entry.words), 25) for entry in entries]
    drawn = figure.legend(
        [entry.mark for entry in entries],
        wrapped,
        loc="upper left",
        bbox_to_anchor=(left, bottom + height),
        ncols=1 if page.lying else 3,
        fontsize=size_pt,
        handlelength=2.2,
        handleheight=1.5,
        labelspacing=0.65,
        columnspacing=1.6,
        borderpad=0.0,
        borderaxespad=0.0,
        frameon=False,
    )
    drawn.set_zorder(10)


def _scale_bar(figure: Figure, axes: Axes, page: Page) -> None:
    left, bottom, width, _ = page.legend_rectangle
    across = 0.0 if page.lying else width - _FURNITURE_MM / page.size_mm[0]
    bar = ScaleBar(
        1.0,
        units="m",
        location="lower left",
        bbox_to_anchor=(left + across, bottom + _FOOT_MM / page.size_mm[1] if page.lying else bottom),
        bbox_transform=figure.transFigure,
        length_fraction=55 / (page.map_rectangle[2] * page.size_mm[0]),
        width_fraction=0.008,
        frameon=False,
        color=looks.INK,
        pad=0.0,
        border_pad=0.0,
        font_properties={"size": _TEXT_PT},
    )
    axes.add_artist(bar)


def _north(figure: Figure, page: Page, words: Words) -> None:
    """Draw an arrow to grid north, which is up on every page; the foot says where true north lies."""
    left, bottom, width, _ = page.legend_rectangle
    page_width, page_height = page.size_mm
    x = left * page_width + (width * page_width - 8 if not page.lying else 70)
    y = bottom * page_height + (_FOOT_MM if page.lying else 0)
    sheet = figure.add_axes((0, 0, 1, 1))
    sheet.set(xlim=(0, page_width), ylim=(0, page_height))
    sheet.axis("off")
    along, across = np.array([0.0, 1.0]), np.array([1.0, 0.0])
    foot = np.array([x, y])
    head = foot + 20 * along
    left_half, right_half = [head, foot - 5 * across, foot + 5 * along], [head, foot + 5 * across, foot + 5 * along]
    sheet.add_patch(Polygon(left_half, facecolor=looks.INK, edgecolor=looks.INK, linewidth=1.0))
    sheet.add_patch(Polygon(right_half, facecolor="white", edgecolor=looks.INK, linewidth=1.0))
    x, y = head + 5 * along
    sheet.text(x, y, words(say("N")), fontsize=20, fontweight="bold", ha="center", va="center", color=looks.INK)


def _foot(figure: Figure, site: Site, page: Page, convergence_deg: float, words: Words) -> None:
    lines = (
        words(_north_words(convergence_deg), crs=name_of(site.crs), turn=abs(convergence_deg)),
        words(say("1 : {scale:.0f} when printed on A3. Lengths are horizontal."), scale=1000 / page.mm_per_m),
    )
    wrapped = "\n".join(textwrap.fill(line, 42 if page.lying else 68) for line in lines)
    left, bottom, _, _ = page.legend_rectangle
    figure.text(left, bottom, wrapped, fontsize=_TEXT_PT - 2.5, color=_GREY, va="bottom", linespacing=1.35)


def _north_words(convergence_deg: float) -> str:
    if abs(convergence_deg) < 0.05:
        return say("{crs}. N is grid north, up the page, which is true north here.")
    if convergence_deg > 0:
        return say("{crs}. N is grid north, up the page; true north lies {turn:.1f}° west of it.")
    return say("{crs}. N is grid north, up the page; true north lies {turn:.1f}° east of it.")
