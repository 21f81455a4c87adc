"""The row's bearing at any place, from the nearest bed's axis."""

from __future__ import annotations

import numpy as np
import shapely

from geoagro.arrays import Floats
from geoagro.plants.spots import bearing_deg
from geoagro.plants.strips import Strips


def row_bearings(x: Floats, y: Floats, strips: Strips) -> Floats:
    """Bearing of the nearest bed axis at each of these places, degrees."""
    points, back = np.unique(np.column_stack([x, y]), axis=0, return_inverse=True)
    axes = strips.axes.geometries()
    place = np.asarray(shapely.points(points), dtype=object)
    axis = np.atleast_1d(np.asarray(shapely.STRtree(axes).nearest(place), dtype=np.int64))
    station = shapely.line_locate_point(axes[axis], place)
    bearing: Floats = bearing_deg(strips.axes.locate(axis, station)[1])[back.ravel()]
    return bearing
