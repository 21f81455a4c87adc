"""What every map page begins and ends with: an empty map, the facts of the rows, and the PNG file."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import matplotlib as mpl
import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from numpy.typing import NDArray
from PIL import Image

from geoagro.outputs.drawing.page import Page, fit_page
from geoagro.outputs.drawing.typefaces import family
from geoagro.outputs.words.say import Words
from geoagro.values.rows import TreeRows
from geoagro.values.site import Site
from geoagro.values.words import say

_RESOLUTION_DPI = 180
_COLOURS, _KEPT, _PLAIN_RUN, _COUNTED_PIXELS = 256, 96, 12, 200_000
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
    few_colours(np.asarray(canvas.buffer_rgba())).save(path, dpi=(_RESOLUTION_DPI, _RESOLUTION_DPI))


def few_colours(pixels: NDArray[np.uint8]) -> Image.Image:
    """Bring a picture of shape (rows, columns, 4) to 256 colours, which look the same here and take a third of the space.

    Pages are mostly runs of one colour: colours are counted run by run. Paints, which stand in long runs, stay exactly as they
    are, so that a thing has one colour on all pages; the others are chosen by median cut on a small picture in which each takes
    its share. Opacity isn't looked at.
    """
    line = np.ascontiguousarray(pixels).view(np.uint32).ravel()
    starts = np.concatenate([[0], np.flatnonzero(line[1:] != line[:-1]) + 1])
    lengths = np.diff(starts, append=len(line))
    which, colours = pd.factorize(line[starts], sort=True)  # numpy would put every run in order, not only the colours
    plain = np.bincount(which, weights=np.where(lengths >= _PLAIN_RUN, lengths, 0))
    kept = np.argsort(-plain, kind="stable")[:_KEPT]
    other = np.setdiff1d(np.arange(len(colours)), kept)
    number = np.zeros(len(colours), np.uint8)
    number[kept] = np.arange(len(kept))
    palette = colours[kept].view(np.uint8).reshape(-1, 4)[:, :3].ravel().tolist()
    if len(other):
        share = np.bincount(which, weights=lengths)[other] * (_COUNTED_PIXELS / len(line))
        places = np.maximum(1, np.round(share)).astype(np.int64)
        small = np.repeat(colours[other], places).view(np.uint8).reshape(1, -1, 4)[..., :3]
        chosen = Image.fromarray(small).quantize(_COLOURS - _KEPT, dither=Image.Dither.NONE)
        number[other] = _KEPT + np.asarray(chosen)[0, np.cumsum(places) - 1]
        palette += chosen.getpalette() or []
    picture = Image.fromarray(np.repeat(number[which], lengths).reshape(pixels.shape[:2]))
    picture.putpalette(palette[: 3 * _COLOURS])
    return picture


def save_drawn(figure: Figure, path: Path, *, dpi: float) -> None:
    """Write a figure as a PNG file in all its colours, drawn once; without clock or program name."""
    figure.set_dpi(dpi)
    canvas: Any = FigureCanvasAgg(figure)
    canvas.draw()  # saving by the figure itself would draw twice where it lays itself out
    Image.fromarray(np.asarray(canvas.buffer_rgba())).save(path, dpi=(dpi, dpi))


def map_page(bounds: tuple[float, float, float, float], *, standing: bool = False) -> tuple[Page, Figure, Any]:
    """Begin a page of A3 size, upright or lying as the field is: the page, its figure, and the map's empty axes."""
    page = fit_page(bounds, standing=standing)
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
        say("{area} ha  ·  {count} {count:tree row|tree rows}, {spacing:g} m apart, {length:.0f} m long in all"),
        area=words.hectares(site.boundary.area, site.area_sd_m2), count=len(rows.frame), spacing=rows.spacing_m, length=float(rows.frame["length_m"].sum()),
    )  # fmt: skip
