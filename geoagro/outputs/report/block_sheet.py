"""Block sheets of the report: beds, rows with their numbers and every plant that can be told apart, at a fixed scale.

A sheet is a page of PDF in which each mark is drawn once and placed many times, so that 20,000 plants are sharp at any
size and take some 10 bytes each.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import matplotlib as mpl
import numpy as np
import pandas as pd
import shapely
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from shapely import box
from shapely.geometry.base import BaseGeometry

from geoagro.arrays import Bools, Floats, Shapes
from geoagro.outputs.drawing import looks
from geoagro.outputs.drawing.crop_looks import MARKERS, crop_look, crop_numbers
from geoagro.outputs.drawing.frame import LegendEntry, line_entry
from geoagro.outputs.drawing.lean_pdf import save_lean
from geoagro.outputs.drawing.letters import LEAST_PT
from geoagro.outputs.drawing.lines import draw_boundary
from geoagro.outputs.drawing.page import Page
from geoagro.outputs.report import maps
from geoagro.outputs.report.bed_letters import letter_beds, plants_on
from geoagro.outputs.report.maps import Bounds, MapData
from geoagro.values.report import LaidOut
from geoagro.values.words import say

_MARK_SHARE = 0.7
"""Width of a plant's mark at most, of the distance to its nearest neighbour: square marks corner to corner don't meet."""
CLOSEST_MM = 1.0
"""Crops whose plants stand closer than this on paper would merge into a belt: their beds carry names instead of marks."""
LEGEND_PT = 7.5
"""Size of the legend's letters, the same on every sheet and in every language."""
GRID_MM = 4.0
"""Room below and right of the map for the numbers of the grid, so that they cover nothing."""
_NUMBER_HALF_MM = 3.2, 2.2
"""Half the width and height of a row's number in its box, with air."""
_TOUCH = 0.8
"""Of that, what two numbers keep from each other: the air may be shared, frames may not overlap."""
_STEPS = (1, 2, 5, 10, 20, 50, 100)
_NUMBERS_APART_MM = 3.2
_ARROW_SHARE, _BAR_SHARE = (0.04, 0.09), (0.27, 0.05)
"""What the north arrow takes of the map's width and height at its upper right, and the scale bar at its lower right."""
_SIZE_STEP_PT = 0.2
"""Marks come in sizes of this step, smaller rather than larger, so that few have to be drawn."""
_POINTS_PER_MM = 72 / 25.4
_GAPS_OF = 100_000
"""Plants of a crop whose distances are enough to tell the usual one."""


def legend_height(laid: LaidOut) -> float:
    """Room on paper for a block sheet's legend: all crops, reasons, strips, rows and the boundary, four to a line, one in two lines."""
    entries = laid.plants["crop"].nunique() + laid.unplanted["reason"].nunique() + 5
    return 4.1 * float(np.ceil(entries / 4)) + 7.0


def write_block(
    data: MapData,
    path: Path,
    extent: Bounds,
    *,
    size_mm: tuple[float, float],
    legend_mm: float,
    close: frozenset[str] | None = None,
) -> None:
    """Draw one block sheet: beds, rows with their numbers, plants by crop, and a 10 or 20 m grid of crosses.

    `close` are the crops that stand too close for marks at this scale; found anew where None.
    """
    with mpl.rc_context(maps.SETTINGS | {"font.size": 8}):
        wide, high = size_mm
        page = Page(False, extent, (wide - GRID_MM) / (extent[2] - extent[0]))
        figure = Figure(figsize=(wide / 25.4, high / 25.4), facecolor="white")
        foot = (legend_mm + GRID_MM) / high
        axes = maps.map_axes(figure, page, (0.0, foot, 1.0 - GRID_MM / wide, 1.0 - foot))
        ground = maps.draw_use(axes, data, page, pale=0.62)
        boundary = draw_boundary(axes, data.laid.boundary)
        rows = _rows(axes, data, page)
        close = close_crops(data.laid, page.mm_per_m) if close is None else close
        named = letter_beds(axes, data, page, close)
        plants = _plants(axes, data, page, named, close)
        _grid(axes, page)
        maps.furniture(axes, text_pt=8, corner="lower right")
        entries = [*plants, *rows, *ground, *boundary]
        maps.draw_legend(figure, entries, data.words, (0, 0, 1, (legend_mm - 2) / high), text_pt=LEGEND_PT)
        save_lean(figure, path)


def _rows(axes: Axes, data: MapData, page: Page) -> list[LegendEntry]:
    """Draw the rows, and write each row's number, or every so many's, where it enters the sheet from the west."""
    inside = shapely.intersection(data.laid.tree_rows.geometry.to_numpy(), box(*page.extent))
    here = ~shapely.is_empty(inside)
    for line in shapely.simplify(inside[here], 0.1 / page.mm_per_m):
        for part in shapely.get_parts(line):
            if part.geom_type == "LineString":
                axes.plot(*part.xy, color=looks.TREE_ROW.ink, linewidth=0.7, zorder=5)
    numbers = data.laid.tree_rows["row"].to_numpy()
    every = numbered_every(data.laid.spacing_m, page)
    here &= numbers % every == 0
    for number, (x, y) in zip(numbers[here], number_places(inside[here], page), strict=True):
        if np.isnan(x):
            continue
        axes.text(
            x, y, str(number), fontsize=7, fontweight="bold", ha="center", va="center", zorder=8, clip_on=True,
            bbox={"boxstyle": "round,pad=0.15", "facecolor": "white", "edgecolor": looks.INK, "linewidth": 0.4},
        )  # fmt: skip
    words = data.words(say("Tree row, with its number"))
    if every > 1:
        words = data.words(say("Tree row, numbers in steps of {n}"), n=every)
    return [line_entry(words, looks.TREE_ROW)] if len(numbers) else []


def numbered_every(spacing_m: float, page: Page) -> int:
    """Of how many rows one has its number on this paper, so that numbers at the rows' ends stand clear of each other."""
    return next(n for n in _STEPS if n * spacing_m * page.mm_per_m >= _NUMBERS_APART_MM or n == _STEPS[-1])


def number_places(rows: Shapes, page: Page) -> Floats:
    """Where each row's number stands, (n, 2): the row's westernmost point at which the number is whole and bare.

    That is off the frame, the north arrow, the scale bar and the numbers of the rows before. A row that is nowhere so has its
    number beside it, where that is hardly off; one that only looks in at a corner, or has no room, shows none (NaN): another
    sheet has it.
    """
    room = _numbers_room(page)
    free = shapely.intersection(shapely.segmentize(rows, 2 * _NUMBER_HALF_MM[0] / page.mm_per_m), room)
    places = np.full((len(rows), 2), np.nan)
    apart = 2 * np.array(_NUMBER_HALF_MM) / page.mm_per_m * _TOUCH
    for k, row in enumerate(free):
        points = shapely.get_coordinates(row)
        if not len(points) and shapely.distance(rows[k], room) * page.mm_per_m <= max(_NUMBER_HALF_MM):
            points = shapely.get_coordinates(shapely.shortest_line(room, rows[k]))[:1]
        for point in points[np.argsort(points[:, 0], kind="stable")]:
            if not (np.abs(places[:k] - point) < apart).all(axis=1).any():
                places[k] = point
                break
    return places


def _numbers_room(page: Page) -> BaseGeometry:
    """Ground on which the middle of a row's number may stand, so that no edge, arrow or bar cuts or covers it."""
    west, south, east, north = page.extent
    beside, above = (half / page.mm_per_m for half in _NUMBER_HALF_MM)
    wide, high = east - west, north - south
    arrow = box(east - _ARROW_SHARE[0] * wide - beside, north - _ARROW_SHARE[1] * high - above, east, north)
    bar = box(east - _BAR_SHARE[0] * wide - beside, south, east, south + _BAR_SHARE[1] * high + above)
    return box(west + beside, south + above, east - beside, north - above).difference(arrow).difference(bar)


def _plants(axes: Axes, data: MapData, page: Page, named: Bools, close: frozenset[str]) -> list[LegendEntry]:
    """Mark the plants of the crops that stand wide enough apart on paper, taller strata larger; none under letters."""
    facts, here = data.laid.crops, plants_on(data.laid, page)
    plants = data.laid.plants.iloc[here[~named[here]]]
    x, y, crop = plants["x"].to_numpy(), plants["y"].to_numpy(), plants["crop"].to_numpy()
    place_mm = plants["nearest_m"].fillna(np.inf).to_numpy() * page.mm_per_m
    entries = []
    for code, number in crop_numbers(data.laid.plants["crop"].unique()).items():
        chosen = np.asarray(crop == code, dtype=bool)
        if not chosen.any() or code in close:
            continue
        look = crop_look(number, facts[code].stratum)
        size_mm = np.minimum(look.size_mm * 0.5, _MARK_SHARE * place_mm[chosen])
        style: dict[str, Any] = {
            "linestyle": "none", "marker": MARKERS[look.shape], "markerfacecolor": look.paint, "markeredgecolor": look.ink
        }  # fmt: skip
        for size_pt, some in _by_size(size_mm * _POINTS_PER_MM):
            # one call, one drawing of the mark in the file
            axes.plot(x[chosen][some], y[chosen][some], markersize=size_pt, markeredgewidth=0.3, zorder=6, **style)
        entries.append(
            LegendEntry(data.words.crop(facts[code].name), Line2D([], [], markersize=5.5, markeredgewidth=0.5, **style))
        )
    return entries


def _by_size(size_pt: Floats) -> Iterator[tuple[float, Any]]:
    """Sizes in steps, none larger than asked but for the smallest step, each with the plants that have it."""
    steps = np.maximum(np.floor(size_pt / _SIZE_STEP_PT + 1e-9), 1.0)
    for step in np.unique(steps):
        yield float(step * _SIZE_STEP_PT), steps == step


def crop_gap_m(laid: LaidOut, code: str) -> float:
    """Usual distance from a plant to the next of its crop in its line, metres; infinite where it stands alone."""
    plants = _some_beds(laid.plants.loc[laid.plants["crop"] == code, ["bed", "line", "station_m"]])
    plants = plants.sort_values(["bed", "line", "station_m"])
    same = (plants["bed"].to_numpy()[1:] == plants["bed"].to_numpy()[:-1]) & (
        plants["line"].to_numpy()[1:] == plants["line"].to_numpy()[:-1]
    )
    gaps = np.diff(plants["station_m"].to_numpy())[same]
    return float(np.median(gaps)) if len(gaps) else float("inf")


def _some_beds(plants: pd.DataFrame) -> pd.DataFrame:
    """Plants of whole beds spread over the field, about `_GAPS_OF` of them; all where there are no more."""
    every = len(plants) // _GAPS_OF
    if every < 2:
        return plants
    beds = plants["bed"].drop_duplicates()
    return plants[plants["bed"].isin(list(beds.iloc[::every]))]


def close_crops(laid: LaidOut, mm_per_m: float) -> frozenset[str]:
    """Crops whose plants stand too close for marks on paper."""
    return frozenset(code for code in laid.plants["crop"].unique() if crop_gap_m(laid, code) * mm_per_m < CLOSEST_MM)


def _grid(axes: Axes, page: Page) -> None:
    """Mark every 20 m (10 m on large scales) with a small cross, and write its coordinate outside the frame."""
    step = 10.0 if page.mm_per_m >= 3 else 20.0 if page.mm_per_m >= 1.5 else 50.0
    west, south, east, north = page.extent
    xs, ys = np.arange(np.ceil(west / step), east / step) * step, np.arange(np.ceil(south / step), north / step) * step
    gx, gy = np.meshgrid(xs, ys)
    axes.plot(gx.ravel(), gy.ravel(), "+", color="#2b5c8a", markersize=5, markeredgewidth=0.4, zorder=7)
    edge: dict[str, Any] = {"fontsize": LEAST_PT, "color": "#2b5c8a"}
    gap = 0.6 / page.mm_per_m
    for x in xs[1:-1]:
        axes.text(x, south - gap, f"{x:.0f}", ha="center", va="top", **edge)
    for y in ys[1:-1]:
        axes.text(east + gap, y, f"{y:.0f}", ha="left", va="center", rotation=90, **edge)
