"""How large a plant's mark may be on the ground, so that it covers no other plant's place."""

from __future__ import annotations

from typing import Any

import geopandas as gpd
import numpy as np
from scipy.spatial import cKDTree

from geoagro.arrays import Floats
from geoagro.values.plants import Plants

_SAME_M = 0.05
"""Plants nearer than this stand on one place, one after the other or by mistake; the place counts once."""
_BEDS = 30
"""Beds looked at for each crop, spread over the field."""
_NARROW = 0.05
"""Share of a crop's places that may be narrower than the size told."""
_LONE_M = 1.0


def places_m(plants: Plants) -> dict[str, float]:
    """Distance from each crop's plants to the next place in their bed, metres: the narrower ones; 1 m for a lone plant."""
    return {crop: _place_m(plants.frame, frame) for crop, frame in plants.by_crop().items()}


def _place_m(every: gpd.GeoDataFrame, frame: Any) -> float:
    beds = frame["bed"].unique()
    some = list(beds[:: max(1, len(beds) // _BEDS)])
    around = every[every["bed"].isin(some)]
    xy = _places(around)
    own = _places(frame[frame["bed"].isin(some)])
    if len(xy) < 2:
        return _LONE_M
    distance = np.asarray(cKDTree(xy).query(own, k=[2])[0])
    return float(np.clip(np.quantile(distance, _NARROW), _SAME_M, 4.0))


def _places(frame: Any) -> Floats:
    places: Floats = np.unique(np.round(frame[["x", "y"]].to_numpy() / _SAME_M), axis=0) * _SAME_M
    return places
