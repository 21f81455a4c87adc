"""Smooth continuation of a surface past the edge of its data."""

from __future__ import annotations

from typing import Any

import numpy as np
from scipy import ndimage

from geoagro.arrays import Floats
from geoagro.terrain.reach import TRUNCATE
from geoagro.terrain.smoothing import Slices, blurred, tiles
from geoagro.terrain.window import Mask
from geoagro.values.grid import Grid

Planes = tuple[Floats, Floats, Floats]


def continued(grid: Grid, *, region: Mask, sigma_m: float) -> Grid:
    """Continue a smooth surface into the unknown cells of `region`, so that gradients exist there too.

    Each unknown cell gets the tangent plane of the nearest known cell; away from the edge the planes of
    neighbouring cells are averaged (a Gaussian of `sigma_m` metres), which rounds the creases where the
    nearest cell changes. A plane is continued exactly. Unknown cells outside `region` stay NaN.
    """
    z = grid.values
    known = np.isfinite(z)
    wanted = region & ~known
    usable = _has_tangent(known)
    if not wanted.any() or not usable.any():
        return grid
    distance, nearest = ndimage.distance_transform_edt(~usable, return_indices=True)
    sigma = max(sigma_m / grid.cell_m, 0.5)
    out = z.copy()
    for tile, near, inner in tiles(z.shape, int(np.ceil(TRUNCATE * sigma))):
        if not wanted[tile].any():
            continue
        there = _tangent_planes(z, nearest[0][near], nearest[1][near], near)
        smooth = (blurred(there[0], sigma), blurred(there[1], sigma), blurred(there[2], sigma))
        share = np.clip((distance[near] - 1) / (2 * sigma), 0.0, 1.0)
        mixed = (1 - share) * _evaluated(there) + share * _evaluated(smooth)
        out[tile] = np.where(wanted[tile], mixed[inner], z[tile])
    return grid.with_values(out)


def _has_tangent(known: Mask) -> Mask:
    """Known cells with a known neighbour in the row and one in the column."""
    padded = np.pad(known, 1)
    row = padded[1:-1, :-2] | padded[1:-1, 2:]
    column = padded[:-2, 1:-1] | padded[2:, 1:-1]
    result: Mask = known & row & column
    return result


def _tangent_planes(z: Floats, r: Any, c: Any, near: Slices) -> Planes:
    """Height at the tile's corner and rise per cell to the right and down, of the planes at cells (r, c)."""
    down, right = _difference(z, r, c, 1, 0), _difference(z, r, c, 0, 1)
    return z[r, c] - right * (c - near[1].start) - down * (r - near[0].start), right, down


def _difference(z: Floats, r: Any, c: Any, dr: int, dc: int) -> Floats:
    """Central difference per cell, one-sided beside an unknown cell."""
    rows, columns = z.shape

    def at(k: int) -> Floats:
        i, j = r + k * dr, c + k * dc
        inside = (i >= 0) & (i < rows) & (j >= 0) & (j < columns)
        value: Floats = np.where(inside, z[np.clip(i, 0, rows - 1), np.clip(j, 0, columns - 1)], np.nan)
        return value

    here = z[r, c]
    before, after = here - at(-1), at(1) - here
    out: Floats = np.where(np.isnan(before), after, np.where(np.isnan(after), before, 0.5 * (before + after)))
    return out


def _evaluated(planes: Planes) -> Floats:
    rows, columns = planes[0].shape
    out: Floats = planes[0] + planes[1] * np.arange(columns)[None, :] + planes[2] * np.arange(rows)[:, None]
    return out
