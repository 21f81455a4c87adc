"""What the page of a layout shows, as a value that can go to another process."""

from __future__ import annotations

from dataclasses import dataclass

import geopandas as gpd

from geoagro.values.beds import Beds
from geoagro.values.layout import Layout
from geoagro.values.rows import TreeRows
from geoagro.values.site import Site
from geoagro.values.terrain import Terrain


@dataclass(frozen=True, eq=False)
class Shown:
    """Little of a layout: its plants aren't drawn, and are many.

    Attributes
    ----------
    plants
        How many there are.
    zones
        Zones of the design, or None.
    """

    site: Site
    terrain: Terrain
    rows: TreeRows
    beds: Beds
    unplanted: gpd.GeoDataFrame
    contours: gpd.GeoDataFrame
    zones: gpd.GeoDataFrame | None
    plants: int

    @classmethod
    def of(cls, layout: Layout) -> Shown:
        """Take what the page shows."""
        zones = layout.zones.zones if layout.zones else None
        return cls(
            layout.site, layout.terrain, layout.rows, layout.beds, layout.unplanted, layout.contours, zones,
            layout.plants.count,
        )  # fmt: skip
