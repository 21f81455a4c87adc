"""How far wrong the field's area may be because its boundary points are."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import shapely
from shapely import MultiPolygon

from geoagro.arrays import Floats

SEED = 331
DRAWS = 2000
_CHUNK = 500


def propagated_sd(boundary: MultiPolygon, error_m: float, *, correlation_m: float = 0.0) -> float:
    """Compute the standard deviation of a polygon's area by error propagation, m2.

    An area changes with a vertex by half the distance between its two neighbours, at right angles to it, so
    for independent errors sd = error / 2 * sqrt(sum of squared distances between the neighbours of each
    vertex) (Navratil, 2003; J. Jpn. For. Soc. 100(6), 2018, 193-200; the formula itself from memory). With
    `correlation_m` two errors go together by exp(-distance along the boundary / correlation_m), and the
    propagation takes the covariances in.

    Parameters
    ----------
    error_m
        Standard deviation of a vertex in x and in y, each, metres.
    correlation_m
        0 for independent errors.

    >>> round(propagated_sd(shapely.box(0, 0, 100, 100), 2.0), 1)
    282.8
    """
    variance = 0.0
    for points in _rings(boundary):
        gradient = _gradient(points)
        if correlation_m == 0:
            variance += float((gradient**2).sum())
            continue
        along, length = _stations(points)
        for low in range(0, len(along), _CHUNK):
            apart = np.abs(along[low : low + _CHUNK, None] - along[None, :])
            together = np.exp(-np.minimum(apart, length - apart) / correlation_m)
            variance += float(np.einsum("ik,ij,jk->", gradient[low : low + _CHUNK], together, gradient))
    return error_m * float(np.sqrt(max(variance, 0.0)))


def simulated_sd(boundary: MultiPolygon, error_m: float, *, correlation_m: float = 0.0, draws: int = DRAWS) -> float:
    """Compute the same by moving all vertices at random `draws` times, with a fixed seed, and measuring each."""
    random = np.random.default_rng(SEED)
    areas = np.zeros(draws)
    for points in _rings(boundary):
        errors = [_draw(random, points, draws, correlation_m) * error_m for _ in range(2)]
        x, y = points[:, :1] - points[0, 0] + errors[0], points[:, 1:] - points[0, 1] + errors[1]
        areas += (x * (np.roll(y, -1, 0) - np.roll(y, 1, 0))).sum(axis=0) / 2
    return float(areas.std(ddof=1))


def _draw(random: np.random.Generator, points: Floats, draws: int, correlation_m: float) -> Floats:
    """Draw standard normal errors, shape (vertices, draws), that go together along the ring."""
    noise: Floats = random.standard_normal((len(points), draws))
    if correlation_m == 0:
        return noise
    steps = np.diff(_stations(points)[0])
    for k, keep in enumerate(np.exp(-steps / correlation_m), start=1):
        noise[k] = keep * noise[k - 1] + np.sqrt(1 - keep**2) * noise[k]
    return noise


def _rings(boundary: MultiPolygon) -> Iterator[Floats]:
    """Yield the vertices of each ring, without the closing one; shells run counter-clockwise, holes clockwise."""
    for ring in shapely.get_rings(shapely.get_parts(shapely.orient_polygons(boundary))):
        yield shapely.get_coordinates(ring)[:-1]


def _gradient(points: Floats) -> Floats:
    """Change of the ring's area when a vertex moves east, and when it moves north."""
    across = np.roll(points, -1, axis=0) - np.roll(points, 1, axis=0)
    return np.column_stack([across[:, 1], -across[:, 0]]) / 2


def _stations(points: Floats) -> tuple[Floats, float]:
    steps = np.linalg.norm(np.roll(points, -1, axis=0) - points, axis=1)
    return np.concatenate([[0.0], np.cumsum(steps)[:-1]]), float(steps.sum())
