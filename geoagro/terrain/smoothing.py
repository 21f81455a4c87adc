"""Smoothing at the scale of the rows."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

import numpy as np
from scipy import ndimage

from geoagro.arrays import Floats
from geoagro.terrain.reach import TRUNCATE
from geoagro.terrain.window import Mask
from geoagro.values.grid import Grid

SHARE_OF_SPACING = 0.7
TILE = 512
Slices = tuple[slice, slice]


def smoothing_scale(smoothing_m: float | Literal["auto"], *, spacing_m: float, cell_m: float) -> float:
    """Return the standard deviation of the Gaussian, metres; "auto" is 0.7 of the spacing, a cell at least.

    A Gaussian of standard deviation s passes exp(-2 pi^2 s^2 / L^2) of a wave of length L: at s = 0.7 d a
    ripple as long as the row spacing d vanishes (0.006 %), a landform 8 d long keeps 86 % of its height, and
    white noise of 5 cm in 1 m cells turns into less than 0.1 % of slope at d = 4.5 m
    (0.2 * noise * cell / s^2).

    >>> smoothing_scale("auto", spacing_m=4.5, cell_m=1.0)
    3.15
    """
    if smoothing_m == "auto":
        return max(cell_m, round(SHARE_OF_SPACING * spacing_m, 6))
    return float(smoothing_m)


def smoothed(grid: Grid, sigma_m: float) -> Grid:
    """Smooth the known cells by a Gaussian; cells without a value take no part and stay NaN.

    Inside the data this is a plain convolution. Where the Gaussian meets cells without data, the value is
    that of the plane fitted to the known cells with the Gaussian as weight (normalised convolution of first
    order: Knutsson and Westin 1993, "Normalized and differential convolution"), so that a plane stays a
    plane up to its very edge. Works tile by tile.
    """
    sigma = sigma_m / grid.cell_m
    if sigma < 0.05:
        return grid
    known = np.isfinite(grid.values)
    if not known.any():
        return grid
    level = float(np.mean(grid.values[known]))
    z = np.where(known, grid.values - level, 0.0)
    if known.all():
        return grid.with_values(blurred(z, sigma) + level)
    out = np.full(z.shape, np.nan)
    for tile, near, inner in tiles(z.shape, int(np.ceil(TRUNCATE * sigma))):
        if known[near].all():
            out[tile] = blurred(z[near], sigma)[inner]
        elif known[tile].any():
            out[tile] = _local_plane(z[near], known[near], sigma)[inner]
    return grid.with_values(np.where(known, out + level, np.nan))


def tiles(shape: tuple[int, ...], pad: int) -> Iterator[tuple[Slices, Slices, Slices]]:
    """Yield tile, tile widened by `pad` cells, and where the tile lies in the widened one."""
    for top in range(0, shape[0], TILE):
        for left in range(0, shape[1], TILE):
            r0, c0 = max(top - pad, 0), max(left - pad, 0)
            bottom, right = min(top + TILE, shape[0]), min(left + TILE, shape[1])
            yield (
                np.s_[top:bottom, left:right],
                np.s_[r0 : bottom + pad, c0 : right + pad],
                np.s_[top - r0 : bottom - r0, left - c0 : right - c0],
            )


def blurred(values: Floats, sigma: float) -> Floats:
    """Convolve with a Gaussian (`sigma` in cells); the edge value holds beyond the edge."""
    out: Floats = ndimage.gaussian_filter(values, sigma, mode="nearest", truncate=TRUNCATE)
    return out


def _sum(values: Floats, sigma: float) -> Floats:
    """Weighted sum over the cells of the tile; nothing lies beyond."""
    out: Floats = ndimage.gaussian_filter(values, sigma, mode="constant", truncate=TRUNCATE)
    return out


def _local_plane(z: Floats, known: Mask, sigma: float) -> Floats:
    """Value at each cell of the plane fitted to the known cells around it.

    Moments about the cell itself come from moments about a fixed origin, shifted; the origin is the tile's
    middle, in units of sigma, so that no digits are lost.
    """
    rows, columns = z.shape
    y = ((np.arange(rows) - rows / 2) / sigma)[:, None] * np.ones((1, columns))
    x = ((np.arange(columns) - columns / 2) / sigma)[None, :] * np.ones((rows, 1))
    m = known.astype(float)
    with np.errstate(divide="ignore", invalid="ignore"):
        m0 = _sum(m, sigma)
        mx, my, mz = (_sum(m * v, sigma) / m0 for v in (x, y, z))
        cxx = _sum(m * x * x, sigma) / m0 - mx * mx
        cyy = _sum(m * y * y, sigma) / m0 - my * my
        cxy = _sum(m * x * y, sigma) / m0 - mx * my
        cxz = _sum(m * x * z, sigma) / m0 - mx * mz
        cyz = _sum(m * y * z, sigma) / m0 - my * mz
        det = cxx * cyy - cxy * cxy
        gx, gy = (cxz * cyy - cyz * cxy) / det, (cyz * cxx - cxz * cxy) / det
        plane = mz + gx * (x - mx) + gy * (y - my)
    # too few cells for a plane (a lone cell, a single line of cells): keep the mean
    return np.where(det > 1e-4, plane, mz)
