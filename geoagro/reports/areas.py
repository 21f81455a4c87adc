"""Areas of ground: on the map plane, on the slope, and on the ellipsoid."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt

from geoagro.arrays import Floats, Shapes
from geoagro.planar.cells import integrate_over_cells
from geoagro.values.grid import Grid

LEAST_KNOWN_SHARE = 0.95
"""Slope must be known on this share of the field, or sloping areas are left empty (our choice, no source)."""


def slope_factor(slope: Floats) -> Floats:
    """Ground area per map area, 1 / cos(slope angle) = sqrt(1 + slope^2), slope as a ratio.

    Kleinn, "Slope correction", forest inventory lecture notes, Goettingen 2002: 104.4 % at a slope of 30 %.

    >>> round(float(slope_factor(np.array(0.30))), 4)
    1.044
    """
    factor: Floats = np.hypot(1.0, slope)
    return factor


def ground_areas(polygons: Shapes, slope: Grid) -> tuple[Floats, Floats]:
    """Return the sloping ground area of each polygon in m2, and the share of it on which slope is known.

    Each cell's covered area (exact, not counted by cell centres) is weighted with its slope factor, so a
    tilted plane comes out exactly and parts add up to their whole. A cell without slope takes the factor of
    the nearest cell that has one; the caller judges from the share whether that will do.
    """
    shapes = np.atleast_1d(np.asarray(polygons, dtype=object))
    known = np.isfinite(slope.values)
    if not known.any():
        return np.full(len(shapes), np.nan), np.zeros(len(shapes))
    place = {"west": slope.west, "north": slope.north, "cell_m": slope.cell_m}
    areas = integrate_over_cells(shapes, slope_factor(_nearest_known(slope.values, known)), **place)
    known_m2 = integrate_over_cells(shapes, _ringed(known), **_ringed_place(slope))
    plan = shapely.area(shapes)
    with np.errstate(invalid="ignore", divide="ignore"):
        share = np.where(plan > 0, known_m2 / plan, 1.0)
    return areas, share


def _nearest_known(values: Floats, known: NDArray[np.bool_]) -> Floats:
    if known.all():
        return values
    nearest = distance_transform_edt(~known, return_distances=False, return_indices=True)
    filled: Floats = values[tuple(nearest)]
    return filled


def _ringed(known: NDArray[np.bool_]) -> Floats:
    """Known cells as 1 within a rim of 0, so that ground beyond the raster counts as unknown."""
    return np.pad(known.astype(float), 1)


def _ringed_place(grid: Grid) -> dict[str, float]:
    return {"west": grid.west - grid.cell_m, "north": grid.north + grid.cell_m, "cell_m": grid.cell_m}
