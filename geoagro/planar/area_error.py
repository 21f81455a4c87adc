"""How far wrong an area may be because the points of its outline are."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import shapely
from shapely import MultiPolygon

from geoagro.arrays import Floats

PHONE_ERROR_M = 2.0
"""Standard deviation of a point in east and in north as a phone finds it under open sky: 4.9 m at 95 % by public positioning
guides, which is 4.9 / 2.45."""

_CHUNK = 500
_FAR = 30.0
"""Points so many reaches apart err by themselves: exp(-30) is 1e-13."""


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
    for points in outline_rings(boundary):
        gradient = _gradient(points)
        if correlation_m == 0:
            variance += float((gradient**2).sum())
        else:
            variance += _together(points, gradient, correlation_m)
    return error_m * float(np.sqrt(max(variance, 0.0)))


def writing_sd(boundary: MultiPolygon, error_m: float | None, *, correlation_m: float) -> float:
    """Give the standard deviation by which areas of a field are written, m2: as stated, else as if walked with a phone.

    Every page and line that tells people hectares asks this, so that all show the same decimals.

    >>> writing_sd(shapely.box(0, 0, 100, 100), None, correlation_m=0.0)
    282.8
    """
    error = PHONE_ERROR_M if error_m is None else error_m
    return round(propagated_sd(boundary, error, correlation_m=correlation_m), 1)


def outline_rings(boundary: MultiPolygon) -> Iterator[Floats]:
    """Yield the vertices of each ring, without the closing one; shells run counter-clockwise, holes clockwise."""
    for ring in shapely.get_rings(shapely.get_parts(shapely.orient_polygons(boundary))):
        yield shapely.get_coordinates(ring)[:-1]


def ring_stations(points: Floats) -> tuple[Floats, float]:
    """Distance along a ring from its first vertex to each, and the whole length, metres."""
    steps = np.linalg.norm(np.roll(points, -1, axis=0) - points, axis=1)
    return np.concatenate([[0.0], np.cumsum(steps)[:-1]]), float(steps.sum())


def _gradient(points: Floats) -> Floats:
    """Change of the ring's area when a vertex moves east, and when it moves north."""
    across = np.roll(points, -1, axis=0) - np.roll(points, 1, axis=0)
    return np.column_stack([across[:, 1], -across[:, 0]]) / 2


def _together(points: Floats, gradient: Floats, correlation_m: float) -> float:
    """Sum gradients over all pairs of vertices that err alike, a few hundred vertices against those in reach at a time."""
    along, length = ring_stations(points)
    total = 0.0
    for low in range(0, len(along), _CHUNK):
        here = along[low : low + _CHUNK]
        away = np.abs(along - (here[0] + here[-1]) / 2)
        near = np.minimum(away, length - away) - (here[-1] - here[0]) / 2 <= _FAR * correlation_m
        apart = np.abs(here[:, None] - along[near][None, :])
        alike = np.exp(-np.minimum(apart, length - apart) / correlation_m)
        total += float((gradient[low : low + _CHUNK] * (alike @ gradient[near])).sum())
    return total
