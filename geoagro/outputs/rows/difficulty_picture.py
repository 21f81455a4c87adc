"""How hard the ground is for rows, as two maps: how far a contour keeps its spacing, how many parallels hold the grade.

Darker is harder. Hatching marks the ground where the map's own limit is the tighter one.
"""

from __future__ import annotations

import textwrap
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any

import matplotlib as mpl
import numpy as np
import shapely
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.colors import BoundaryNorm, ListedColormap
from matplotlib.figure import Figure
from matplotlib.patches import Patch
from matplotlib_scalebar.scalebar import ScaleBar
from shapely import MultiPolygon

from geoagro.outputs.drawing.looks import FIELD, INK
from geoagro.outputs.drawing.shapes import line_collection, polygon_patches
from geoagro.outputs.drawing.typefaces import family
from geoagro.outputs.words.say import ENGLISH, Words
from geoagro.rows.records.plan import RowPlan
from geoagro.values.grid import Grid
from geoagro.values.terrain import Difficulty
from geoagro.values.words import say

_DPI = 160
_GREY, _CONTOUR = "#565e66", "#7d8288"
_SETTINGS: Any = {"font.family": family(), "text.parse_math": False, "hatch.linewidth": 0.9}
# from hard to easy; lightness rises by even steps (CIE L* 50 to 97), so that the order holds in black and white
_PAINTS = ("#a8632c", "#c98a4b", "#e2b377", "#f1d8ad", "#fbf4e4")
_METRES = (20.0, 50.0, 100.0, 200.0)
_ROWS = (5.0, 10.0, 20.0, 40.0)
_LONG_IN, _NARROWEST_IN, _MARGIN_IN, _GAP_IN = 7.0, 5.2, 0.4, 0.55  # sizes on paper, inches
_NAME_IN, _SENTENCE_LINE_IN, _MAP_HEAD_IN, _KEY_IN = 0.75, 0.2, 0.95, 1.6
_LETTERS_PER_IN = 12.3  # of the sentence's type
_WIDE = 2.5  # a field this many times wider than high has its maps one above the other


@dataclass(frozen=True)
class _Map:
    """One of the two maps: its values, class limits and words."""

    title: str
    reading: str
    grid: Grid
    limits: tuple[float, ...]
    classes: tuple[str, ...]
    first: tuple[str, ...]
    hatch: str
    verdict: str


def write_difficulty_picture(plan: RowPlan, difficulty: Difficulty, path: Path, words: Words = ENGLISH) -> None:
    """Draw the difficulty of a field's ground as a PNG file; the same ground gives the same bytes."""
    with mpl.rc_context(_SETTINGS):
        figure = draw_difficulty(plan, difficulty, words)
        FigureCanvasAgg(figure)
        figure.savefig(path, dpi=_DPI, metadata={"Software": None})


def draw_difficulty(plan: RowPlan, difficulty: Difficulty, words: Words = ENGLISH) -> Figure:
    """Draw both maps side by side (one above the other for a wide field), each with its key below."""
    west, south, east, north = plan.site.boundary.bounds
    wide = (east - west) > _WIDE * (north - south)
    width, height = _map_size_in(east - west, north - south)
    across, down = (1, 2) if wide else (2, 1)
    page = 2 * _MARGIN_IN + across * width + (across - 1) * _GAP_IN
    sentence = textwrap.wrap(words(difficulty.sentence), round((page - 2 * _MARGIN_IN) * _LETTERS_PER_IN))
    head = _MARGIN_IN + _NAME_IN + (len(sentence) + 1) * _SENTENCE_LINE_IN
    step = _MAP_HEAD_IN + height + _KEY_IN
    total = (page, head + down * step + _MARGIN_IN / 2)
    figure = Figure(figsize=total, facecolor="white")
    title = words(say("{field}: how hard the ground is for rows"), field=plan.site.name)
    _head(figure, title, [*sentence, words(say("Up the page is grid north."))], total)
    for number, one in enumerate(_maps(plan, difficulty, words)):
        column, row = (0, number) if wide else (number, 0)
        left = _MARGIN_IN + column * (width + _GAP_IN)
        top = total[1] - head - _MAP_HEAD_IN - row * step
        axes = figure.add_axes((left / total[0], (top - height) / total[1], width / total[0], height / total[1]))
        _draw_map(axes, one, plan)
        _north(axes, words)
    return figure


def _map_size_in(east_m: float, north_m: float) -> tuple[float, float]:
    scale = _LONG_IN / max(east_m, north_m)
    return max(east_m * scale, _NARROWEST_IN), north_m * scale


def _maps(plan: RowPlan, difficulty: Difficulty, words: Words) -> tuple[_Map, _Map]:
    rule = plan.design.rows
    rows = difficulty.holds_grade_m.with_values(difficulty.holds_grade_m.values / rule.spacing_m)
    spacing = words(
        say("Metres that a level row goes with its neighbour within {share:g} % of {spacing:g} m"),
        share=rule.spacing_tolerance_pct, spacing=rule.spacing_m,
    )  # fmt: skip
    grade = words(say("Rows on each side of a level row that stay below {grade:g} %"), grade=rule.max_grade_pct)
    return (
        _Map(
            words(say("How far a contour keeps its spacing")), spacing, difficulty.equidistant_m, _METRES,
            _classes(_METRES, _IN_METRES, words), ("spacing", "both"), "////", words(say("spacing is the tighter limit")),
        ),
        _Map(
            words(say("How many parallel rows hold the grade")), grade, rows, _ROWS, _classes(_ROWS, _IN_ROWS, words),
            ("grade", "both"), "\\\\\\\\", words(say("grade is the tighter limit")),
        ),
    )  # fmt: skip


# the class below the first limit, between two, and from the last on
_IN_METRES = say("below {to:g} m"), say("{at:g} to {to:g} m"), say("{at:g} m or more")
_IN_ROWS = say("below {to:g} rows"), say("{at:g} to {to:g} rows"), say("{at:g} rows or more")


def _classes(limits: tuple[float, ...], messages: tuple[str, str, str], words: Words) -> tuple[str, ...]:
    below, between, above = messages
    return (
        words(below, to=limits[0]),
        *(words(between, at=a, to=b) for a, b in pairwise(limits)),
        words(above, at=limits[-1]),
    )


def _head(figure: Figure, name: str, sentence: list[str], total: tuple[float, float]) -> None:
    left, top = _MARGIN_IN / total[0], 1 - _MARGIN_IN / total[1]
    figure.text(left, top, name, fontsize=18, fontweight="bold", color=INK, va="top")
    below = top - 0.45 / total[1]
    figure.text(left, below, "\n".join(sentence), fontsize=10, color=_GREY, va="top", linespacing=1.4)


def _draw_map(axes: Axes, one: _Map, plan: RowPlan) -> None:
    plantable = plan.ground.plantable
    _draw_classes(axes, one, plantable)
    zones = plan.zones[plan.zones["first"].isin(one.first)]
    shapes = np.array(zones.geometry.to_numpy(), dtype=object)
    hatched = {"facecolor": "none", "edgecolor": INK, "linewidth": 0.0, "hatch": one.hatch, "zorder": 3}
    for patch in polygon_patches(shapes, mm_per_m=1.0, **hatched):
        axes.add_artist(patch)
    lines = plan.contours.geometry.to_numpy()
    axes.add_collection(line_collection(lines, mm_per_m=2.0, colors=_CONTOUR, linewidths=0.45, zorder=4), autolim=False)
    for patch in polygon_patches([plan.site.boundary], mm_per_m=1e6, fill=False, edgecolor=FIELD.ink, linewidth=1.4):
        patch.set_zorder(5)
        axes.add_artist(patch)
    _frame(axes, one, plan)
    _key(axes, one, hatched=len(shapes) > 0)


def _draw_classes(axes: Axes, one: _Map, plantable: MultiPolygon) -> None:
    west, south, east, north = one.grid.bounds
    colours = ListedColormap(list(_PAINTS))  # cells without a value stay clear
    edges = [-1.0, *one.limits, 1e12]
    shown = np.ma.masked_invalid(np.where(np.isinf(one.grid.values), 1e11, one.grid.values))
    image = axes.imshow(
        shown, extent=(west, east, south, north), cmap=colours, norm=BoundaryNorm(edges, len(_PAINTS)),
        interpolation="nearest", zorder=2,
    )  # fmt: skip
    (outline,) = polygon_patches([_one_path(plantable)], mm_per_m=1e6)
    outline.set_transform(axes.transData)
    image.set_clip_path(outline)


def _one_path(area: MultiPolygon) -> MultiPolygon:
    """All parts as one shape, so that they make one clipping path."""
    return shapely.MultiPolygon(list(shapely.get_parts(area)))


def _frame(axes: Axes, one: _Map, plan: RowPlan) -> None:
    west, south, east, north = plan.site.boundary.bounds
    room = 0.02 * max(east - west, north - south)
    axes.set_xlim(west - room, east + room)
    axes.set_ylim(south - room, north + room)
    axes.set_aspect(1.0)
    axes.axis("off")
    axes.text(0, 1.0, one.title, transform=_above(axes, 0.40), fontsize=13.5, fontweight="bold", color=INK)
    axes.text(0, 1.0, one.reading, transform=_above(axes, 0.13), fontsize=10, color=_GREY)
    axes.add_artist(
        ScaleBar(
            1.0, units="m", location="lower right", frameon=False, color=INK, length_fraction=0.22,
            width_fraction=0.006, font_properties={"size": 10}, bbox_to_anchor=(1.0, 0.0), border_pad=0.2,
            bbox_transform=_above(axes, -0.55), pad=0.0,
        )
    )  # fmt: skip


def _north(axes: Axes, words: Words) -> None:
    """Draw an arrow to grid north, which is up, below the scale bar; the page's head says which north it is."""
    foot, head, letter = (_above(axes, inches, right=-0.3) for inches in (-1.42, -0.98, -0.95))
    look = {"arrowstyle": "-|>,head_length=0.6,head_width=0.25", "color": INK, "lw": 1.4, "shrinkA": 0, "shrinkB": 0}
    axes.annotate("", (1, 0), (1, 0), xycoords=head, textcoords=foot, arrowprops=look, annotation_clip=False)
    axes.text(1, 0, words(say("N")), transform=letter, fontsize=11, fontweight="bold", color=INK, ha="center")


def _above(axes: Axes, inches: float, *, right: float = 0.0) -> Any:
    """Shift axes coordinates up and to the right by inches of paper."""
    return axes.transAxes + mpl.transforms.ScaledTranslation(right, inches, axes.figure.dpi_scale_trans)


def _key(axes: Axes, one: _Map, *, hatched: bool) -> None:
    """Name the classes from hard to easy, and what the hatching means."""
    entries = [
        Patch(facecolor=paint, edgecolor=INK, linewidth=0.6, label=text)
        for paint, text in zip(_PAINTS, one.classes, strict=True)
    ]
    if hatched:
        entries.append(Patch(facecolor="white", edgecolor=INK, linewidth=0.6, hatch=one.hatch, label=one.verdict))
    axes.legend(
        handles=entries, loc="upper left", bbox_to_anchor=(0, 0), bbox_transform=_above(axes, -0.12), ncols=1,
        fontsize=10, frameon=False, borderaxespad=0.0, borderpad=0.0, handlelength=2.4, handleheight=1.25,
        labelspacing=0.35,
    )  # fmt: skip
