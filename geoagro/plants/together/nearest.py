"""How far off each plant's nearest neighbour is, of all that stand while it stands."""

from __future__ import annotations

import numpy as np
from scipy.spatial import cKDTree

from geoagro.arrays import Floats
from geoagro.plants.together.spells import Spells
from geoagro.values.plants import FARTHEST_NEIGHBOUR_M
from geoagro.values.timeline import Timeline

_FIRST = 2
"""Points looked at in the first round, itself included; those with no neighbour of their time look at more in the next."""


def nearest_m(xy: Floats, timeline: Timeline) -> Floats:
    """Distance to the nearest other plant with which each plant ever shares a week, metres.

    Not a number where none stands within `FARTHEST_NEIGHBOUR_M`. All plants are looked at, of any bed and crop.

    Parameters
    ----------
    xy
        Places, shape (n, 2), metres.
    timeline
        What stands there when, with the rounds of the season.
    """
    found = np.full(len(xy), np.nan)
    if len(xy) < 2:
        return found
    # plants lie in rows: a tree halved at the middle of its boxes is built four times faster and asked as fast
    tree, spells = cKDTree(xy, balanced_tree=False, compact_nodes=False), Spells(timeline)
    left, looked = np.arange(len(xy)), 0
    while len(left) and looked < len(xy):
        looked = min(2 * looked or _FIRST, len(xy))
        # all ranks anew: where two are equally far, their order is another in each query
        ranks = np.arange(1, looked + 1)
        far, other = map(np.asarray, tree.query(xy[left], k=ranks, distance_upper_bound=FARTHEST_NEIGHBOUR_M))
        which, place = np.nonzero(np.isfinite(far) & (other != left[:, None]))
        met = np.zeros(far.shape, dtype=bool)
        met[which, place] = spells.meet(timeline.kind[left[which]], timeline.kind[other[which, place]])
        has, first = met.any(axis=1), met.argmax(axis=1)
        found[left[has]] = far[has, first[has]]
        left = left[~has & np.isfinite(far[:, -1])]
    return found
