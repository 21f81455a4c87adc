"""`layout.png`: the whole field on one page, read as easily on A3 paper as on a phone.

From below: ground by kind, relief shading, contours, rows, zones, boundary. Only what is drawn is in the legend.
"""

from __future__ import annotations

from functools import partial
from pathlib import Path

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from geoagro.outputs.drawing.frame import LegendEntry, draw_frame
from geoagro.outputs.drawing.ground import GroundUse, draw_ground, draw_relief
from geoagro.outputs.drawing.lines import draw_boundary, draw_contours, draw_row_numbers, draw_rows, draw_zones
from geoagro.outputs.drawing.page import Page
from geoagro.outputs.drawing.sheet import map_page, row_facts, save_page
from geoagro.outputs.words.say import ENGLISH, Words
from geoagro.values.layout import Layout
from geoagro.values.words import say


def write_picture(layout: Layout, path: Path, words: Words = ENGLISH) -> None:
    """Draw the layout as a PNG file; the same layout gives the same bytes with the same library versions."""
    save_page(partial(draw_layout, layout, words), path)


def draw_layout(layout: Layout, words: Words = ENGLISH) -> Figure:
    """Draw the layout on a page of A3 size, upright or lying as the field is."""
    page, figure, axes = map_page(layout.site.boundary.bounds)
    legend = _draw_map(axes, layout, page, words)
    draw_frame(figure, axes, layout.site, words, facts=_facts(layout, words), page=page, legend=legend)
    return figure


def _facts(layout: Layout, words: Words) -> str:
    plants = words(say("{count} {count:plant|plants}"), count=layout.plants.count)
    return f"{row_facts(layout.site, layout.rows, words)}  ·  {plants}"


def _draw_map(axes: Axes, layout: Layout, page: Page, words: Words) -> list[LegendEntry]:
    beds = layout.beds
    ground = draw_ground(axes, GroundUse(layout.unplanted, beds.paths, beds.beds, beds.tree_beds), page)
    draw_relief(axes, layout.terrain, layout.site.boundary, page)
    contours = draw_contours(axes, layout.contours, page, words)
    rows = draw_rows(axes, layout.rows, page)
    boundary = draw_boundary(axes, layout.site.boundary)
    zones = draw_zones(axes, layout.zones.zones if layout.zones else None)
    draw_row_numbers(axes, layout.rows, page, layout.site.kept_free)
    return [*rows, *ground, *contours, *zones, *boundary]
