"""Where straight pieces of lines lie within reach of one another: exact, where buffers draw arcs with corners."""

from __future__ import annotations

from typing import Any

import numpy as np

from geoagro.arrays import Floats
from geoagro.planar.vectors import dot

_SPECK_M = 1e-9
"""A piece shorter than this is a point."""


def within_reach(some: tuple[Floats, Floats], others: tuple[Floats, Floats], reach_m: float) -> tuple[Floats, Floats]:
    """From where to where, in shares of its length, each straight piece lies within reach of the other of its pair.

    Pieces by their first and last points, shape (n, 2) each. What is within reach of a straight piece is a strip with two round
    caps; where a line meets it is one stretch, since it has no dents. The first number is above the second where they don't meet.
    """
    way, across = some[1] - some[0], others[1] - others[0]
    size = np.hypot(*across.T)
    unit = across / np.maximum(size, _SPECK_M)[:, None]
    normal, from_them = np.column_stack([-unit[:, 1], unit[:, 0]]), some[0] - others[0]
    strips = [
        _between(dot(from_them, unit), dot(way, unit), 0.0, size),
        _between(dot(from_them, normal), dot(way, normal), -reach_m, reach_m),
    ]
    begin, end = np.maximum(strips[0][0], strips[1][0]), np.minimum(strips[0][1], strips[1][1])
    none = (begin > end) | (size < _SPECK_M)
    begin, end = np.where(none, np.inf, begin), np.where(none, -np.inf, end)
    for centre in others:
        first, last = _in_circle(some[0] - centre, way, reach_m)
        begin, end = np.minimum(begin, first), np.maximum(end, last)
    return np.maximum(begin, 0.0), np.minimum(end, 1.0)


def _between(at: Floats, by: Floats, low: Any, high: Any) -> tuple[Floats, Floats]:
    """From where to where at + t * by lies between two values."""
    still = np.abs(by) < 1e-12
    with np.errstate(divide="ignore", invalid="ignore"):
        one, two = (low - at) / by, (high - at) / by
    inside = (at >= low) & (at <= high)
    begin = np.where(still, np.where(inside, -np.inf, np.inf), np.minimum(one, two))
    return begin, np.where(still, -begin, np.maximum(one, two))


def _in_circle(from_centre: Floats, way: Floats, radius_m: float) -> tuple[Floats, Floats]:
    """From where to where from_centre + t * way lies in a circle."""
    square = np.maximum(dot(way, way), 1e-24)
    middle = -dot(from_centre, way) / square
    half = middle**2 - (dot(from_centre, from_centre) - radius_m**2) / square
    root = np.sqrt(np.maximum(half, 0.0))
    return np.where(half < 0, np.inf, middle - root), np.where(half < 0, -np.inf, middle + root)
