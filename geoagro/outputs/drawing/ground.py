"""What the ground is used for, as fills, and the relief over it as light and shade."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import geopandas as gpd
import numpy as np
import shapely
from matplotlib.axes import Axes
from matplotlib.colors import LightSource, to_hex, to_rgb
from numpy.typing import NDArray
from shapely import MultiPolygon, box

from geoagro.arrays import Shapes
from geoagro.outputs.drawing import looks
from geoagro.outputs.drawing.frame import LegendEntry, fill_entry
from geoagro.outputs.drawing.looks import Fill, reason_look
from geoagro.outputs.drawing.page import Page
from geoagro.outputs.drawing.shade import draw_shade
from geoagro.outputs.drawing.shapes import polygon_patches
from geoagro.values.grid import Grid
from geoagro.values.reasons import REASONS, Hatch
from geoagro.values.terrain import Terrain
from geoagro.values.words import say

HATCHES: dict[Hatch, str] = {
    "": "",
    "slash": "//",
    "backslash": "\\\\",
    "horizontal": "--",
    "vertical": "||",
    "cross": "++",
    "diagonal_cross": "xx",
    "dots": "..",
}
_OUTLINE_FROM_MM = 0.8  # a bed narrower than this on paper is drawn without outline
_SUN_AZIMUTH_DEG, _SUN_HEIGHT_DEG = 315.0, 45.0  # light from the north-west: the usual way on maps
_WANTED_STEEPNESS = 0.35  # relief is exaggerated until the 95th percentile of slope reaches this
_SHADE_PIXELS = 1500
_SHADES = 64  # finer steps aren't seen and don't compress


@dataclass(frozen=True, eq=False)
class GroundUse:
    """Layers of ground by its use, as in the layout: frames with polygons in the working CRS."""

    unplanted: gpd.GeoDataFrame
    paths: gpd.GeoDataFrame
    beds: gpd.GeoDataFrame
    tree_beds: gpd.GeoDataFrame


@dataclass(frozen=True)
class Manner:
    """How ground is drawn on a page.

    Attributes
    ----------
    words
        Translates the words of the legend.
    pale
        Share of white mixed into the fills, so that plants stand out on them.
    thinner
        Outlines may lie this many times farther off than usual, which keeps files small.
    is_cut
        Leave out what lies beyond the page.
    """

    words: Callable[[str], str] = str
    pale: float = 0.0
    thinner: float = 1.0
    is_cut: bool = False


AS_IT_IS = Manner()


def draw_ground(axes: Axes, use: GroundUse, page: Page, manner: Manner = AS_IT_IS) -> list[LegendEntry]:
    """Fill unplanted ground by reason, paths, beds and tree beds; returns their legend, most used first."""
    left = draw_unplanted(axes, use.unplanted, page, manner)
    strips = (
        (say("Path"), looks.PATH, use.paths),
        (say("Vegetable bed"), looks.BED, use.beds),
        (say("Tree bed"), looks.TREE_BED, use.tree_beds),
    )
    used = [_draw(axes, words, look, frame, page=page, manner=manner) for words, look, frame in strips]
    return [*(entry for entry in reversed(used) if entry is not None), *left]


def draw_unplanted(axes: Axes, unplanted: gpd.GeoDataFrame, page: Page, manner: Manner = AS_IT_IS) -> list[LegendEntry]:
    """Fill unplanted ground by reason; returns the legend, in the order in which all products name reasons."""
    known = list(REASONS)
    here = sorted(set(unplanted["reason"]), key=lambda code: (known.index(code) if code in known else len(known), code))
    entries = [
        _draw(axes, *reason_look(reason), unplanted[unplanted["reason"] == reason], page=page, manner=manner)
        for reason in here
    ]
    return [entry for entry in entries if entry is not None]


def _draw(axes: Axes, words: str, look: Fill, frame: Any, *, page: Page, manner: Manner) -> LegendEntry | None:
    shown = frame.geometry.to_numpy()
    if manner.is_cut:
        shown = _on_page(shown, page)
    if len(shown) == 0:
        return None
    look = _paler(look, manner.pale)
    width = float(frame["width_m"].median()) if "width_m" in frame.columns else np.inf
    outline = look.outline_mm / 25.4 * 72 if width * page.mm_per_m >= _OUTLINE_FROM_MM else 0.0
    style = {
        "facecolor": look.paint,
        "edgecolor": look.ink if outline or look.hatch else "none",
        "linewidth": outline,
        "hatch": HATCHES[look.hatch],
    }
    for patch in polygon_patches(shown, mm_per_m=page.mm_per_m / manner.thinner, zorder=2, **style):
        axes.add_artist(patch)
    return fill_entry(manner.words(words), look, HATCHES[look.hatch])


def _on_page(shapes: Shapes, page: Page) -> Any:
    """Cut shapes to a little more than the page, so that no outline is drawn along its edge."""
    window = box(*page.extent)
    shown = shapes[shapely.intersects(shapes, window)]
    return shapely.clip_by_rect(shown, *window.buffer(5.0, join_style="mitre").bounds)


def _paler(look: Fill, share: float) -> Fill:
    if share == 0:
        return look
    red, green, blue = ((1 - share) * part + share for part in to_rgb(look.paint))
    return replace(look, paint=to_hex((red, green, blue)))


def draw_relief(axes: Axes, terrain: Terrain, boundary: MultiPolygon, page: Page) -> None:
    """Shade the ground by its heights, or by its slope where heights are unknown; paler outside the field."""
    grid = terrain.slope if terrain.heights is None else terrain.heights
    grid = _window(grid, page)
    light = relief_light(grid, is_height=terrain.heights is not None)
    draw_shade(axes, light_and_shade(light).astype(np.float32), grid.bounds, zorder=3)
    axes.set_xlim(page.extent[0], page.extent[2])
    axes.set_ylim(page.extent[1], page.extent[3])
    outside = box(*page.extent).difference(boundary)
    for patch in polygon_patches([outside], mm_per_m=page.mm_per_m, facecolor="white", alpha=0.55, linewidth=0):
        patch.set_zorder(3.5)
        axes.add_artist(patch)


def _window(grid: Grid, page: Page) -> Grid:
    """Cut the grid to the map, on cells no finer than the page can show."""
    west, south, east, north = page.extent
    step = max(1, round(max(east - west, north - south) / grid.cell_m / _SHADE_PIXELS))
    columns, rows = (
        np.flatnonzero((grid.x >= west) & (grid.x <= east)),
        np.flatnonzero((grid.y >= south) & (grid.y <= north)),
    )
    values = grid.values[rows[0] : rows[-1] + 1 : step, columns[0] : columns[-1] + 1 : step]
    return Grid(
        values,
        grid.west + columns[0] * grid.cell_m,
        grid.north - rows[0] * grid.cell_m,
        grid.cell_m * step,
        grid.crs,
    )


def relief_light(grid: Grid, *, is_height: bool) -> NDArray[Any]:
    """Light on the ground from heights, or, for a slope raster, darker where it is steeper; 0 to 1."""
    return _hillshade(grid) if is_height else _slope_shade(grid)


def _hillshade(heights: Grid) -> NDArray[Any]:
    """Light on the ground, 0 to 1, level ground about 0.7 (Lambert's law, as matplotlib computes it)."""
    dy, dx = np.gradient(heights.values, heights.cell_m)
    steep = float(np.nanpercentile(np.hypot(dx, dy), 95)) if np.isfinite(dx).any() else 0.0
    exaggeration = float(np.clip(_WANTED_STEEPNESS / max(steep, 1e-6), 1.0, 12.0))
    source = LightSource(azdeg=_SUN_AZIMUTH_DEG, altdeg=_SUN_HEIGHT_DEG)
    normals = np.dstack([-exaggeration * dx, exaggeration * dy, np.ones_like(dx)])
    normals /= np.linalg.norm(normals, axis=2, keepdims=True)
    light: NDArray[Any] = np.clip(normals @ np.asarray(source.direction), 0.0, 1.0)
    return light


def _slope_shade(slope: Grid) -> NDArray[Any]:
    """Steeper is darker."""
    steepest = max(float(np.nanpercentile(slope.values, 98)), 1e-6)
    light: NDArray[Any] = 0.75 - 0.5 * np.clip(slope.values / steepest, 0.0, 1.0)
    return light


def light_and_shade(light: NDArray[Any]) -> NDArray[Any]:
    """Black over the shade and white over the light, so that fills below keep their hue; clear where unknown."""
    middle = np.sin(np.deg2rad(_SUN_HEIGHT_DEG))
    image = np.zeros((*light.shape, 4))
    image[..., :3] = (light > middle)[..., None]
    image[..., 3] = np.nan_to_num(np.where(light > middle, 0.9 * (light - middle), 0.75 * (middle - light)))
    image[..., 3] = np.round(image[..., 3] * _SHADES) / _SHADES
    return np.clip(image, 0.0, 1.0)
