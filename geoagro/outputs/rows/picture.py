"""`rows.png`: tree rows alone on one page, with the ground that no row serves, by the limit that costs it."""

from __future__ import annotations

from functools import partial
from pathlib import Path

import geopandas as gpd
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from geoagro.outputs.drawing import looks
from geoagro.outputs.drawing.frame import LegendEntry, draw_frame, fill_entry, line_entry
from geoagro.outputs.drawing.ground import draw_relief, draw_unplanted
from geoagro.outputs.drawing.lines import draw_boundary, draw_contours, draw_row_numbers, draw_rows
from geoagro.outputs.drawing.looks import Line
from geoagro.outputs.drawing.page import Page
from geoagro.outputs.drawing.shapes import line_collection, polygon_patches
from geoagro.outputs.drawing.sheet import map_page, row_facts, save_page
from geoagro.outputs.words.say import ENGLISH, Words
from geoagro.rows.records.plan import RowPlan
from geoagro.values.words import say

CUT = Line("#b3372f", 0.55, dash_mm=(1.2, 0.8))


def write_rows_picture(plan: RowPlan, path: Path, words: Words = ENGLISH) -> None:
    """Draw the rows as a PNG file; the same rows give the same bytes with the same library versions."""
    save_page(partial(draw_plan, plan, words), path)


def draw_plan(plan: RowPlan, words: Words = ENGLISH) -> Figure:
    """Draw rows, what was cut from them, unserved ground by reason, relief and contours on a page of A3 size."""
    page, figure, axes = map_page(plan.site.boundary.bounds)
    legend = _draw_map(axes, plan, page, words)
    facts = row_facts(plan.site, plan.rows, words)
    draw_frame(figure, axes, plan.site, words, facts=facts, page=page, legend=legend)
    return figure


def _draw_map(axes: Axes, plan: RowPlan, page: Page, words: Words) -> list[LegendEntry]:
    for patch in polygon_patches([plan.ground.plantable], mm_per_m=page.mm_per_m, facecolor=looks.PLANTABLE.paint):
        patch.set(zorder=1.5, linewidth=0)
        axes.add_artist(patch)
    left = [*draw_unplanted(axes, plan.unplanted, page), *_draw_gullies(axes, plan, page)]
    draw_relief(axes, plan.terrain, plan.site.boundary, page)
    contours = draw_contours(axes, plan.contours, page, words)
    rows = draw_rows(axes, plan.rows, page)
    cut = _draw_cut(axes, plan.rows.cut, page)
    boundary = draw_boundary(axes, plan.site.boundary)
    draw_row_numbers(axes, plan.rows, page, plan.site.kept_free)
    return [*rows, *cut, fill_entry(say("Ground with rows"), looks.PLANTABLE, ""), *left, *contours, *boundary]


def _draw_gullies(axes: Axes, plan: RowPlan, page: Page) -> list[LegendEntry]:
    """Outline channels above all ground."""
    if plan.ground.gullies is None or len(plan.ground.gullies) == 0:
        return []
    width = looks.GULLY.outline_mm / 25.4 * 72
    shapes = list(plan.ground.gullies.geometry)
    for patch in polygon_patches(shapes, mm_per_m=page.mm_per_m, facecolor="none", edgecolor=looks.GULLY.ink):
        patch.set(zorder=4.5, linewidth=width)
        axes.add_artist(patch)
    return [fill_entry(say("Gully or ditch"), looks.GULLY, "")]


def _draw_cut(axes: Axes, cut: gpd.GeoDataFrame, page: Page) -> list[LegendEntry]:
    """Draw pieces of row that a limit forbade, in dashes."""
    if len(cut) == 0:
        return []
    assert CUT.dash_mm is not None
    width = CUT.width_mm / 25.4 * 72
    dash = (0, [length / CUT.width_mm for length in CUT.dash_mm])
    look = {"colors": CUT.ink, "linewidths": width, "zorder": 5}
    lines = line_collection(cut.geometry.to_numpy(), mm_per_m=page.mm_per_m, **look)
    lines.set_linestyle([dash])
    axes.add_collection(lines, autolim=False)
    entry = line_entry(say("Piece of row cut away"), CUT)
    entry.mark.set(linestyle=dash)
    return [entry]
