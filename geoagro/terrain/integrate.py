"""Heights from slope and aspect: the surface whose gradient fits them best."""

from __future__ import annotations

import numpy as np
from scipy.fft import dctn, idctn

from geoagro.arrays import Floats
from geoagro.values.grid import Grid

MOST_STEPS = 200
TOLERANCE = 1e-9


def heights_from_gradient(slope: Grid, aspect_deg: Grid) -> Grid:
    """Integrate a slope (ratio) and its downslope direction (degrees) by least squares.

    Minimises the sum over neighbouring known cells of (z_j - z_i - mean gradient . step)^2, a Poisson
    equation with free edges; after Frankot and Chellappa 1988, "A method for enforcing integrability in
    shape from shading algorithms", IEEE PAMI 10(4): 439-451, here on the field's own shape. Solved by
    conjugate gradients preconditioned with the cosine transform of the enclosing rectangle, whose
    step count doesn't grow with the number of cells. Heights are relative: the lowest is 0. Level cells may
    have no aspect.
    """
    direction = np.radians(np.where(slope.values == 0, 0.0, aspect_deg.values))
    gx, gy = -slope.values * np.sin(direction), -slope.values * np.cos(direction)
    known = np.isfinite(gx) & np.isfinite(gy)
    z = _fit(np.where(known, gx, 0.0) * slope.cell_m, np.where(known, -gy, 0.0) * slope.cell_m, known)
    z = np.where(known, z, np.nan)
    return slope.with_values(z - np.nanmin(z))


def _fit(right: Floats, down: Floats, known: np.ndarray) -> Floats:
    """Heights from wanted differences per cell to the right and down."""
    across, along = known[:, :-1] & known[:, 1:], known[:-1] & known[1:]
    want_x = np.where(across, 0.5 * (right[:, :-1] + right[:, 1:]), 0.0)
    want_y = np.where(along, 0.5 * (down[:-1] + down[1:]), 0.0)

    def spread(ex: Floats, ey: Floats) -> Floats:
        """Transposed difference operator."""
        out = np.zeros(known.shape)
        out[:, 1:] += ex
        out[:, :-1] -= ex
        out[1:] += ey
        out[:-1] -= ey
        return out

    def laplacian(z: Floats) -> Floats:
        return spread(np.where(across, np.diff(z, axis=1), 0.0), np.where(along, np.diff(z, axis=0), 0.0))

    rows, columns = known.shape
    eigen = (2 - 2 * np.cos(np.pi * np.arange(rows) / rows))[:, None] + (
        2 - 2 * np.cos(np.pi * np.arange(columns) / columns)
    )[None, :]
    eigen[0, 0] = np.inf

    def precondition(residual: Floats) -> Floats:
        out: Floats = idctn(dctn(residual, type=2, norm="ortho") / eigen, type=2, norm="ortho")
        return out

    z = np.zeros(known.shape)
    residual = spread(want_x, want_y)
    start = float(np.abs(residual).max())
    if start == 0:
        return z
    direction = step = precondition(residual)
    energy = float(np.vdot(residual, step))
    for _ in range(MOST_STEPS):
        image = laplacian(direction)
        length = energy / float(np.vdot(direction, image))
        z = z + length * direction
        residual = residual - length * image
        if float(np.abs(residual).max()) < TOLERANCE * start:
            break
        step = precondition(residual)
        before, energy = energy, float(np.vdot(residual, step))
        direction = step + (energy / before) * direction
    return z
