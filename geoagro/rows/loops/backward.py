"""Where rows that should fall one way rise that way, in one compiled pass."""

from __future__ import annotations

import numpy as np

from geoagro.arrays import Bools, Floats, Ints
from geoagro.planar.compiled import compiled


@compiled
def rising_on(way: Ints, height: Floats, bounds: Ints, is_ring: Bools, most_m: float) -> tuple[Bools, Ints]:
    """Tell at which places a row has risen by more than `most_m` since its lowest place so far, going the way it should fall.

    Beside that, which is the lowest place so far (-1: none). Past a place that rises too far a row may fall on from there: only
    what rises still higher is told.

    Parameters
    ----------
    way
        At each place: -1 where the row should fall onward, 1 where it should fall backward, 0 where either is right.
    height
        Metres; NaN where it isn't known, which ends what is known of the lowest.
    bounds, is_ring
        Row k has the places from bounds[k] to bounds[k + 1]; a ring is gone round twice, as it begins anywhere.
    """
    told, lowest = np.zeros(len(way), dtype=np.bool_), np.full(len(way), -1, dtype=np.int64)
    for row in range(len(bounds) - 1):
        first, count = bounds[row], bounds[row + 1] - bounds[row]
        laps = 2 if is_ring[row] else 1
        for onward in (-1, 1):
            least, at = np.inf, -1
            for step in range(laps * count):
                place = step % count
                k = first + (place if onward < 0 else count - 1 - place)
                if way[k] != onward or np.isnan(height[k]):
                    least = np.inf
                    continue
                if height[k] < least:
                    least, at = height[k], k
                lowest[k] = at
                if height[k] - least > most_m:
                    told[k] = True
                    least = height[k] - most_m
    return told, lowest
