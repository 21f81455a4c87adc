"""Where rows that should fall one way rise that way, in one compiled pass."""

from __future__ import annotations

import numpy as np

from geoagro.arrays import Bools, Floats, Ints
from geoagro.planar.compiled import compiled


@compiled
def rising_on(
    way: Ints, at: tuple[Floats, Floats], rows: tuple[Ints, Bools], most_m: float, bridge_m: float
) -> tuple[Bools, Ints]:
    """Tell at which places a row has risen by more than `most_m` since its lowest place so far, going the way it should fall.

    Beside that, which is the lowest place so far (-1: none). Past a place that rises too far a row may fall on from there: only
    what rises still higher is told.

    Parameters
    ----------
    way
        At each place: -1 where the row should fall onward, 1 where it should fall backward, 0 where either is right.
    at
        Station along its row and height of each place, metres; the height is NaN where it isn't known, which ends what is known of the
        lowest.
    rows
        Row k has the places from rows[0][k] to rows[0][k + 1]; where rows[1] says that it is a ring it is gone round twice, as it
        begins anywhere.
    bridge_m
        Where places with another way lie between two no farther apart than this, the lowest place before them still counts behind.
    """
    (station, height), (bounds, is_ring) = at, rows
    told, lowest = np.zeros(len(way), dtype=np.bool_), np.full(len(way), -1, dtype=np.int64)
    for row in range(len(bounds) - 1):
        first, count = bounds[row], bounds[row + 1] - bounds[row]
        laps = 2 if is_ring[row] else 1
        for onward in (-1, 1):
            least, low, since, straight_on = np.inf, -1, np.inf, True
            for step in range(laps * count):
                place = step % count
                k = first + (place if onward < 0 else count - 1 - place)
                if np.isnan(height[k]):
                    least = np.inf
                if np.isnan(height[k]) or way[k] != onward:
                    straight_on = False
                    continue
                if not straight_on and abs(station[k] - since) > bridge_m:
                    least = np.inf
                since, straight_on = station[k], True
                if height[k] < least:
                    least, low = height[k], k
                lowest[k] = low
                if height[k] - least > most_m:
                    told[k] = True
                    least = height[k] - most_m
    return told, lowest
