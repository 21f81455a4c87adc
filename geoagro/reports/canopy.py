"""Ground under crowns."""

from __future__ import annotations

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from geoagro.arrays import Bools, Floats, Shapes
from geoagro.planar.discs import area_of_discs

_QUARTER = 16
_CORNERS = 4 * _QUARTER
_SAME_AREA = float(np.sqrt(2 * np.pi / (_CORNERS * np.sin(2 * np.pi / _CORNERS))))


def canopy_cover(xy: Floats, widths_m: Floats, within: Polygon | MultiPolygon) -> float:
    """Area of `within` under round crowns of these widths about these places, overlaps counted once, m2 (to 0.1).

    Crowns inside are exact circles; those that reach over the edge of `within`, and their neighbours, are cut as regular
    64-gons with the area of the circle. NaN where a width is unknown; 0 without plants.

    Parameters
    ----------
    xy
        Shape (n, 2), working CRS.
    widths_m
        Shape (n,).
    """
    if np.isnan(widths_m).any():
        return float("nan")
    west, south, east, north = within.bounds
    (x, y), reach = xy.T, widths_m / 2
    grown = (widths_m > 0) & (x + reach > west) & (x - reach < east) & (y + reach > south) & (y - reach < north)
    points, radii = shapely.points(xy[grown]), widths_m[grown] / 2
    over = _reached(points, radii, _edges(within))
    shapely.prepare(within)
    inner = np.flatnonzero(~over & shapely.contains(within, points))
    whole = area_of_discs(xy[grown][inner], radii[inner])
    if over.any():  # what they add to the crowns inside, of which only those near them matter
        beside = inner[_reached(points[inner], radii[inner] + radii[over].max(), points[over])]
        cut = _under(points[over], radii[over]).difference(_under(points[beside], radii[beside]))
        whole += float(cut.intersection(within).area)
    return round(whole, 1)


def _edges(within: Polygon | MultiPolygon) -> Shapes:
    """Straight pieces of all outlines."""
    corners, ring = shapely.get_coordinates(shapely.get_rings(shapely.get_parts(within)), return_index=True)
    ends = np.flatnonzero(ring[1:] == ring[:-1])
    return np.asarray(shapely.linestrings(np.stack([corners[ends], corners[ends + 1]], axis=1)), dtype=object)


def _reached(points: Shapes, reach_m: Floats, shapes: Shapes) -> Bools:
    """Tell which points have any of the shapes within their reach."""
    found = np.zeros(len(points), dtype=bool)
    found[shapely.STRtree(shapes).query(points, predicate="dwithin", distance=reach_m)[0]] = True
    return found


def _under(points: Shapes, radii: Floats) -> BaseGeometry:
    return shapely.union_all(shapely.buffer(points, radii * _SAME_AREA, quad_segs=_QUARTER))
