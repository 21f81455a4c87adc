"""Heights along lines: even stations, low points between two passes, and where a fall turns round."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from geoagro.arrays import Floats, Ints
from geoagro.planar.peak_loops import peaks
from geoagro.planar.polylines import Polylines

STEP_M = 1.0
RIPPLE_M = 0.02
"""Dents shallower than this are the survey's noise, not ground: water in them isn't told. Our own choice."""
DEEP_M = 0.15
"""Low points from this depth are counted. Our own choice."""


@dataclass(frozen=True, eq=False)
class LineHeights:
    """Heights at even stations along many lines, one line after another.

    Attributes
    ----------
    xy
        Shape (stations, 2), metres.
    station_m
        Distance of each station from the start of its line, metres.
    z_m
        Height at each station; NaN where none is known.
    parts
        Number of a line, and which stations are its own: as far as heights are known from its start, at least three.
    """

    xy: Floats
    station_m: Floats
    z_m: Floats
    parts: list[tuple[int, slice]]


def heights_along(lines: Polylines, height: Callable[[Floats, Floats], Floats]) -> LineHeights:
    """Read heights (a function of x and y) every STEP_M or a little less; stations divide a line evenly."""
    count = np.maximum(np.ceil(lines.lengths / STEP_M).astype(int), 2) + 1
    owner = np.repeat(np.arange(len(lines)), count)
    place = np.arange(len(owner)) - np.repeat(np.cumsum(count) - count, count)
    station = place * np.repeat(lines.lengths / (count - 1), count)
    xy, _ = lines.locate(owner, station)
    z = height(xy[:, 0], xy[:, 1])
    ends = np.cumsum(count)
    parts = []
    for k, (a, b) in enumerate(zip(ends - count, ends, strict=True)):
        known = np.isfinite(z[a:b])
        stop = int(b) if known.all() else int(a) + int(np.argmin(known))
        if stop - a >= 3:
            parts.append((k, slice(int(a), stop)))
    return LineHeights(xy, station, z, parts)


def low_points(z_m: Floats, least_m: float) -> tuple[Ints, Floats]:
    """Stations (index) of inner low points, and how deep each lies below the lower of its two passes, m.

    >>> low_points(np.array([3.0, 1.0, 2.0, 0.0]), 0.5)
    (array([1]), array([1.]))
    """
    low = peaks(-z_m, least_m)
    return low.at, low.prominence


def dent_depths(z_m: Floats, least_m: float) -> Floats:
    """How far each station lies below the lower pass of the low point whose water it is under, m; 0 where it is dry.

    >>> dent_depths(np.array([3.0, 1.0, 1.5, 2.0, 0.0]), 0.5)
    array([0. , 1. , 0.5, 0. , 0. ])
    """
    low = peaks(-z_m, least_m)
    under = np.zeros(len(z_m))
    for a, b in zip(low.left.tolist(), low.right.tolist(), strict=True):
        under[a : b + 1] = np.maximum(under[a : b + 1], min(z_m[a], z_m[b]) - z_m[a : b + 1])
    return under


def turns(z_m: Floats, least_m: float = RIPPLE_M) -> Ints:
    """Stations (index) at which water turns round: both ends, low points and the heights between them."""
    low, _ = low_points(z_m, least_m)
    high, _ = low_points(-z_m, least_m)
    kept = [0, *_alternating(z_m, np.union1d(low, high)), len(z_m) - 1]
    return np.unique(np.asarray(kept, dtype=np.intp))


def _alternating(z: Floats, turning: Ints) -> list[int]:
    """Of neighbours that turn the same way keep the more extreme one."""
    kept: list[int] = []
    for at in turning.tolist():
        if len(kept) >= 2 and (z[kept[-1]] - z[kept[-2]]) * (z[at] - z[kept[-1]]) > 0:
            kept[-1] = at
        else:
            kept.append(at)
    return kept


def deep_dents(heights: LineHeights) -> int:
    """Count inner low points of DEEP_M or deeper over all lines."""
    return sum(len(low_points(heights.z_m[part], DEEP_M)[0]) for _, part in heights.parts)


def longest_ways(heights: LineHeights) -> Floats:
    """Longest way that water runs one way along each line of which heights are known, metres."""
    return np.array([_longest(heights.station_m[part], heights.z_m[part]) for _, part in heights.parts], dtype=float)


def _longest(station_m: Floats, z_m: Floats) -> float:
    return max(float(station_m[b] - station_m[a]) for a, b in pairwise(turns(z_m).tolist()))
