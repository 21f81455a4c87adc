"""Peaks of a profile and how far each stands above the higher of its two bases, in a compiled loop.

The same peaks, prominences and bases as `scipy.signal.find_peaks` finds (a test holds them equal); that library takes as long
to load as small fields take to lay out.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from geoagro.arrays import Floats, Ints
from geoagro.planar.compiled import compiled


@dataclass(frozen=True, eq=False)
class Peaks:
    """Peaks of a profile by rising station (index).

    Attributes
    ----------
    at
        Station of each peak, the middle one of a flat top.
    prominence
        Height above the higher of its two bases, in the units of the profile.
    left, right
        Stations of the bases: the lowest ground on each side before the profile rises above the peak.
    """

    at: Ints
    prominence: Floats
    left: Ints
    right: Ints


def peaks(profile: Floats, least: float) -> Peaks:
    """Peaks with at least this prominence.

    >>> found = peaks(np.array([0.0, 2.0, 1.0, 3.0, 0.5]), 0.5)
    >>> found.at.tolist(), found.prominence.tolist()
    ([1, 3], [1.0, 2.5])
    """
    bases = np.empty((len(profile), 3), dtype=np.intp)
    bases = bases[: _find(np.ascontiguousarray(profile, dtype=float), bases)]
    at, left, right = bases.T
    prominence = profile[at] - np.maximum(profile[left], profile[right])
    kept = prominence >= least
    return Peaks(at[kept], prominence[kept], left[kept], right[kept])


@compiled
def _find(profile: Floats, bases: Ints) -> int:
    """Write station, left base and right base of every inner peak; return how many there are."""
    count = 0
    k = 1
    last = len(profile) - 1
    while k < last:
        end = k
        while end < last and profile[end + 1] == profile[k]:
            end += 1
        if profile[k - 1] < profile[k] and end < last and profile[end + 1] < profile[k]:
            middle = (k + end) // 2
            bases[count, 0] = middle
            bases[count, 1] = _base(profile, middle, -1)
            bases[count, 2] = _base(profile, middle, 1)
            count += 1
        k = end + 1
    return count


@compiled
def _base(profile: Floats, peak: int, step: int) -> int:
    """Station of the lowest ground on one side, the nearest of equals, before the profile rises above the peak."""
    lowest = at = peak
    while 0 <= at < len(profile) and profile[at] <= profile[peak]:
        if profile[at] < profile[lowest]:
            lowest = at
        at += step
    return lowest
