"""The finished layout: everything that was asked, read and computed, in one value."""

from __future__ import annotations

from dataclasses import dataclass

import geopandas as gpd
import pandas as pd

from geoagro.values.base.small_map import Drawn
from geoagro.values.base.value import Value, brief, crs_name
from geoagro.values.beds import Beds
from geoagro.values.design import Design
from geoagro.values.ground import Ground
from geoagro.values.layers import Field, LayerSpec
from geoagro.values.measures import MEASURE_FIELDS, Measures, hectares_text
from geoagro.values.plants import Plants
from geoagro.values.results.stored_plants import StoredPlants
from geoagro.values.rows import TreeRows
from geoagro.values.site import Finding, Site
from geoagro.values.terrain import Terrain
from geoagro.values.zones import ZoneAccount

AREA_SUMMARY = LayerSpec(
    "area_summary",
    "Areas",
    "none",
    (
        Field("item", "text", "Kind of ground."),
        Field("part_of", "text", "Item that this is a part of; the parts of an item add up to it."),
        Field("definition", "text", "What is counted."),
        Field("area_m2", "float", "Area on the map plane.", "m2"),
        Field("ground_area_m2", "float", "Area of the sloping ground surface; empty if slope is unknown.", "m2"),
        Field("geodesic_area_m2", "float", "Area on the ellipsoid.", "m2"),
    ),
)

CROP_SUMMARY = LayerSpec(
    "crop_summary",
    "Plants by crop",
    "none",
    (
        Field("crop", "text", "Crop code."),
        Field("plants", "int", "Number of planting points."),
        Field("standing_at_once", "int", "Most plants that stand in any one week, repeats included."),
        Field("all_plantings", "int", "Plantings in all: each place as often as it is planted."),
        Field("per_ha_field", "float", "Plants per hectare of the whole field.", "1/ha"),
        Field("per_ha_plantable", "float", "Plants per hectare of plantable ground.", "1/ha"),
    ),
)

ROW_SUMMARY = LayerSpec(
    "row_summary",
    "Plants by row and crop",
    "none",
    (
        Field("row", "int", "Row number."),
        Field("crop", "text", "Crop code."),
        Field("plants", "int", "Number of planting points in the row's own bed and the beds measured from it."),
    ),
)

LAYOUT_QUALITY = LayerSpec(
    "layout_quality",
    "Quality of the rows",
    "none",
    MEASURE_FIELDS,
)


@dataclass(frozen=True, eq=False, repr=False)
class Tables(Value):
    """The four tables of a layout, declared above; LAYOUT_QUALITY is written from its measures."""

    area_summary: pd.DataFrame
    crop_summary: pd.DataFrame
    row_summary: pd.DataFrame
    layout_quality: Measures


@dataclass(frozen=True, eq=False, repr=False)
class Layout(Value):
    """A field laid out: values of every room, all in `site.crs`.

    Attributes
    ----------
    unplanted
        Layer UNPLANTED, complete: ground left before rows (ground.unplanted) and because of rows.
    contours
        Layer CONTOURS.
    zones
        Areas and plants by zone; None where the design has no zones.
    bed_findings
        What beds need of the rows' distance, and what was lost.
    water_findings
        Low points along rows.

    >>> from geoagro import example_layout
    >>> example_layout()
    Layout: field Example field, 0.16 ha, EPSG:32633; plantable 0.14 ha; rows 6, 0.32 km, every 5 m;
      beds 10 and 6 tree beds; plants 5,490 of 2 crops; findings 2
    """

    design: Design
    site: Site
    terrain: Terrain
    ground: Ground
    rows: TreeRows
    beds: Beds
    plants: Plants | StoredPlants
    unplanted: gpd.GeoDataFrame
    contours: gpd.GeoDataFrame
    tables: Tables
    zones: ZoneAccount | None = None
    bed_findings: tuple[Finding, ...] = ()
    water_findings: tuple[Finding, ...] = ()

    @property
    def findings(self) -> tuple[Finding, ...]:
        """What reading the files, splitting the ground and placing the plants found."""
        by_hand = self.rows.by_hand.findings if self.rows.by_hand else ()
        rooms = (self.site, self.ground)
        before = tuple(finding for room in rooms for finding in room.findings)
        return before + by_hand + self.rows.findings + self.bed_findings + self.water_findings + self.plants.findings

    def in_short(self) -> dict[str, str]:
        """Give name, areas and counts."""
        return {
            "field": f"{self.site.name}, {hectares_text(self.site.boundary.area, self.site.area_sd_m2)}, {crs_name(self.site.crs)}",
            "plantable": hectares_text(self.ground.plantable.area, self.site.area_sd_m2),
            "rows": f"{len(self.rows.frame)}, {self.rows.frame.length.sum() / 1e3:.2f} km, every {self.rows.spacing_m:g} m",
            "beds": f"{len(self.beds.beds):,} and {len(self.beds.tree_beds):,} tree beds",
            "plants": f"{self.plants.count:,} of {self.plants.crop_count} crops",
            "findings": brief(self.findings),
        }

    def map_layers(self) -> tuple[Drawn, ...]:
        """Draw the field with its beds and rows."""
        return (*self.ground.map_layers(), *self.beds.map_layers(), *self.rows.map_layers())
