"""Bring raster cells onto a north-up grid of square cells in the working CRS."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from pyproj import CRS

from geoagro.arrays import Floats
from geoagro.crs import Bounds, same, transform_points
from geoagro.errors import InputError
from geoagro.inputs.raster.file import RasterWindow, applied
from geoagro.values.grid import Grid
from geoagro.values.site import Finding
from geoagro.values.words import Sentence

_CELLS_AT_ONCE = 500_000
_ON_CELL = 1e-7
"""A point this near a cell centre (in cells) lies on it; rounding of coordinates stays below."""
MOST_GRID_CELLS = 50_000_000
"""Largest grid that is made; see MOST_CELLS of `raster_file`."""

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
        1 for bilinear, 3 for cubic interpolation, where the cells must be resampled.

    Returns
    -------
    grid, finding
        The finding tells what was resampled; None if nothing was.
    """
    cell = abs(window.transform.a) if is_aligned(window, crs) else cell_size(window, crs)
    _refuse_huge(window, core, cell)
    if is_aligned(window, crs):
        return _covering(_as_is(window, crs), core), None
    grid = empty_grid(bounds, cell, crs)
    values = sample_window(window, grid, order=order)
    way = Sentence("by cubic convolution") if order == 3 else Sentence("bilinearly")
    text = Sentence(
        "cells brought from {name} to square cells of {cell:g} m in the working CRS, {way}; a cell "
        "without data makes the cells that touch it unknown",
        name=window.crs.name,
        cell=cell,
        way=way,
    )
    return grid.with_values(values), Finding("note", window.where, text)


def _refuse_huge(window: RasterWindow, core: Bounds, cell: float) -> None:
    """Refuse fields so far apart that the grid between them wouldn't fit into memory."""
    wide, high = core[2] - core[0], core[3] - core[1]
    cells = wide * high / cell**2
    if cells > MOST_GRID_CELLS:
        raise InputError(
            f"{window.where}: the field spreads over {wide / 1000:.1f} x {high / 1000:.1f} km, {cells / 1e6:.0f} million "
            f"cells of {cell:g} m; at most {MOST_GRID_CELLS / 1e6:.0f} million can be worked with. Pick one field with "
            "`where` under inputs.boundary, or give a coarser raster."
        )


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
    corners = applied(window.transform, np.array([c, c + 1, c]), np.array([r, r, r + 1]))
    x, y = transform_points(*corners, window.crs, crs)
    area = abs((x[1] - x[0]) * (y[2] - y[0]) - (x[2] - x[0]) * (y[1] - y[0]))
    return float(f"{np.sqrt(area):.3g}")


def sample_window(window: RasterWindow, grid: Grid, *, order: int) -> Floats:
    """Values of a window at the cell centres of a grid; see `interpolator`."""
    sample = interpolator(window.values, order=order)
    out = np.empty(grid.values.shape)
    step = max(_CELLS_AT_ONCE // max(len(grid.x), 1), 1)
    inverse = ~window.transform
    for first in range(0, len(grid.y), step):
        x, y = np.meshgrid(grid.x, grid.y[first : first + step])
        x, y = transform_points(x, y, grid.known_crs, window.crs)
        column, row = applied(inverse, x, y)
        out[first : first + step] = sample(row - 0.5, column - 0.5)
    return out


def interpolator(values: Floats, *, order: int) -> Callable[[Floats, Floats], Floats]:
    """Make a function of fractional (row, column) between cell centres.

    Order 1 is bilinear and needs the four cells around a point; order 3 is cubic convolution (Keys 1981, "Cubic
    convolution interpolation for digital image processing", IEEE Trans. ASSP 29) over sixteen cells, bilinear
    where some of them are unknown. Both keep planes. An unknown cell never enters a sum: what depends on it is NaN.

    >>> sample = interpolator(np.array([[0.0, 1.0], [2.0, np.nan]]), order=1)
    >>> sample(np.array([0.0, 0.5, 0.5]), np.array([0.5, 0.0, 0.5])).tolist()
    [0.5, 1.0, nan]
    """
    known = np.isfinite(values)
    base = float(values[known].mean()) if known.any() else 0.0  # keeps rounding small against the level
    padded = np.pad(values - base, 2, constant_values=np.nan)

    def sample(row: Floats, column: Floats) -> Floats:
        linear = _weighted(padded, row, column, _linear)
        if order == 1:
            return base + linear
        cubic = _weighted(padded, row, column, _keys)
        return base + np.where(np.isnan(cubic), linear, cubic)

    return sample


def _weighted(padded: Floats, row: Floats, column: Floats, weights: Callable[[Floats], list[Floats]]) -> Floats:
    """Sum over the 4 x 4 cells around each point; cells of no weight don't count, known or not."""
    rows, columns = (n - 4 for n in padded.shape)
    r, c = np.floor(row + _ON_CELL), np.floor(column + _ON_CELL)
    inside = (r >= -1) & (r < rows) & (c >= -1) & (c < columns)
    r, c = np.where(inside, r, 0), np.where(inside, c, 0)
    down, right = weights(np.where(inside, row - r, 0.0)), weights(np.where(inside, column - c, 0.0))
    total = np.where(inside, 0.0, np.nan)
    top, left = r.astype(int) + 1, c.astype(int) + 1
    for i, w in enumerate(down):
        for j, v in enumerate(right):
            weight = w * v
            term = weight * padded[top + i, left + j]
            total += np.where(np.isnan(term) & (np.abs(weight) <= _ON_CELL), 0.0, term)
    return total


def _linear(f: Floats) -> list[Floats]:
    return [np.zeros_like(f), 1 - f, f, np.zeros_like(f)]


def _keys(f: Floats) -> list[Floats]:
    return [
        ((-0.5 * f + 1.0) * f - 0.5) * f,
        (1.5 * f - 2.5) * f * f + 1.0,
        ((-1.5 * f + 2.0) * f + 0.5) * f,
        (0.5 * f - 0.5) * f * f,
    ]
