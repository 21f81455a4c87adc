"""Ground under crowns."""

from __future__ import annotations

import numpy as np
import pandas as pd
import shapely

from geoagro.values.report import LaidOut

_QUARTER = 6


def canopy_cover(laid: LaidOut, plants: pd.Series) -> float:
    """Area of the field under the crowns of `plants` at full size, overlaps counted once, m2 (to 0.1).

    Crowns are regular 24-gons with the area of the circle, so that single crowns are exact and overlapping
    ones nearly so. NaN where a crop's width is unknown; 0 without plants.
    """
    if len(plants) == 0:
        return 0.0
    widths = plants["crop"].map({code: crop.canopy_width_m for code, crop in laid.crops.items()}).astype(float)
    if widths.isna().any():
        return float("nan")
    corners = 4 * _QUARTER
    same_area = np.sqrt(2 * np.pi / (corners * np.sin(2 * np.pi / corners)))
    crowns = shapely.buffer(plants.geometry.to_numpy(), widths.to_numpy() / 2 * same_area, quad_segs=_QUARTER)
    covered = shapely.disjoint_subset_union_all(crowns[~shapely.is_empty(crowns)])
    shapely.prepare(laid.boundary)
    return round(float(covered.intersection(laid.boundary).area), 1)
