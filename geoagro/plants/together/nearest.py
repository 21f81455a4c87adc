"""How far off each plant's nearest neighbour is, of all that stand while it stands."""

from __future__ import annotations

import numpy as np

from geoagro.arrays import Floats, Ints
from geoagro.plants.together.nearest_loops import nearest_standing, plant_cells
from geoagro.values.plants import FARTHEST_NEIGHBOUR_M
from geoagro.values.timeline import Timeline


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
    cells = plant_cells(xy)
    x, y = xy[cells.order].T.copy()
    plants = (cells.pointer, x, y, timeline.kind[cells.order].astype(np.int64))
    nearest = np.full(len(xy), np.nan)
    nearest_standing(cells.frame, plants, _stays(timeline), FARTHEST_NEIGHBOUR_M, nearest)
    found[cells.order] = nearest
    return found


def _stays(timeline: Timeline) -> tuple[Ints, Ints, Ints]:
    """First stay of each kind (one more than there are kinds), and weeks in which each stay begins and ends."""
    first = np.cumsum([0, *(len(kind.stays) for kind in timeline.kinds)], dtype=np.int64)
    weeks = [(stay.plant_week, stay.end_week) for kind in timeline.kinds for stay in kind.stays]
    begin, end = np.array(weeks, dtype=np.int64).reshape(-1, 2).T.copy()
    return first, begin, end
