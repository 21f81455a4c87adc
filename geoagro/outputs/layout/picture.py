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
from geoagro.outputs.drawing.lines import (
    draw_boundary,
    draw_contours,
    draw_row_numbers,
    draw_rows,
    draw_zones,
    zone_name_boxes,
)
from geoagro.outputs.drawing.page import Page
from geoagro.outputs.drawing.sheet import map_page, row_facts, save_page
from geoagro.outputs.layout.shown import Shown
from geoagro.outputs.words.say import ENGLISH, Words
from geoagro.values.layout import Layout
from geoagro.values.words import say


def write_picture(layout: Layout, path: Path, words: Words = ENGLISH) -> None:
    """Draw the layout as a PNG file; the same layout gives the same bytes with the same library versions."""
    write_shown(Shown.of(layout), path, words)


def write_shown(shown: Shown, path: Path, words: Words) -> None:
    """Do what `write_picture` does with what it shows."""
    save_page(partial(_drawn, shown, words), path)


def draw_layout(layout: Layout, words: Words = ENGLISH) -> Figure:
    """Draw the layout on a page of A3 size, upright or lying as the field is."""
    return _drawn(Shown.of(layout), words)


def _drawn(shown: Shown, words: Words) -> Figure:
    page, figure, axes = map_page(shown.site.boundary.bounds)
    legend = _draw_map(axes, shown, page, words)
    draw_frame(figure, axes, shown.site, words, facts=_facts(shown, words), page=page, legend=legend)
    return figure


def _facts(shown: Shown, words: Words) -> str:
    plants = words(say("{count} {count:plant|plants}"), count=shown.plants)
    return f"{row_facts(shown.site, shown.rows, words)}  ·  {plants}"


def _draw_map(axes: Axes, shown: Shown, page: Page, words: Words) -> list[LegendEntry]:
    beds = shown.beds
    ground = draw_ground(axes, GroundUse(shown.unplanted, beds.paths, beds.beds, beds.tree_beds), page)
    draw_relief(axes, shown.terrain, shown.site.boundary, page)
    contours = draw_contours(axes, shown.contours, page, words)
    rows = draw_rows(axes, shown.rows, page)
    boundary = draw_boundary(axes, shown.site.boundary)
    zones = draw_zones(axes, shown.zones)
    draw_row_numbers(axes, shown.rows, page, shown.site.kept_free.union(zone_name_boxes(shown.zones, page)))
    return [*rows, *ground, *contours, *zones, *boundary]
