"""The guard at each room's door: what is put together must lie in one CRS."""

from __future__ import annotations

import geopandas as gpd
from pyproj import CRS

from geoagro.errors import CrsError
from geoagro.values.base.value import crs_name


def crs_of(layer: gpd.GeoDataFrame | gpd.GeoSeries) -> CRS:
    """Give the CRS of a layer; raises CrsError where it has none."""
    if layer.crs is None:
        raise CrsError("A layer without CRS can't be placed on the ground. Set its CRS first.")
    return layer.crs


def need_one_crs(**crs_of: CRS | None) -> CRS | None:
    """Return the one CRS of the things named; a thing without a CRS (None) goes with any.

    Raises CrsError, naming both things, where two lie in different CRS.

    >>> need_one_crs(rows=CRS.from_epsg(32633), terrain=CRS.from_epsg(32634))
    Traceback (most recent call last):
    geoagro.errors.CrsError: rows are in EPSG:32633, terrain in EPSG:32634. Bring both into one working CRS first.
    """
    known = [(name.replace("_", " "), crs) for name, crs in crs_of.items() if crs is not None]
    for name, crs in known[1:]:
        first, own = known[0]
        if crs != own:
            raise CrsError(
                f"{first} are in {crs_name(own)}, {name} in {crs_name(crs)}. Bring both into one working CRS first."
            )
    return known[0][1] if known else None
