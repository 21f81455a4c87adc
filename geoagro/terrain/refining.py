"""A coarse raster as the smooth ground that it samples."""

from __future__ import annotations

import math

import numpy as np
from scipy import ndimage

from geoagro.arrays import Floats
from geoagro.values.grid import Grid

WIDEST_M = 3.0
"""Cells no wider than this show a row's bends; between wider ones straight lines would hide what the ground does."""
_BESIDE = 12
"""Cells by which the raster is continued to each side, so that its edge bends nothing inside."""


def refined(grid: Grid, widest_m: float = WIDEST_M) -> Grid:
    """Split cells wider than `widest_m` evenly, heights by the cubic spline through all cell centres.

    A plane stays a plane. Parts of a cell without a value have none. Between the centres of coarse cells no raster knows the
    ground: the spline is the smoothest guess, and grades judged on it are those of ground without features smaller than cells.
    """
    parts = math.ceil(grid.cell_m / widest_m - 1e-9)
    if parts <= 1 or min(grid.values.shape) < 2:
        return grid
    unknown = np.isnan(grid.values)
    if unknown.all():
        return grid
    level = float(np.nanmean(grid.values))
    beside = min(_BESIDE, *(n - 1 for n in grid.values.shape))
    nearest = ndimage.distance_transform_edt(unknown, return_distances=False, return_indices=True)
    wide = np.pad((grid.values - level)[tuple(nearest)], beside, mode="reflect", reflect_type="odd")
    fine: Floats = ndimage.zoom(wide, parts, order=3, mode="nearest", grid_mode=True)
    cut = beside * parts
    values = fine[cut:-cut, cut:-cut] + level
    values[np.repeat(np.repeat(unknown, parts, axis=0), parts, axis=1)] = np.nan
    return Grid(values, grid.west, grid.north, grid.cell_m / parts, grid.crs)
