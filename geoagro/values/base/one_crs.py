"""The guard of the CRS: what is put together must lie in one."""

from __future__ import annotations

from collections.abc import Iterable

from pyproj import CRS

from geoagro.errors import CrsError
from geoagro.frames import gpd
from geoagro.values.base.value import crs_name


def crs_of(layer: gpd.GeoDataFrame | gpd.GeoSeries) -> CRS:
    """Give the CRS of a layer; raises CrsError where it has none."""
    if layer.crs is None:
        raise CrsError("A layer without CRS can't be placed on the ground. Set its CRS first.")
    return layer.crs


def refuse_other_crs(named: Iterable[tuple[str, CRS]]) -> None:
    """Raise CrsError, naming both things, where two lie in different CRS.

    >>> refuse_other_crs([("rows", CRS.from_epsg(32633)), ("terrain", CRS.from_epsg(32634))])
    Traceback (most recent call last):
    geoagro.errors.CrsError: rows in EPSG:32633 can't go with terrain in EPSG:32634. Bring both into one working CRS first.
    """
    known = list(named)
    for name, crs in known[1:]:
        first, own = known[0]
        if crs is own or crs == own:
            continue
        if name == first:
            raise CrsError(
                f"Parts of {name} lie in {crs_name(own)} and {crs_name(crs)}. Bring all into one working CRS first."
            )
        raise CrsError(
            f"{first} in {crs_name(own)} can't go with {name} in {crs_name(crs)}. Bring both into one working CRS first."
        )
