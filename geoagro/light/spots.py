"""Places along the vegetable beds: where they lie between two tree rows, how they run, how the ground falls."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import shapely

from geoagro.arrays import Floats
from geoagro.light.bed_light import OPEN_M, Spots
from geoagro.planar.polylines import Polylines
from geoagro.values.terrain import Terrain

_STEP_M = 10.0


def spots_on(beds: gpd.GeoDataFrame, rows: gpd.GeoDataFrame, terrain: Terrain) -> Spots:
    """Take places at most 10 m apart along the axes of a frame of layer BEDS; `rows` is a frame of layer TREE_ROWS."""
    axes = Polylines.read(beds["axis"].to_numpy())
    bed, station, _ = axes.middles(_STEP_M)
    xy, tangent = axes.locate(bed, station)
    bearing = np.degrees(np.arctan2(tangent[:, 0], tangent[:, 1])) % 360.0
    points = shapely.points(xy)
    lines = dict(zip(rows["row"].tolist(), rows.geometry, strict=True))
    own, facing = (beds[name].to_numpy()[bed] for name in ("row", "facing_row"))
    near = shapely.distance(points, np.array([lines[row] for row in own.tolist()], dtype=object))
    far = shapely.distance(points, np.array([lines.get(row) for row in facing.tolist()], dtype=object))
    # beyond the end of the row that it faces, a bed lies open
    alley = np.fmin(near + far, OPEN_M)
    upslope = (beds["side"].to_numpy() == "up")[bed]
    return Spots(bed, bearing, alley, np.where(upslope, alley - near, near), _fall(terrain, xy, bearing))


def _fall(terrain: Terrain, xy: Floats, bearing: Floats) -> Floats:
    """Fall to the right of the bearing; level where the ground's aspect isn't known."""
    if terrain.aspect_deg is None:
        return np.zeros(len(xy))
    x, y = xy[:, 0], xy[:, 1]
    grade, aspect = terrain.slope.sample(x, y), terrain.aspect_deg.sample(x, y)
    return np.nan_to_num(grade * np.cos(np.radians(aspect - bearing - 90.0)))
