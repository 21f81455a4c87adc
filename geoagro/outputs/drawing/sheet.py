"""What every map page begins and ends with: an empty map, the facts of the rows, and the PNG file."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from PIL import Image

from geoagro.outputs.drawing.page import Page, fit_page
from geoagro.outputs.drawing.typefaces import family
from geoagro.outputs.words.say import Words
from geoagro.values.rows import TreeRows
from geoagro.values.site import Site
from geoagro.values.words import say

_RESOLUTION_DPI = 180
_SETTINGS: Any = {
    "font.family": family(),
    "hatch.linewidth": 0.6,
    "text.parse_math": False,
    "path.simplify": False,
}


def save_page(draw: Callable[[], Figure], path: Path) -> None:
    """Draw a page and write it as a PNG file without clock or program name."""
    with mpl.rc_context(_SETTINGS):
        figure = draw()
        figure.set_dpi(_RESOLUTION_DPI)
        canvas: Any = FigureCanvasAgg(figure)
        canvas.draw()
    picture = Image.fromarray(np.asarray(canvas.buffer_rgba())[..., :3])
    # 256 colours look the same here and take a third of the space: the file goes to phones
    picture.quantize(256, dither=Image.Dither.NONE).save(path, dpi=(_RESOLUTION_DPI, _RESOLUTION_DPI))


def map_page(bounds: tuple[float, float, float, float]) -> tuple[Page, Figure, Any]:
    """Begin a page of A3 size, upright or lying as the field is: the page, its figure, and the map's empty axes."""
    page = fit_page(bounds)
    figure = Figure(figsize=page.size_in, facecolor="white")
    axes = figure.add_axes(page.map_rectangle)
    _prepare_map(axes, page)
    return page, figure, axes


def _prepare_map(axes: Axes, page: Page) -> None:
    west, south, east, north = page.extent
    axes.set_xlim(west, east)
    axes.set_ylim(south, north)
    axes.set_aspect(1.0)
    axes.set_xticks([])
    axes.set_yticks([])
    for side in axes.spines.values():
        side.set(linewidth=0.8, color="#9aa1a8")


def row_facts(site: Site, rows: TreeRows, words: Words) -> str:
    """Area of the field, number of rows, their distance and length."""
    return words(
        say("{area} ha  ·  {count} tree rows, {spacing:g} m apart, {length:.0f} m long in all"),
        area=words.hectares(site.boundary.area, site.area_sd_m2), count=len(rows.frame), spacing=rows.spacing_m, length=float(rows.frame["length_m"].sum()),
    )  # fmt: skip
