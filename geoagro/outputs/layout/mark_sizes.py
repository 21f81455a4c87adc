"""How large a crop's marks are where there is room; each plant's own place makes its mark smaller, never larger."""

from __future__ import annotations

import numpy as np

from geoagro.values.plants import Plants
from geoagro.values.results.stored_plants import StoredPlants

_LONE_M = 1.0
"""Size for a crop without neighbours."""


def usual_places_m(plants: Plants | StoredPlants) -> dict[str, float]:
    """Middle distance from each crop's plants to the nearest plant of the same time, metres; 1 m where none is near."""
    return {crop: _usual_m(distances) for crop, distances in plants.nearest_by_crop().items()}


def _usual_m(nearest_m: np.ndarray[tuple[int], np.dtype[np.float64]]) -> float:
    known = nearest_m[np.isfinite(nearest_m)]
    return float(np.median(known)) if len(known) else _LONE_M
