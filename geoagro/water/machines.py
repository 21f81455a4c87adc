"""Slope across rows, as machines meet it when they work along them."""

from __future__ import annotations

import numpy as np
import pandas as pd

from geoagro.water.records.tables import SLOPE_CLASSES
from geoagro.water.row_profiles import Profile

EDGES_PCT = (0.0, 5.0, 10.0, 15.0, 20.0, 27.0)
"""27 % is 15 degrees, above which makers of ride-on machines allow no work at all (their manuals)."""


def slope_classes(profiles: list[Profile], limit_pct: float) -> pd.DataFrame:
    """Table SLOPE_CLASSES: length of row and row ends by slope across the row; at least one row.

    The cross slope is what is left of the ground's steepness when the row's own grade is taken off:
    sqrt(slope^2 - grade^2). The machines' limit is made an edge of the classes.
    """
    edges = sorted({*EDGES_PCT, float(limit_pct)})
    across = [100 * np.sqrt(np.maximum(p.slope**2 - np.gradient(p.z_m, p.step_m) ** 2, 0.0)) for p in profiles]
    length = np.concatenate([p.weight_m for p in profiles])
    flat = np.concatenate(across)
    ends = np.array([a[k] for a in across for k in (0, -1)])
    place = np.searchsorted(edges, flat, side="right") - 1
    end_place = np.searchsorted(edges, ends, side="right") - 1
    metres = np.bincount(place, weights=length, minlength=len(edges))
    return SLOPE_CLASSES.frame(
        {
            "from_pct": edges,
            "to_pct": [*edges[1:], np.nan],
            "row_m": metres,
            "share_pct": 100 * metres / float(length.sum()),
            "row_ends": np.bincount(end_place, minlength=len(edges)),
            "above_limit": [edge >= limit_pct for edge in edges],
        }
    )
