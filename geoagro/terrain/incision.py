"""How deep each place lies below the banks of a narrow channel that runs through it."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from geoagro.arrays import Floats
from geoagro.terrain.smoothing import smoothed
from geoagro.terrain.window import Mask, averaged
from geoagro.values.grid import Grid

FEWEST_CELLS = 4.0
"""Of a raster across the widest channel that is looked for; wider cells show no bank."""
_CELLS_OF_WIDEST = 18.0
"""Finer cells are averaged to about so many across: quicker, and the survey's noise averages out."""
_QUIET_M = 0.02
"""Noise of the survey up to which its heights are taken as they are."""
_STEP_CELLS = 2.3
"""Discs are built up by growing so often by a small one: much quicker than one large, and round enough."""


@dataclass(frozen=True, eq=False)
class Incision:
    """Grids on the same cells.

    Attributes
    ----------
    depth
        Below the banks, metres; NaN where heights are unknown.
    banks
        Height to which the channel is filled.
    noise_m
        Standard deviation of what the survey's noise leaves in the heights.
    """

    depth: Grid
    banks: Grid
    noise_m: float


def incision(heights: Grid, widest_m: float) -> Incision:
    """Depth of channels up to `widest_m` wide, whatever valley or slope they run through.

    With D(w) the height of the closing by a flat disc of diameter w (dilation, then erosion: Serra 1982, "Image
    Analysis and Mathematical Morphology", ch. XI) above the ground, the depth is 2 D(w) - D(2w). A plane has none, nor has
    a step, as the disc finds room at its foot. In a channel narrower than w both are the depth below the lower bank. In
    a valley whose sides go on past 2w D grows with w and both cancel; a broad swale comes out below 0, which
    is cut off. So what is left is what has its own banks.

    The difference of two closings is our own choice. Cells finer than an eighteenth of the width are averaged first, and a
    survey noisier than 2 cm is smoothed by an eighteenth of the width.
    """
    grid = averaged(heights, max(1, math.floor(widest_m / _CELLS_OF_WIDEST / heights.cell_m + 1e-9)))
    known = np.isfinite(grid.values)
    if not known.any():
        return Incision(grid, grid, 0.0)
    noise_m = noise_sd(grid.values)
    if noise_m > _QUIET_M:
        sigma_m = max(widest_m / _CELLS_OF_WIDEST, 0.5 * grid.cell_m)
        grid = smoothed(grid, sigma_m)
        noise_m *= min(1.0, grid.cell_m / (2 * math.sqrt(math.pi) * sigma_m))  # white noise through a Gaussian
    narrow, wide = _closings(
        _continued(grid.values, known, pad := math.ceil(widest_m / grid.cell_m)), widest_m / 2 / grid.cell_m
    )
    rows, columns = grid.values.shape
    narrow, wide = (one[pad : pad + rows, pad : pad + columns] for one in (narrow, wide))
    filled = narrow - grid.values
    depth = np.clip(2 * filled - (wide - grid.values), 0.0, filled)
    return Incision(grid.with_values(np.where(known, depth, np.nan)), grid.with_values(narrow), noise_m)


def noise_sd(values: Floats) -> float:
    """Estimate the standard deviation of noise that is independent from cell to cell.

    By the mask that is blind to planes and to bends along rows or columns (Immerkaer 1996, "Fast noise variance
    estimation", Computer Vision and Image Understanding 64(2): 300-302; from memory), by the median, so that banks and steps in
    less than half of the ground don't count as noise.
    """
    if min(values.shape) < 3:
        return 0.0
    across = values[:, :-2] - 2 * values[:, 1:-1] + values[:, 2:]
    mask = across[:-2] - 2 * across[1:-1] + across[2:]
    mask = mask[np.isfinite(mask)]
    return float(np.median(np.abs(mask))) * 1.4826 / 6.0 if len(mask) else 0.0


def _continued(values: Floats, known: Mask, pad: int) -> Floats:
    """Give unknown cells, and a border of `pad` cells, the height of the nearest known one: no bank arises there."""
    if not known.all():
        nearest = ndimage.distance_transform_edt(~known, return_distances=False, return_indices=True)
        values = values[tuple(nearest)]
    return np.pad(values, pad, mode="edge")


def _closings(z: Floats, radius_cells: float) -> tuple[Floats, Floats]:
    """Close by a disc of that radius, and by one of twice the radius."""
    times = max(1, round(radius_cells / _STEP_CELLS))
    reach = radius_cells / times
    n = math.floor(reach)
    y, x = np.mgrid[-n : n + 1, -n : n + 1]
    disc = x**2 + y**2 <= reach**2 + 1e-9
    once = _repeated(ndimage.grey_dilation, z, disc, times)
    twice = _repeated(ndimage.grey_dilation, once, disc, times)
    return _repeated(ndimage.grey_erosion, once, disc, times), _repeated(ndimage.grey_erosion, twice, disc, 2 * times)


def _repeated(step: Callable[..., Floats], z: Floats, disc: Mask, times: int) -> Floats:
    for _ in range(times):
        z = step(z, footprint=disc, mode="nearest")
    return z
