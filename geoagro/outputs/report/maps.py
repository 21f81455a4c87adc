"""Maps for the report: the whole field with its relief, and the index of its block sheets.

Drawn in black-and-white-safe looks (geoagro.outputs.drawing.looks); the legend holds only what is drawn.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import matplotlib as mpl
import numpy as np
import shapely
from matplotlib.axes import Axes
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure
from matplotlib_scalebar.scalebar import ScaleBar
from shapely import box

from geoagro.outputs.drawing import looks
from geoagro.outputs.drawing.frame import LegendEntry
from geoagro.outputs.drawing.ground import GroundUse, Manner, draw_ground, draw_relief
from geoagro.outputs.drawing.letters import LEAST_PT, width_mm
from geoagro.outputs.drawing.lines import (
    draw_boundary,
    draw_contours,
    draw_row_numbers,
    draw_rows,
    draw_zones,
    zone_name_boxes,
)
from geoagro.outputs.drawing.page import Page
from geoagro.outputs.drawing.typefaces import family
from geoagro.outputs.words.say import Words
from geoagro.values.base.value import Value
from geoagro.values.report import LaidOut
from geoagro.values.rows import TreeRows
from geoagro.values.terrain import Terrain

_FINER = 1.45  # maps are drawn this much larger and shrunk on the page, so that letters and lines suit the paper
_THINNER = 2.5  # outlines may lie 0.12 mm off on paper, which keeps the file small
SETTINGS: Any = {
    "font.family": family(),
    "font.size": 11,
    "hatch.linewidth": 0.5,
    "svg.fonttype": "path",
    "svg.hashsalt": "geoagro",
    "text.parse_math": False,
    "path.simplify": False,
    "savefig.dpi": 140,
}
_RELIEF_DPI = 75  # relief is smooth: this is 110 dots per inch on paper
Bounds = tuple[float, float, float, float]


@dataclass(frozen=True, eq=False, repr=False)
class MapData(Value):
    """What maps are drawn from; `terrain` is None where its files aren't at hand.

    `stakes` (layer MARKS) and `sample_plots` (layer PLOTS) are None where there are none; only the offline map shows them.

    >>> from geoagro import MapData, crop_facts, example_layout, read_crop_library, read_laid_out, read_layout_file, write_layout
    >>> from geoagro.outputs.words.say import Words
    >>> import tempfile
    >>> laid, library = example_layout(), read_crop_library()
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     file = read_layout_file(write_layout(laid, Path(folder))[0])
    ...     data = MapData(read_laid_out(file, crop_facts(laid.design, library), design=laid.design), laid.terrain, Words("en"))
    >>> len(data.laid.plants), data.stakes is None
    (5490, True)
    """

    laid: LaidOut
    terrain: Terrain | None
    words: Words
    stakes: Any | None = None
    sample_plots: Any | None = None


def fit(bounds: Bounds, size_mm: tuple[float, float], *, room: float = 0.055) -> Page:
    """Centre the field in a map of this size on paper."""
    west, south, east, north = bounds
    wide, high = size_mm
    around = 2 * room * max(east - west, north - south)
    scale = min(wide / (east - west + around), high / (north - south + around))
    x, y, half_x, half_y = (west + east) / 2, (south + north) / 2, wide / scale / 2, high / scale / 2
    return Page(wide > high, (x - half_x, y - half_y, x + half_x, y + half_y), scale * _FINER)


def legend_height(laid: LaidOut) -> float:
    """Room on paper for the overview's legend, three entries to a line."""
    entries = laid.unplanted["reason"].nunique() + 7 + int(laid.zones is not None)
    return 5.0 * float(np.ceil(entries / 3)) + 4.0


def best_height(bounds: Bounds, width_mm: float, tallest_mm: float) -> float:
    """Height on paper that a field as wide as the page needs, within limits."""
    west, south, east, north = bounds
    return float(np.clip(width_mm * (north - south) / max(east - west, 1e-9) * 1.02, 70.0, tallest_mm))


def write_overview(data: MapData, path: Path, size_mm: tuple[float, float], *, legend_mm: float) -> None:
    """Draw the whole field: ground by use, relief, contours, rows, boundary; the legend below, if it has room."""
    with mpl.rc_context(SETTINGS | {"savefig.dpi": _RELIEF_DPI}):
        wide, high = size_mm
        page = fit(data.laid.boundary.bounds, (wide, high - legend_mm))
        figure = Figure(figsize=(wide * _FINER / 25.4, high * _FINER / 25.4), facecolor="white")
        axes = map_axes(figure, page, (0.0, legend_mm / high, 1.0, 1 - legend_mm / high))
        entries = _draw_field(axes, data, page)
        if legend_mm:
            draw_legend(figure, entries, data.words, (0.0, 0.0, 1.0, (legend_mm - 3) / high), columns=3)
        _save(figure, path)


def _draw_field(axes: Axes, data: MapData, page: Page) -> list[LegendEntry]:
    laid = data.laid
    ground = draw_use(axes, data, page)
    if data.terrain is not None:
        draw_relief(axes, data.terrain, laid.boundary, page)
    contours = draw_contours(axes, laid.contours, page, data.words)
    tree_rows = TreeRows(laid.tree_rows, laid.spacing_m, laid.tree_rows.iloc[:0])
    rows = draw_rows(axes, tree_rows, page)
    boundary = draw_boundary(axes, laid.boundary)
    named = laid.zones.zones if laid.zones else None
    zones = draw_zones(axes, named)
    kept_free = shapely.union_all(laid.exclusions.geometry.to_numpy())
    draw_row_numbers(axes, tree_rows, page, kept_free.union(zone_name_boxes(named, page)))
    furniture(axes)
    return [*rows, *ground, *contours, *zones, *boundary]


def draw_use(axes: Axes, data: MapData, page: Page, *, pale: float = 0.0) -> list[LegendEntry]:
    """Fill the ground by its use, mixed with this share of white; returns the legend."""
    laid = data.laid
    use = GroundUse(laid.unplanted, laid.paths, laid.beds, laid.tree_beds)
    return draw_ground(axes, use, page, Manner(data.words, pale, _THINNER, is_cut=True))


def write_index(data: MapData, path: Path, blocks: list[Bounds], size_mm: tuple[float, float]) -> None:
    """Draw the field with the frames and numbers of its block sheets."""
    with mpl.rc_context(SETTINGS):
        page = fit(shapely.union_all([box(*b) for b in blocks] + [data.laid.boundary]).bounds, size_mm)
        figure = Figure(figsize=(size_mm[0] * _FINER / 25.4, size_mm[1] * _FINER / 25.4), facecolor="white")
        axes = map_axes(figure, page, (0.0, 0.0, 1.0, 1.0))
        draw_rows(axes, TreeRows(data.laid.tree_rows, data.laid.spacing_m, data.laid.tree_rows.iloc[:0]), page)
        draw_boundary(axes, data.laid.boundary)
        middles = _tile_middles(blocks)
        for number, (west, south, east, north) in enumerate(blocks, start=1):
            axes.plot([west, east, east, west, west], [south, south, north, north, south], color="#b3541e", lw=1.2)
            axes.text(
                *middles[number - 1], str(number), fontsize=18, fontweight="bold", ha="center",
                va="center", color="#8a3d12", bbox={"boxstyle": "round,pad=0.2", "facecolor": "white", "alpha": 0.85,
                "edgecolor": "none"}, zorder=9,
            )  # fmt: skip
        _save(figure, path)


def _tile_middles(blocks: list[Bounds]) -> list[tuple[float, float]]:
    """Where to write the frames' numbers: middles of the tiles that the overlapping frames would be if they only touched."""
    lefts, tops = sorted({b[0] for b in blocks}), sorted({b[3] for b in blocks})
    west, south = min(b[0] for b in blocks), min(b[1] for b in blocks)
    wide = (max(b[2] for b in blocks) - west) / len(lefts)
    high = (max(b[3] for b in blocks) - south) / len(tops)
    return [(west + (lefts.index(b[0]) + 0.5) * wide, south + (tops.index(b[3]) + 0.5) * high) for b in blocks]


def write_outlines(maps: Sequence[MapData], path: Path, width_mm: float) -> None:
    """Draw the outlines and rows of many fields side by side, four to a line, each with its number, name and scale."""
    lines, high = -(-len(maps) // 4), 48.0
    with mpl.rc_context(SETTINGS | {"font.size": 8}):
        figure = Figure(figsize=(width_mm / 25.4, lines * high / 25.4), facecolor="white")
        for k, data in enumerate(maps):
            left, bottom = (k % 4) / 4 + 0.005, 1 - (k // 4 + 1) / lines
            page = fit(data.laid.boundary.bounds, (width_mm * 0.24, high - 7.0))
            place = (left, bottom + 0.01, 0.24, (high - 7.0) / high / lines)
            axes = map_axes(figure, page, place)
            page = replace(page, mm_per_m=page.mm_per_m / (2 * _FINER))
            rows = TreeRows(data.laid.tree_rows, data.laid.spacing_m, data.laid.tree_rows.iloc[:0])
            draw_rows(axes, rows, page)
            draw_boundary(axes, data.laid.boundary)
            axes.add_artist(
                ScaleBar(
                    1.0, location="lower right", length_fraction=0.3, font_properties={"size": LEAST_PT}, box_alpha=0.8
                )
            )
            axes.set_title(
                textwrap.shorten(f"{k + 1}. {data.laid.name}", 34, placeholder="…"), fontsize=7.5, loc="left", pad=2
            )
        _save(figure, path)


def map_axes(figure: Figure, page: Page, place: tuple[float, float, float, float]) -> Axes:
    """Add an empty map at a place given as shares of the figure."""
    axes = figure.add_axes(place)
    west, south, east, north = page.extent
    axes.set(xlim=(west, east), ylim=(south, north), xticks=[], yticks=[], aspect=1.0)
    for side in axes.spines.values():
        side.set(linewidth=0.8, color="#9aa1a8")
    return axes


def furniture(axes: Axes, *, text_pt: float = 11, corner: str = "lower left") -> None:
    """Add a scale bar and a north arrow (grid north) on the map."""
    backing = {"box_color": "white", "box_alpha": 0.8, "color": looks.INK, "pad": 0.5, "border_pad": 0.4}
    axes.add_artist(
        ScaleBar(
            1.0,
            location=corner,
            length_fraction=0.22,
            width_fraction=0.006,
            font_properties={"size": text_pt},
            **backing,
        )
    )
    arrow = {"arrowstyle": "-|>", "lw": 1.4, "color": looks.INK, "mutation_scale": text_pt * 1.4}
    axes.annotate(
        "N", xy=(0.975, 0.985), xytext=(0.975, 0.925), xycoords="axes fraction", ha="center", va="center",
        fontsize=text_pt + 1, fontweight="bold", color=looks.INK, arrowprops=arrow, zorder=10,
        bbox={"boxstyle": "round,pad=0.1", "facecolor": "white", "alpha": 0.8, "edgecolor": "none"},
    )  # fmt: skip


_BESIDE_WORDS = 2.0 + 0.8 + 1.2
"""What a legend's column has beside its words: mark, what parts it from them, what parts columns; in heights of letters."""


def legend_lines(told: Sequence[str], columns: int, room_mm: float, text_pt: float) -> tuple[list[str], int]:
    """Words of a legend at one size of letters, the widest broken in two where columns would touch; and how many columns fit."""
    lines, count = list(told), min(columns, max(len(told), 1))
    while _asked_mm(lines, count, text_pt) > room_mm:
        whole = [k for k, text in enumerate(lines) if "\n" not in text and " " in text]
        if whole:
            widest = max(whole, key=lambda k: width_mm(lines[k], text_pt))
            lines[widest] = _in_two(lines[widest], text_pt)
        elif count > 1:
            lines, count = list(told), count - 1
        else:
            break
    return lines, count


def _asked_mm(lines: Sequence[str], columns: int, text_pt: float) -> float:
    """Width that a legend takes as it fills its columns."""
    parts = np.array_split(np.arange(len(lines)), columns)
    widest = (
        max((width_mm(line, text_pt) for k in part for line in lines[k].split("\n")), default=0.0) for part in parts
    )
    return sum(widest) + columns * _BESIDE_WORDS * text_pt * 25.4 / 72


def _in_two(text: str, text_pt: float) -> str:
    """Break a text at the blank that leaves its longer line shortest."""
    words = text.split(" ")
    halves = [(" ".join(words[:k]), " ".join(words[k:])) for k in range(1, len(words))]
    return "\n".join(min(halves, key=lambda pair: max(width_mm(half, text_pt) for half in pair)))


def draw_legend(
    figure: Figure,
    entries: list[LegendEntry],
    words: Words,
    place: tuple[float, float, float, float],
    *,
    text_pt: float = 11,
    columns: int = 4,
) -> None:
    """Write the legend in columns at a place given as shares of the figure, long words in two lines where columns would touch."""
    left, bottom, width, height = place
    told, columns = legend_lines(
        [words(entry.words) for entry in entries], columns, width * figure.get_figwidth() * 25.4, text_pt
    )
    figure.legend(
        [entry.mark for entry in entries],
        told,
        loc="upper left",
        bbox_to_anchor=(left, bottom, width, height),
        mode="expand",
        ncols=columns,
        fontsize=text_pt,
        handlelength=2.0,
        handleheight=1.2,
        labelspacing=0.5,
        columnspacing=1.2,
        borderpad=0.0,
        borderaxespad=0.0,
        frameon=False,
    )


def _save(figure: Figure, path: Path) -> None:
    FigureCanvasSVG(figure)
    figure.savefig(path, format="svg", metadata={"Date": None, "Creator": None})
