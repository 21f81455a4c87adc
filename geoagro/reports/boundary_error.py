"""How far wrong the field's area may be because its boundary points are, by trying."""

from __future__ import annotations

import numpy as np
from shapely import MultiPolygon

from geoagro.arrays import Floats
from geoagro.planar.area_error import outline_rings, ring_stations

SEED = 331
DRAWS = 2000


def simulated_sd(boundary: MultiPolygon, error_m: float, *, correlation_m: float = 0.0, draws: int = DRAWS) -> float:
    """Compute the same by moving all vertices at random `draws` times, with a fixed seed, and measuring each."""
    random = np.random.default_rng(SEED)
    areas = np.zeros(draws)
    for points in outline_rings(boundary):
        errors = [_draw(random, points, draws, correlation_m) * error_m for _ in range(2)]
        x, y = (at[:, None] + error for at, error in zip((points - points.mean(axis=0)).T, errors, strict=True))
        areas += (x * (np.roll(y, -1, 0) - np.roll(y, 1, 0))).sum(axis=0) / 2
    return float(areas.std(ddof=1))


def _draw(random: np.random.Generator, points: Floats, draws: int, correlation_m: float) -> Floats:
    """Draw standard normal errors, shape (vertices, draws), that go together along the ring."""
    noise: Floats = random.standard_normal((len(points), draws))
    if correlation_m == 0:
        return noise
    steps = np.diff(ring_stations(points)[0])
    for k, keep in enumerate(np.exp(-steps / correlation_m), start=1):
        noise[k] = keep * noise[k - 1] + np.sqrt(1 - keep**2) * noise[k]
    return noise
