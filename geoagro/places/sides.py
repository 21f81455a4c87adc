"""The side of a field as ground: along the outer boundary where it faces north, east, south or west."""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely
from shapely import MultiPolygon

from geoagro.errors import DesignError
from geoagro.values.places import Side

_BEARING: dict[Side, float] = {"north": 0.0, "east": 90.0, "south": 180.0, "west": 270.0}
_HALF_DEG = 45.0
"""A boundary belongs to the side that it faces within half a right angle."""


def side_ground(boundary: MultiPolygon, side: Side, depth_m: float, *, key: str) -> Any:
    """Ground of the field within `depth_m` of the outer boundary that faces a side.

    Raises DesignError where no boundary faces it (a field whose outline has no such side).
    """
    pieces = [_facing(ring, _BEARING[side]) for ring in shapely.get_exterior_ring(shapely.get_parts(boundary))]
    lines = shapely.union_all(np.concatenate(pieces))
    if lines.is_empty:
        raise DesignError(f"{key}: no boundary of the field faces {side}; choose another side, or draw an area.")
    return shapely.intersection(lines.buffer(depth_m), boundary)


def _facing(ring: Any, bearing_deg: float) -> Any:
    xy = shapely.get_coordinates(ring)
    if not shapely.is_ccw(ring):
        xy = xy[::-1]
    step = np.diff(xy, axis=0)
    outward = np.degrees(np.arctan2(step[:, 1], -step[:, 0])) % 360.0  # right of a counter-clockwise ring: (dy, -dx)
    off = np.abs((outward - bearing_deg + 180.0) % 360.0 - 180.0)
    return shapely.linestrings(np.stack([xy[:-1], xy[1:]], axis=1)[off <= _HALF_DEG])
