"""Bring raster cells onto a north-up grid of square cells in the working CRS."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray
from pyproj import CRS
from scipy.ndimage import distance_transform_edt, map_coordinates, spline_filter

from geoagro.crs import Bounds, same, transform_points
from geoagro.inputs.raster_file import RasterWindow
from geoagro.values.grid import Grid
from geoagro.values.site import Finding

Floats = NDArray[np.floating[Any]]

_ROWS_AT_ONCE = 1_000_000
_DRIFT = 0.01
"""Cells count as square if the last one is out of place by less than this share of a cell."""


def to_grid(window: RasterWindow, *, bounds: Bounds, core: Bounds, crs: CRS, order: int) -> tuple[Grid, Finding | None]:
    """Make a grid of the window; cells that already lie right are passed through unchanged.

    Parameters
    ----------
    window
        What was read.
    bounds
        Wanted extent in the working CRS, where the cells must be resampled.
    core
        Extent of the field; the grid covers it, with NaN where the raster ends before.
    crs
        The working CRS.
    order
        1 for bilinear, 3 for cubic spline interpolation, where the cells must be resampled.

    Returns
    -------
    grid, finding
        The finding tells what was resampled; None if nothing was.
    """
    if is_aligned(window, crs):
        return _covering(_as_is(window, crs), core), None
    cell = cell_size(window, crs)
    grid = empty_grid(bounds, cell, crs)
    values = sample_window(window, grid, order=order)
    way = "cubic" if order == 3 else "bilinear"
    text = (
        f"cells brought from {window.crs.name} to square cells of {cell:g} m in the working CRS, {way}; "
        "a cell without data makes the cells that touch it unknown"
    )
    return grid.with_values(values), Finding("repair", window.where, text)


def is_aligned(window: RasterWindow, crs: CRS) -> bool:
    """Tell whether cells are square, along the axes of the working CRS."""
    t = window.transform
    rows, columns = window.values.shape
    drift = max(abs(t.b) * rows, abs(t.d) * columns, abs(t.a - abs(t.e)) * max(rows, columns))
    return t.a > 0 and t.e != 0 and drift <= _DRIFT * t.a and same(window.crs, crs)


def _as_is(window: RasterWindow, crs: CRS) -> Grid:
    t = window.transform
    if t.e < 0:
        return Grid(window.values, t.c, t.f, t.a, crs)
    north = t.f + t.e * window.values.shape[0]
    return Grid(np.ascontiguousarray(window.values[::-1]), t.c, north, t.a, crs)


def _covering(grid: Grid, core: Bounds) -> Grid:
    """Add cells of NaN where the field reaches beyond the grid."""
    west, south, east, north = grid.bounds
    cell = grid.cell_m
    add = [core[2] - east, west - core[0], core[3] - north, south - core[1]]
    right, left, top, bottom = (max(int(np.ceil(v / cell)), 0) for v in add)
    if not (right or left or top or bottom):
        return grid
    values = np.pad(grid.values, ((top, bottom), (left, right)), constant_values=np.nan)
    return Grid(values, west - left * cell, north + top * cell, cell, grid.crs)


def empty_grid(bounds: Bounds, cell: float, crs: CRS) -> Grid:
    """Make a grid of NaN over bounds, its edges on whole multiples of the cell."""
    west, south = (np.floor(v / cell) * cell for v in bounds[:2])
    east, north = (np.ceil(v / cell) * cell for v in bounds[2:])
    shape = (round((north - south) / cell), round((east - west) / cell))
    return Grid(np.full(shape, np.nan), float(west), float(north), cell, crs)


def cell_size(window: RasterWindow, crs: CRS) -> float:
    """Side of a square as large as the middle cell, metres, to three digits."""
    rows, columns = window.values.shape
    c, r = columns / 2, rows / 2
    corners = [window.transform * corner for corner in ((c, r), (c + 1, r), (c, r + 1))]
    x, y = transform_points([c[0] for c in corners], [c[1] for c in corners], window.crs, crs)
    area = abs((x[1] - x[0]) * (y[2] - y[0]) - (x[2] - x[0]) * (y[1] - y[0]))
    return float(f"{np.sqrt(area):.3g}")


def sample_window(window: RasterWindow, grid: Grid, *, order: int) -> Floats:
    """Values of a window at the cell centres of a grid; NaN where one of the four cells around is unknown.

    No-data never enters a sum: unknown cells are filled from their nearest known one before interpolating,
    and what they touch is made unknown afterwards.
    """
    sample = interpolator(window.values, order=order)
    out = np.empty(grid.values.shape)
    step = max(_ROWS_AT_ONCE // max(len(grid.x), 1), 1)
    inverse = ~window.transform
    for first in range(0, len(grid.y), step):
        x, y = np.meshgrid(grid.x, grid.y[first : first + step])
        x, y = transform_points(x, y, grid.crs, window.crs)
        out[first : first + step] = sample(
            inverse.d * x + inverse.e * y + inverse.f - 0.5, inverse.a * x + inverse.b * y + inverse.c - 0.5
        )
    return out


def interpolator(values: Floats, *, order: int) -> Callable[[Floats, Floats], Floats]:
    """Make a function of fractional (row, column) between cell centres."""
    unknown = np.isnan(values)
    filled = values
    if unknown.all():
        return lambda row, _column: np.full(row.shape, np.nan)
    if unknown.any():
        nearest = distance_transform_edt(unknown, return_distances=False, return_indices=True)
        filled = values[tuple(nearest)]
    base = float(filled.mean())  # the spline filter is exact to about 1e-16 of the value, so take the level off
    coefficients = spline_filter(filled - base, order=order, mode="mirror") if order > 1 else filled - base
    holes = unknown.astype(float)

    def sample(row: Floats, column: Floats) -> Floats:
        places = np.array([row, column])
        out: Floats = base + map_coordinates(coefficients, places, order=order, mode="mirror", prefilter=False)
        doubt = map_coordinates(holes, places, order=1, mode="constant", cval=1.0)
        return np.where(doubt > 1e-6, np.nan, out)

    return sample
