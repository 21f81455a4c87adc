"""Maps for the report: the whole field with its relief, and block sheets at a fixed scale.

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
from matplotlib.font_manager import fontManager
from matplotlib.lines import Line2D
from matplotlib_scalebar.scalebar import ScaleBar
from shapely import box

from geoagro.outputs.drawing import looks
from geoagro.outputs.drawing.crop_looks import MARKERS, crop_look, crop_numbers
from geoagro.outputs.drawing.frame import LegendEntry, line_entry
from geoagro.outputs.drawing.ground import GroundUse, Manner, draw_ground, draw_relief
from geoagro.outputs.drawing.lines import draw_boundary, draw_contours, draw_row_numbers, draw_rows, draw_zones
from geoagro.outputs.drawing.page import Page
from geoagro.outputs.drawing.typefaces import FONTS
from geoagro.outputs.words.say import Words
from geoagro.values.base.value import Value
from geoagro.values.report import LaidOut
from geoagro.values.rows import TreeRows
from geoagro.values.terrain import Terrain
from geoagro.values.words import say

_FINER = 1.45  # maps are drawn this much larger and shrunk on the page, so that letters and lines suit the paper
_THINNER = 2.5  # outlines may lie 0.12 mm off on paper, which keeps the file small
_SETTINGS: Any = {
    "font.family": ["Open Sans", "DejaVu Sans"],
    "font.size": 11,
    "hatch.linewidth": 0.5,
    "svg.fonttype": "path",
    "svg.hashsalt": "geoagro",
    "text.parse_math": False,
    "path.simplify": False,
    "savefig.dpi": 140,
}
_MARK_SHARE = 0.7
"""Width of a plant's mark at most, of the distance to its nearest neighbour: square marks corner to corner don't meet."""
_MOST_MARKS = 8_000
"""More marks than these take less room in a file as pixels than as outlines (some 40 bytes a mark against 300 kB a sheet)."""
_RELIEF_DPI = 75  # relief is smooth: this is 110 dots per inch on paper
CLOSEST_MM = 0.6
"""Crops whose plants stand closer than this on paper aren't drawn on block sheets."""

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


def block_legend_height(laid: LaidOut) -> float:
    """Room on paper for a block sheet's legend: all crops, reasons, strips, rows and the boundary, four to a line."""
    entries = laid.plants["crop"].nunique() + laid.unplanted["reason"].nunique() + 5
    return 4.1 * float(np.ceil(entries / 4)) + 4.0


def best_height(bounds: Bounds, width_mm: float, tallest_mm: float) -> float:
    """Height on paper that a field as wide as the page needs, within limits."""
    west, south, east, north = bounds
    return float(np.clip(width_mm * (north - south) / max(east - west, 1e-9) * 1.02, 70.0, tallest_mm))


def write_overview(data: MapData, path: Path, size_mm: tuple[float, float], *, legend_mm: float) -> None:
    """Draw the whole field: ground by use, relief, contours, rows, boundary; the legend below, if it has room."""
    with mpl.rc_context(_SETTINGS | {"savefig.dpi": _RELIEF_DPI}):
        _fonts()
        wide, high = size_mm
        page = fit(data.laid.boundary.bounds, (wide, high - legend_mm))
        figure = Figure(figsize=(wide * _FINER / 25.4, high * _FINER / 25.4), facecolor="white")
        axes = _axes(figure, page, (0.0, legend_mm / high, 1.0, 1 - legend_mm / high))
        entries = _draw_field(axes, data, page)
        if legend_mm:
            _legend(figure, entries, data.words, (0.0, 0.0, 1.0, (legend_mm - 3) / high), columns=3)
        _save(figure, path)


def _draw_field(axes: Axes, data: MapData, page: Page) -> list[LegendEntry]:
    laid = data.laid
    ground = _draw_use(axes, data, page)
    if data.terrain is not None:
        draw_relief(axes, data.terrain, laid.boundary, page)
    contours = draw_contours(axes, laid.contours, page)
    tree_rows = TreeRows(laid.tree_rows, laid.spacing_m, laid.tree_rows.iloc[:0])
    rows = draw_rows(axes, tree_rows, page)
    boundary = draw_boundary(axes, laid.boundary)
    zones = draw_zones(axes, laid.zones.zones if laid.zones else None)
    draw_row_numbers(axes, tree_rows, page, shapely.union_all(laid.exclusions.geometry.to_numpy()))
    _furniture(axes)
    return [*rows, *ground, *contours, *zones, *boundary]


def _draw_use(axes: Axes, data: MapData, page: Page, *, pale: float = 0.0) -> list[LegendEntry]:
    laid = data.laid
    use = GroundUse(laid.unplanted, laid.paths, laid.beds, laid.tree_beds)
    return draw_ground(axes, use, page, Manner(data.words, pale, _THINNER, is_cut=True))


def write_block(data: MapData, path: Path, extent: Bounds, *, size_mm: tuple[float, float], legend_mm: float) -> None:
    """Draw one block sheet: beds, rows with their numbers, plants by crop, and a 10 or 20 m grid of crosses."""
    with mpl.rc_context(_SETTINGS | {"font.size": 8, "savefig.dpi": 180}):
        _fonts()
        wide, high = size_mm
        page = Page(False, extent, wide / (extent[2] - extent[0]))
        figure = Figure(figsize=(wide / 25.4, high / 25.4), facecolor="white")
        axes = _axes(figure, page, (0.0, legend_mm / high, 1.0, 1 - legend_mm / high))
        ground = _draw_use(axes, data, page, pale=0.62)
        boundary = draw_boundary(axes, data.laid.boundary)
        rows = _block_rows(axes, data, page)
        plants = _plants(axes, data, page)
        _grid(axes, page)
        _furniture(axes, text_pt=8, corner="lower right")
        _legend(figure, [*plants, *rows, *ground, *boundary], data.words, (0, 0, 1, (legend_mm - 2) / high), text_pt=8)
        _save(figure, path)


def _block_rows(axes: Axes, data: MapData, page: Page) -> list[LegendEntry]:
    """Draw the rows, and write each row's number where it enters the sheet from the west."""
    inside = shapely.intersection(data.laid.tree_rows.geometry.to_numpy(), box(*page.extent))
    here = ~shapely.is_empty(inside)
    for line in shapely.simplify(inside[here], 0.1 / page.mm_per_m):
        for part in shapely.get_parts(line):
            if part.geom_type == "LineString":
                axes.plot(*part.xy, color=looks.TREE_ROW.ink, linewidth=0.7, zorder=5)
    middles = shapely.get_coordinates(shapely.point_on_surface(inside[here]))
    for number, line, middle in zip(data.laid.tree_rows["row"][here], inside[here], middles, strict=True):
        points = shapely.get_coordinates(line)
        x, y = points[np.argmin(points[:, 0])] if len(points) else middle
        x = max(x, page.extent[0] + 3.2 / page.mm_per_m)
        axes.text(
            x, y, str(number), fontsize=7, fontweight="bold", ha="center", va="center", zorder=8, clip_on=True,
            bbox={"boxstyle": "round,pad=0.15", "facecolor": "white", "edgecolor": looks.INK, "linewidth": 0.4},
        )  # fmt: skip
    return [line_entry(data.words(say("Tree row, with its number")), looks.TREE_ROW)] if here.any() else []


def _plants(axes: Axes, data: MapData, page: Page) -> list[LegendEntry]:
    """Mark the plants of the crops that stand wide enough apart on paper, taller strata larger."""
    plants, facts = data.laid.plants, data.laid.crops
    west, south, east, north = page.extent
    x, y, crop = plants["x"].to_numpy(), plants["y"].to_numpy(), plants["crop"].to_numpy()
    place = plants["nearest_m"].fillna(np.inf).to_numpy()
    here = (x >= west) & (x <= east) & (y >= south) & (y <= north)
    gaps_mm = {code: crop_gap_m(data.laid, code) * page.mm_per_m for code in sorted(set(crop))}
    drawn = {code: here & (crop == code) for code, gap in gaps_mm.items() if gap >= CLOSEST_MM}
    many = sum(int(chosen.sum()) for chosen in drawn.values()) > _MOST_MARKS
    entries = []
    for code, number in crop_numbers(crop).items():
        chosen = drawn.get(code, np.zeros(0, dtype=bool))
        if not chosen.any():
            continue
        look = crop_look(number, facts[code].stratum)
        size = np.minimum(look.size_mm * 0.5, _MARK_SHARE * place[chosen] * page.mm_per_m)
        style: dict[str, Any] = {"marker": MARKERS[look.shape], "color": look.paint, "edgecolors": look.ink}
        axes.scatter(
            x[chosen], y[chosen], s=(size / 25.4 * 72) ** 2, linewidths=0.3, zorder=6, rasterized=many, **style
        )
        mark = Line2D(
            [], [], linestyle="none", marker=MARKERS[look.shape], markerfacecolor=look.paint, markersize=5.5,
            markeredgecolor=look.ink, markeredgewidth=0.5,
        )  # fmt: skip
        entries.append(LegendEntry(facts[code].name, mark))
    return entries


def crop_gap_m(laid: LaidOut, code: str) -> float:
    """Usual distance from a plant to the next of its crop in its line, metres; infinite where it stands alone."""
    plants = laid.plants[laid.plants["crop"] == code].sort_values(["bed", "line", "station_m"])
    same = (plants["bed"].to_numpy()[1:] == plants["bed"].to_numpy()[:-1]) & (
        plants["line"].to_numpy()[1:] == plants["line"].to_numpy()[:-1]
    )
    gaps = np.diff(plants["station_m"].to_numpy())[same]
    return float(np.median(gaps)) if len(gaps) else float("inf")


def undrawn(laid: LaidOut, scale: int) -> list[str]:
    """Names of the crops that stand too close to be drawn at a scale."""
    codes = sorted(set(laid.plants["crop"]))
    return [laid.crops[code].name for code in codes if crop_gap_m(laid, code) * 1000 / scale < CLOSEST_MM]


def _grid(axes: Axes, page: Page) -> None:
    """Mark every 20 m (10 m on large scales) with a small cross, and its coordinate at the edge."""
    step = 10.0 if page.mm_per_m >= 3 else 20.0 if page.mm_per_m >= 1.5 else 50.0
    west, south, east, north = page.extent
    xs, ys = np.arange(np.ceil(west / step), east / step) * step, np.arange(np.ceil(south / step), north / step) * step
    gx, gy = np.meshgrid(xs, ys)
    axes.plot(gx.ravel(), gy.ravel(), "+", color="#2b5c8a", markersize=5, markeredgewidth=0.4, zorder=7)
    edge: dict[str, Any] = {"fontsize": 5.5, "color": "#2b5c8a", "zorder": 8}
    for x in xs[1:-1]:
        axes.text(x, south, f"{x:.0f}", ha="center", va="bottom", **edge)
    for y in ys[1:-1]:
        axes.text(east, y, f"{y:.0f}", ha="right", va="center", rotation=90, **edge)


def write_index(data: MapData, path: Path, blocks: list[Bounds], size_mm: tuple[float, float]) -> None:
    """Draw the field with the frames and numbers of its block sheets."""
    with mpl.rc_context(_SETTINGS):
        _fonts()
        page = fit(shapely.union_all([box(*b) for b in blocks] + [data.laid.boundary]).bounds, size_mm)
        figure = Figure(figsize=(size_mm[0] * _FINER / 25.4, size_mm[1] * _FINER / 25.4), facecolor="white")
        axes = _axes(figure, page, (0.0, 0.0, 1.0, 1.0))
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
    with mpl.rc_context(_SETTINGS | {"font.size": 8}):
        _fonts()
        figure = Figure(figsize=(width_mm / 25.4, lines * high / 25.4), facecolor="white")
        for k, data in enumerate(maps):
            left, bottom = (k % 4) / 4 + 0.005, 1 - (k // 4 + 1) / lines
            page = fit(data.laid.boundary.bounds, (width_mm * 0.24, high - 7.0))
            place = (left, bottom + 0.01, 0.24, (high - 7.0) / high / lines)
            axes = _axes(figure, page, place)
            page = replace(page, mm_per_m=page.mm_per_m / (2 * _FINER))
            rows = TreeRows(data.laid.tree_rows, data.laid.spacing_m, data.laid.tree_rows.iloc[:0])
            draw_rows(axes, rows, page)
            draw_boundary(axes, data.laid.boundary)
            axes.add_artist(
                ScaleBar(1.0, location="lower right", length_fraction=0.3, font_properties={"size": 6}, box_alpha=0.8)
            )
            axes.set_title(
                textwrap.shorten(f"{k + 1}. {data.laid.name}", 34, placeholder="…"), fontsize=7.5, loc="left", pad=2
            )
        _save(figure, path)


def _axes(figure: Figure, page: Page, place: tuple[float, float, float, float]) -> Axes:
    axes = figure.add_axes(place)
    west, south, east, north = page.extent
    axes.set(xlim=(west, east), ylim=(south, north), xticks=[], yticks=[], aspect=1.0)
    for side in axes.spines.values():
        side.set(linewidth=0.8, color="#9aa1a8")
    return axes


def _furniture(axes: Axes, *, text_pt: float = 11, corner: str = "lower left") -> None:
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


def _legend(
    figure: Figure,
    entries: list[LegendEntry],
    words: Words,
    place: tuple[float, float, float, float],
    *,
    text_pt: float = 11,
    columns: int = 4,
) -> None:
    left, bottom, width, height = place
    figure.legend(
        [entry.mark for entry in entries],
        [words(entry.words) for entry in entries],
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


def _fonts() -> None:
    known = {entry.fname for entry in fontManager.ttflist}
    for file in sorted(FONTS.glob("*.ttf")):
        if str(file) not in known:
            fontManager.addfont(str(file))


def _save(figure: Figure, path: Path) -> None:
    FigureCanvasSVG(figure)
    figure.savefig(path, format="svg", metadata={"Date": None, "Creator": None})
