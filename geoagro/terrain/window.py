"""The part of a raster that a field needs, and which of its cells lie in the field."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from rasterio import Affine
from rasterio.features import geometry_mask
from shapely.geometry.base import BaseGeometry

from geoagro.values.grid import Grid

Mask = NDArray[np.bool_]


def window(grid: Grid, bounds: tuple[float, float, float, float], margin_m: float) -> Grid:
    """Cut (or pad with NaN) a grid to bounds widened by a margin; cells stay where they are.

    >>> g = Grid(np.zeros((4, 4)), west=0.0, north=4.0, cell_m=1.0, crs=None)
    >>> w = window(g, (1.0, 1.0, 2.0, 5.0), 0.0)
    >>> w.values.shape, w.bounds
    ((4, 1), (1.0, 1.0, 2.0, 5.0))
    """
    west, south, east, north = bounds
    top = int(np.floor((grid.north - north - margin_m) / grid.cell_m))
    bottom = int(np.ceil((grid.north - south + margin_m) / grid.cell_m))
    left = int(np.floor((west - margin_m - grid.west) / grid.cell_m))
    right = int(np.ceil((east + margin_m - grid.west) / grid.cell_m))
    values = np.full((bottom - top, right - left), np.nan)
    rows, columns = grid.values.shape
    r0, r1, c0, c1 = max(top, 0), min(bottom, rows), max(left, 0), min(right, columns)
    if r0 < r1 and c0 < c1:
        values[r0 - top : r1 - top, c0 - left : c1 - left] = grid.values[r0:r1, c0:c1]
    return Grid(values, grid.west + left * grid.cell_m, grid.north - top * grid.cell_m, grid.cell_m, grid.crs)


def cells_in(grid: Grid, area: BaseGeometry) -> Mask:
    """Tell which cells have their centre in a polygon."""
    if area.is_empty:
        return np.zeros(grid.values.shape, dtype=bool)
    transform = Affine(grid.cell_m, 0.0, grid.west, 0.0, -grid.cell_m, grid.north)
    inside: Mask = geometry_mask([area], grid.values.shape, transform, invert=True)
    return inside


def cells_on(grid: Grid, area: BaseGeometry) -> Mask:
    """Tell which cells have their centre in a polygon; of one too narrow for any centre, those that it touches."""
    inside = cells_in(grid, area)
    if inside.any() or area.is_empty:
        return inside
    transform = Affine(grid.cell_m, 0.0, grid.west, 0.0, -grid.cell_m, grid.north)
    touched: Mask = geometry_mask([area], grid.values.shape, transform, invert=True, all_touched=True)
    return touched


def averaged(grid: Grid, n: int) -> Grid:
    """Average whole blocks of n x n cells; a block with a gap is unknown."""
    if n <= 1:
        return grid
    rows, columns = (size // n for size in grid.values.shape)
    blocks = grid.values[: rows * n, : columns * n].reshape(rows, n, columns, n)
    return Grid(blocks.mean(axis=(1, 3)), grid.west, grid.north, n * grid.cell_m, grid.crs)
