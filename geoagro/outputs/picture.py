"""`layout.png`: the whole field on one page, read as easily on A3 paper as on a phone.

From below: ground by kind, relief shading, contours, rows, boundary. Only what is drawn is in the legend.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import matplotlib as mpl
import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from PIL import Image

from geoagro.outputs.picture_frame import LegendEntry, draw_frame
from geoagro.outputs.picture_ground import draw_ground, draw_relief
from geoagro.outputs.picture_lines import draw_boundary, draw_contours, draw_row_numbers, draw_rows
from geoagro.outputs.picture_page import Page, fit_page
from geoagro.values.layout import Layout

_RESOLUTION_DPI = 180
_SETTINGS: Any = {
    "font.family": "DejaVu Sans",  # comes with matplotlib: the same letters on every machine
    "hatch.linewidth": 0.6,
    "text.parse_math": False,
    "path.simplify": False,
}


def write_picture(layout: Layout, path: Path) -> None:
    """Draw the layout as a PNG file; the same layout gives the same bytes with the same library versions."""
    with mpl.rc_context(_SETTINGS):
        figure = draw_layout(layout)
        figure.set_dpi(_RESOLUTION_DPI)
        canvas: Any = FigureCanvasAgg(figure)
        canvas.draw()
    picture = Image.fromarray(np.asarray(canvas.buffer_rgba())[..., :3])
    # 256 colours look the same here and take a third of the space: the file goes to phones
    picture.quantize(256, dither=Image.Dither.NONE).save(path, dpi=(_RESOLUTION_DPI, _RESOLUTION_DPI))


def draw_layout(layout: Layout) -> Figure:
    """Draw the layout on a page of A3 size, upright or lying as the field is."""
    page = fit_page(layout.site.boundary.bounds)
    figure = Figure(figsize=page.size_in, facecolor="white")
    axes = figure.add_axes(page.map_rectangle)
    _prepare(axes, page)
    legend = _draw_map(axes, layout, page)
    draw_frame(figure, axes, layout, page, legend)
    return figure


def _prepare(axes: Any, page: Page) -> None:
    west, south, east, north = page.extent
    axes.set_xlim(west, east)
    axes.set_ylim(south, north)
    axes.set_aspect(1.0)
    axes.set_xticks([])
    axes.set_yticks([])
    for side in axes.spines.values():
        side.set(linewidth=0.8, color="#9aa1a8")


def _draw_map(axes: Any, layout: Layout, page: Page) -> list[LegendEntry]:
    ground = draw_ground(axes, layout, page)
    draw_relief(axes, layout.terrain, layout.site.boundary, page)
    contours = draw_contours(axes, layout.contours, page)
    rows = draw_rows(axes, layout.rows, page)
    boundary = draw_boundary(axes, layout.site.boundary)
    draw_row_numbers(axes, layout.rows, page)
    return [*rows, *ground, *contours, *boundary]
