"""Smoothing at the scale of the rows, and smooth continuation past the edge of the data."""

from __future__ import annotations

from typing import Literal

import numpy as np
from scipy import ndimage

from geoagro.terrain.window import Mask
from geoagro.values.grid import Floats, Grid

SHARE_OF_SPACING = 0.7
TRUNCATE = 4.0
TILE = 512


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
        return grid.with_values(_blur(z, sigma, mode="nearest") + level)
    out = np.full(z.shape, np.nan)
    pad = int(np.ceil(TRUNCATE * sigma))
    rows, columns = z.shape
    for top in range(0, rows, TILE):
        for left in range(0, columns, TILE):
            r0, c0 = max(top - pad, 0), max(left - pad, 0)
            near = np.s_[r0 : top + TILE + pad, c0 : left + TILE + pad]
            if not known[top : top + TILE, left : left + TILE].any():
                continue
            inner = np.s_[top - r0 : top - r0 + TILE, left - c0 : left - c0 + TILE]
            whole = known[near].all()
            tile = _blur(z[near], sigma, mode="nearest") if whole else _local_plane(z[near], known[near], sigma)
            out[top : top + TILE, left : left + TILE] = tile[inner]
    return grid.with_values(np.where(known, out + level, np.nan))


def _blur(values: Floats, sigma: float, mode: str = "constant") -> Floats:
    out: Floats = ndimage.gaussian_filter(values, sigma, mode=mode, truncate=TRUNCATE)
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
        m0 = _blur(m, sigma)
        mx, my, mz = (_blur(m * v, sigma) / m0 for v in (x, y, z))
        cxx = _blur(m * x * x, sigma) / m0 - mx * mx
        cyy = _blur(m * y * y, sigma) / m0 - my * my
        cxy = _blur(m * x * y, sigma) / m0 - mx * my
        cxz = _blur(m * x * z, sigma) / m0 - mx * mz
        cyz = _blur(m * y * z, sigma) / m0 - my * mz
        det = cxx * cyy - cxy * cxy
        gx, gy = (cxz * cyy - cyz * cxy) / det, (cyz * cxx - cxz * cxy) / det
        plane = mz + gx * (x - mx) + gy * (y - my)
    # too few cells for a plane (a lone cell, a single line of cells): keep the mean
    return np.where(det > 1e-4, plane, mz)


def continued(grid: Grid, *, region: Mask, sigma_m: float) -> Grid:
    """Continue a smooth surface into the unknown cells of `region`, so that gradients exist there too.

    Each unknown cell gets the tangent plane of the nearest known cell; away from the edge the planes of
    neighbouring cells are averaged (a Gaussian of `sigma_m`), which rounds the creases where the nearest
    cell changes. A plane is continued exactly. Unknown cells outside `region` stay NaN.
    """
    known = np.isfinite(grid.values)
    wanted = region & ~known
    if not wanted.any() or not known.any():
        return grid
    level = float(np.mean(grid.values[known]))
    z = np.where(known, grid.values - level, 0.0)
    gy, gx = _one_sided_gradient(np.where(known, z, np.nan))
    usable = known & np.isfinite(gx) & np.isfinite(gy)
    if not usable.any():
        return grid
    distance, (r, c) = ndimage.distance_transform_edt(~usable, return_indices=True)
    rows, columns = np.indices(z.shape, dtype=float)
    gx, gy = gx[r, c], gy[r, c]
    at_origin = z[r, c] - gx * c - gy * r
    nearest = at_origin + gx * columns + gy * rows
    sigma = max(sigma_m / grid.cell_m, 0.5)
    mean = [_blur(v, sigma, mode="nearest") for v in (at_origin, gx, gy)]
    share = np.clip((distance - 1) / (2 * sigma), 0.0, 1.0)
    out = (1 - share) * nearest + share * (mean[0] + mean[1] * columns + mean[2] * rows)
    return grid.with_values(np.where(wanted, out + level, grid.values))


def _one_sided_gradient(z: Floats) -> tuple[Floats, Floats]:
    """Differences per cell down the rows and along the columns, one-sided beside NaN."""
    return _difference(z, 0), _difference(z, 1)


def _difference(z: Floats, axis: int) -> Floats:
    pad = [(0, 0), (0, 0)]
    pad[axis] = (1, 1)
    steps = np.diff(np.pad(z, pad, constant_values=np.nan), axis=axis)
    before, after = (steps[:-1], steps[1:]) if axis == 0 else (steps[:, :-1], steps[:, 1:])
    mean = 0.5 * (before + after)
    mean = np.where(np.isnan(mean), before, mean)
    return np.where(np.isnan(mean), after, mean)
