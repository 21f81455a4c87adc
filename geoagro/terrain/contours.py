"""Contour lines of the smoothed surface."""

from __future__ import annotations

from typing import Any, Literal

import geopandas as gpd
import numpy as np
import shapely
from contourpy import LineType, contour_generator
from pyproj import CRS
from shapely import LineString, MultiPolygon

from geoagro.arrays import Floats
from geoagro.errors import LayoutError
from geoagro.terrain.window import cells_in
from geoagro.values.grid import Grid
from geoagro.values.terrain import CONTOURS, Terrain

MOST_LINES = 25
LEVEL_M = 0.01


def auto_interval(relief_m: float) -> float:
    """Return the smallest interval of the series 1-2-5 that needs no more than 25 lines.

    >>> auto_interval(31.8), auto_interval(11.6), auto_interval(2.0)
    (2.0, 0.5, 0.1)
    """
    wanted = max(relief_m, LEVEL_M) / MOST_LINES
    power = 10.0 ** np.floor(np.log10(wanted) - 1)
    steps = np.outer(power * np.array([1.0, 10.0, 100.0]), [1.0, 2.0, 5.0]).ravel()
    return float(np.round(steps[steps >= wanted * (1 - 1e-9)][0], 6))


def lines_at(surface: Grid, height_m: float) -> list[LineString]:
    """Return the contour lines at one height on the whole grid, through cell centres' values."""
    generator = contour_generator(surface.x, surface.y, surface.values, line_type=LineType.Separate)
    return [LineString(np.asarray(line)) for line in generator.lines(height_m) if len(line) > 1]


def contour_lines(
    terrain: Terrain, boundary: MultiPolygon, interval_m: float | Literal["auto"] = "auto"
) -> gpd.GeoDataFrame:
    """Draw contour lines inside the field at whole multiples of the interval (metres).

    The smoothed surface reaches past the boundary, so lines are drawn first and then clipped; none stops
    short of the edge. "auto" takes an interval of 1, 2 or 5 times a power of ten that gives 10 to 25 lines.

    Returns
    -------
    Layer CONTOURS in the working CRS, by height and then by place.

    Raises
    ------
    LayoutError
        Where the terrain has no heights, or the interval isn't above 0.
    """
    _, surface = terrain.need_heights("Drawing contour lines")
    inside = surface.values[cells_in(surface, boundary)]
    inside = inside[np.isfinite(inside)]
    if len(inside) == 0:
        return CONTOURS.empty(terrain.crs)
    low, high = float(inside.min()), float(inside.max())
    interval = auto_interval(high - low) if interval_m == "auto" else float(interval_m)
    if not interval > 0:
        raise LayoutError(f"Contour interval is {interval:g} m; it must be above 0. Set output.contour_interval_m.")
    # one line more at each end: corners between cell centres may rise above every centre
    levels = np.arange(np.floor(low / interval), np.ceil(high / interval) + 1).astype(int)
    if high - low < LEVEL_M:
        return CONTOURS.empty(terrain.crs)
    return _layer(surface, boundary, levels, interval, terrain.crs)


def _layer(surface: Grid, boundary: MultiPolygon, levels: Floats, interval: float, crs: CRS | None) -> gpd.GeoDataFrame:
    generator = contour_generator(surface.x, surface.y, surface.values, line_type=LineType.Separate)
    shapely.prepare(boundary)
    numbers, geometries = [], []
    for level in levels:
        raw = [LineString(np.asarray(line)) for line in generator.lines(level * interval) if len(line) > 1]
        pieces = _clipped(raw, boundary)
        numbers += [level] * len(pieces)
        geometries += pieces
    number = np.array(numbers, dtype=int)
    columns = {"elevation_m": np.round(number * interval, 6), "is_index": number % 5 == 0}
    return CONTOURS.frame(columns, geometry=geometries, crs=crs)


def _clipped(lines: list[Any], boundary: MultiPolygon) -> list[LineString]:
    """Pieces inside the boundary, rings cut by it joined at their seam, west to east."""
    if not lines:
        return []
    cut = shapely.line_merge(shapely.intersection(np.array(lines, dtype=object), boundary))
    parts = shapely.get_parts(cut)
    parts = parts[(shapely.get_type_id(parts) == 1) & (shapely.length(parts) > 0.01)]
    west, south, _, _ = shapely.bounds(parts).T
    return list(parts[np.lexsort((south, west))])
