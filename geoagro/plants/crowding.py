"""Crowns of one stratum that meet."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from geoagro.arrays import Floats, Ints
from geoagro.planar.zones import lens_area
from geoagro.plants.crowns import LAYERS
from geoagro.plants.kinds import Stand
from geoagro.plants.neighbours import pairs_within
from geoagro.plants.records.recipe_analysis import CROWDING
from geoagro.plants.root_shares import states, worst_moment


def crowding_table(stand: Stand, subject: Ints, months: Ints, weeks: Floats) -> pd.DataFrame:
    """Layer CROWDING: crowns of one stratum that meet, by pair of crops."""
    found: dict[tuple[str, str, str], NDArray[Any]] = {}
    xy = np.column_stack([stand.x, stand.y])
    for a, first in enumerate(stand.kinds):
        mine = subject[stand.kind[subject] == a]
        for b, second in enumerate(stand.kinds):
            if first.stratum != second.stratum or not first.meets(second) or not len(mine):
                continue
            theirs = stand.of(b)
            i, j, distance = pairs_within(xy[mine], xy[theirs], first.crown_m + second.crown_m)
            apart = mine[i] != theirs[j]
            total = np.zeros((3, len(weeks)))
            for crown_a, crown_b, at in states(first.crown, second.crown, weeks):
                total[:, at] += _met(i[apart], distance[apart], (crown_a, crown_b), len(mine))[:, None]
            key = (first.stratum, first.crop, second.crop)
            found[key] = found.get(key, 0.0) + total
    return _crowding_frame(found, months)


def _met(i: Ints, distance: Floats, crowns: tuple[float, float], count: int) -> Floats:
    """Plants looked at, plants whose crown meets one, and sum of overlapped shares."""
    overlap = lens_area(distance, np.array(crowns[0]), np.array(crowns[1])) / (np.pi * crowns[0] ** 2)
    share = np.minimum(np.bincount(i, overlap, minlength=count), 1.0)
    return np.array([count, np.count_nonzero(share > 0), share.sum()], dtype=float)


def _crowding_frame(found: dict[tuple[str, str, str], NDArray[Any]], months: Ints) -> pd.DataFrame:
    rows = []
    for key, (count, met, overlap) in found.items():
        share = met / np.maximum(count, 1)
        at = worst_moment(overlap / np.maximum(count, 1), count > 0)
        if met.max() == 0:
            continue
        half = np.flatnonzero(share >= 0.5)
        from_month = int(months[half[0]]) if len(half) else 0
        rows.append((*key, 100 * share[at], 100 * overlap[at] / count[at], from_month))
    rows.sort(key=lambda row: (LAYERS.index(row[0]), -row[4], row[1], row[2]))
    return CROWDING.frame({name: [row[k] for row in rows] for k, name in enumerate(CROWDING.columns)})
