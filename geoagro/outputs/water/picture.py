"""`water.png`: where water comes from, which way it runs along rows, where it stands and where it goes over."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from pathlib import Path

import geopandas as gpd
import numpy as np
import shapely
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from geoagro.arrays import Shapes
from geoagro.outputs.drawing.frame import LegendEntry, draw_frame, line_entry
from geoagro.outputs.drawing.ground import draw_relief
from geoagro.outputs.drawing.lines import draw_boundary, draw_contours, draw_row_numbers
from geoagro.outputs.drawing.looks import Line, Marker
from geoagro.outputs.drawing.page import Page
from geoagro.outputs.drawing.shapes import line_collection
from geoagro.outputs.drawing.sheet import map_page, save_page
from geoagro.outputs.words.say import ENGLISH, Words
from geoagro.values.rows import TreeRows
from geoagro.values.site import Site
from geoagro.values.terrain import Terrain
from geoagro.values.words import Sentence, say
from geoagro.water.records.tables import WaterPlan

FLOW = Line("#1b3f8b", 1.1)
FALL = Line("#4a4f55", 0.35)
LEVEL = Line("#9aa1a8", 0.35)
OVER = Line("#b3372f", 0.5)
HELD = Marker("#7fb2d9", "#12365c", "circle", 2.2)

_ARROW_EVERY_MM = 9.0
_LEGEND_PT = 14.5  # half as large on a page of the report
_LEVEL_PCT = 0.2
"""Flatter than this water hardly runs: drawn pale, without arrows (the least grade that NRCS 331 asks for)."""


@dataclass(frozen=True, eq=False)
class WaterMap:
    """What the map shows besides the water: the field, its rows, contours and relief."""

    site: Site
    rows: TreeRows
    terrain: Terrain
    contours: gpd.GeoDataFrame


def write_water_picture(plan: WaterPlan, drawn: WaterMap, path: Path, words: Words = ENGLISH) -> None:
    """Draw the map as a PNG file; the same plan gives the same bytes with the same library versions."""
    save_page(partial(draw_water, plan, drawn, words), path)


def draw_water(plan: WaterPlan, drawn: WaterMap, words: Words = ENGLISH) -> Figure:
    """Draw relief, flow lines, the way of water along each row, low points and spills on a standing page of A3 size: the report shows it, too."""
    page, figure, axes = map_page(drawn.site.boundary.bounds, standing=True)
    draw_relief(axes, drawn.terrain, drawn.site.boundary, page)
    contours = draw_contours(axes, drawn.contours, page, words)
    legend = [
        *_lines(axes, plan.flow_lines.geometry.to_numpy(), FLOW, say("Line of gathered flow"), page),
        *_ways(axes, plan.row_profile, page),
        *_spills(axes, plan.spills, page),
        *_low_points(axes, plan.low_points),
    ]
    boundary = draw_boundary(axes, drawn.site.boundary)
    draw_row_numbers(axes, drawn.rows, page, drawn.site.kept_free)
    entries = [*legend, *contours, *boundary]
    draw_frame(
        figure, axes, drawn.site, words, facts=_facts(plan, words), page=page, legend=entries, legend_pt=_LEGEND_PT
    )
    return figure


def _facts(plan: WaterPlan, words: Words) -> str:
    deep = int(plan.row_water["low_points"].sum())
    told = words(say("Rows: {rows}, low points: {low}"), rows=len(plan.row_water), low=deep)
    if not np.isfinite(plan.runoff_mm):
        return told
    over = int((plan.row_water["over_m3"] > 0.01).sum())
    storm = say("storm: {runoff:.0f} mm run off, rows that run over: {over}")
    return f"{told}  ·  {words(storm, runoff=plan.runoff_mm, over=over)}"


def _lines(axes: Axes, lines: Shapes, look: Line, words: str, page: Page, *, zorder: float = 5.0) -> list[LegendEntry]:
    lines = lines[shapely.intersects(lines, shapely.box(*page.extent))]  # a legend names only what is seen
    if len(lines) == 0:
        return []
    width = look.width_mm / 25.4 * 72
    axes.add_collection(
        line_collection(lines, mm_per_m=page.mm_per_m, colors=look.ink, linewidths=width, zorder=zorder), autolim=False
    )
    return [line_entry(words, look)]


def _ways(axes: Axes, pieces: gpd.GeoDataFrame, page: Page) -> list[LegendEntry]:
    """Rows, with arrows the way water runs; pale where they are nearly level."""
    falls = pieces["fall_pct"].to_numpy() >= _LEVEL_PCT
    lines = pieces.geometry.to_numpy()
    entries = [
        *_lines(axes, lines[falls], FALL, say("Row, water runs with the arrow"), page),
        *_lines(axes, lines[~falls], LEVEL, Sentence("Row, falls less than {grade:g} %", grade=_LEVEL_PCT), page),
    ]
    _arrows(axes, lines[falls], _ARROW_EVERY_MM / page.mm_per_m)
    return entries


def _arrows(axes: Axes, lines: Shapes, every_m: float) -> None:
    """Small heads along lines, one in the middle of each stretch of about `every_m`."""
    count = np.maximum((shapely.length(lines) / every_m).astype(int), 1)
    line = np.repeat(np.arange(len(lines)), count)
    place = np.arange(len(line)) - np.repeat(np.cumsum(count) - count, count)
    at = (place + 0.5) / count[line]
    ahead = shapely.get_coordinates(
        shapely.line_interpolate_point(lines[line], np.minimum(at + 0.02, 1), normalized=True)
    )
    here = shapely.get_coordinates(shapely.line_interpolate_point(lines[line], at, normalized=True))
    step = ahead - here
    step /= np.maximum(np.hypot(*step.T), 1e-9)[:, None]
    axes.quiver(
        *here.T, *step.T, color=FALL.ink, units="inches", width=0.012, scale=10, scale_units="inches", headwidth=5,
        headlength=5, headaxislength=4.5, pivot="middle", zorder=6,
    )  # fmt: skip


def _spills(axes: Axes, spills: gpd.GeoDataFrame, page: Page) -> list[LegendEntry]:
    """Water over the ridge: the more, the wider the line down to the row that receives it."""
    if len(spills) == 0:
        return []
    volume = spills["volume_m3"].to_numpy()
    width = 0.6 + 2.4 * np.sqrt(volume / volume.max())
    look = {"colors": OVER.ink, "linewidths": width, "zorder": 7}
    axes.add_collection(line_collection(spills.geometry.to_numpy(), mm_per_m=page.mm_per_m, **look), autolim=False)
    message = Sentence("Runs over to the next row (widest: {volume:.0f} m³)", volume=float(volume.max()))
    return [line_entry(message, OVER)]


def _low_points(axes: Axes, low: gpd.GeoDataFrame) -> list[LegendEntry]:
    deep = low[low["depth_m"] >= 0.15]
    if len(deep) == 0:
        return []
    xy = shapely.get_coordinates(deep.geometry.to_numpy())
    size = 14 + 60 * np.clip(deep["depth_m"].to_numpy(), 0, 1)
    axes.scatter(xy[:, 0], xy[:, 1], s=size, c=HELD.paint, edgecolors=HELD.ink, linewidths=0.8, zorder=8)
    mark = Line2D([], [], marker="o", linestyle="", markersize=7, markerfacecolor=HELD.paint, markeredgecolor=HELD.ink)
    message = Sentence("Low point, {least:.2f} to {most:.2f} m deep", least=0.15, most=float(deep["depth_m"].max()))
    return [LegendEntry(message, mark)]
