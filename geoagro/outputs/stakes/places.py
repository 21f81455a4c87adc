"""Marks as files want them: longitude and latitude, and easting and northing in the CRS that the user asks for."""

from __future__ import annotations

from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import shapely
from numpy.typing import ArrayLike
from pyproj import CRS

from geoagro.arrays import Floats, Shapes
from geoagro.crs import WGS84, horizontal_metres, name_of, parse_crs, transform_geometries, transform_points
from geoagro.errors import OutputError

DEGREE_DECIMALS = 8


@dataclass(frozen=True, eq=False)
class Places:
    """Coordinates of points in two systems.

    Attributes
    ----------
    lon, lat
        Degrees on WGS 84, rounded to 8 decimals (about 1 mm); longitude in [-180, 180).
    east, north
        In `crs`; degrees (longitude, latitude) if that is geographic.
    crs, crs_name
        The CRS asked for.
    """

    lon: Floats
    lat: Floats
    east: Floats
    north: Floats
    crs: CRS
    crs_name: str

    @property
    def metres(self) -> float:
        """Metres in one unit of easting and northing; 1 for degrees."""
        return 1.0 if self.crs.is_geographic else horizontal_metres(self.crs)

    @property
    def decimals(self) -> int:
        """Decimals that place a point to a millimetre or so."""
        return DEGREE_DECIMALS if self.crs.is_geographic else 3


def need_lengths(wanted_crs: str) -> None:
    """Raise OutputError where the CRS asked for is geographic: a controller would take degrees for lengths."""
    crs = parse_crs(wanted_crs, where="stakeout.crs")
    if crs.is_geographic:
        raise OutputError(
            f"stakeout.crs: {name_of(crs)} is in degrees, and lists of northing and easting and drawings hold lengths. Name a "
            "projected CRS, or leave the key out for that of the layout; stakes.csv, GPX, KML and GeoJSON hold longitude and "
            "latitude."
        )


def places_of(x: ArrayLike, y: ArrayLike, working_crs: CRS, wanted_crs: str | None) -> Places:
    """Bring points from the working CRS to WGS 84 and to the CRS that is wanted (the working CRS if None)."""
    crs = parse_crs(wanted_crs, where="stakeout.crs") if wanted_crs else working_crs
    lon, lat = lonlat(x, y, working_crs)
    east, north = transform_points(x, y, working_crs, crs)
    return Places(lon, lat, east, north, crs, name_of(crs))


def lonlat(x: ArrayLike, y: ArrayLike, working_crs: CRS) -> tuple[Floats, Floats]:
    """Bring points to degrees on WGS 84, checked and rounded.

    Raises OutputError where a point comes to lie off the globe: some file formats take any number.
    """
    lon, lat = transform_points(x, y, working_crs, WGS84)
    if not bool(np.all((np.abs(lat) <= 90) & np.isfinite(lon))):
        raise OutputError(
            "Stakes come to lie off the globe in longitude and latitude. Check the CRS of the boundary file."
        )
    wrapped = (np.round(lon, DEGREE_DECIMALS) + 180.0) % 360.0 - 180.0
    return np.round(wrapped, DEGREE_DECIMALS), np.round(lat, DEGREE_DECIMALS)


def lonlat_lines(lines: gpd.GeoSeries, working_crs: CRS) -> Shapes:
    """Bring lines to degrees on WGS 84, rounded to 8 decimals."""
    moved = transform_geometries(np.asarray(lines, dtype=object), working_crs, WGS84)
    return shapely.transform(moved, lambda xy: np.round(xy, DEGREE_DECIMALS))
