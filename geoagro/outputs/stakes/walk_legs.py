"""A part of the walk in two: the way from the start to its first stake, and the walk over its stakes."""

from __future__ import annotations

from collections.abc import Iterator

import geopandas as gpd
import numpy as np
import shapely
from shapely import LineString

from geoagro.arrays import Floats

_SAME_M = 1e-3


def walk_legs(walk: gpd.GeoDataFrame, marks: gpd.GeoDataFrame) -> Iterator[tuple[int, LineString, LineString]]:
    """Give for each part (layer WALK) its number, the way to its first stake (layer MARKS), and its walk; either may be empty.

    Drawn as one, the ways of all days fan out from the start over the whole field and hide the walks.
    """
    first = marks.sort_values("walk").drop_duplicates("day_trip")
    begins = dict(zip(first["day_trip"].tolist(), first[["x", "y"]].to_numpy(dtype=float), strict=True))
    for part, line in zip(walk["day_trip"].tolist(), walk.geometry, strict=True):
        xy = shapely.get_coordinates(line)
        away = np.hypot(*(xy - begins[part]).T)
        at = int(np.argmax(away < _SAME_M)) if (away < _SAME_M).any() else int(away.argmin())
        yield int(part), _line(xy[: at + 1]), _line(xy[at:])


def _line(xy: Floats) -> LineString:
    return LineString(xy) if len(xy) > 1 else LineString()
