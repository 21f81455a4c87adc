"""The finished layout: everything that was asked, read and computed, in one value."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from geoagro.values.beds import Beds
from geoagro.values.design import Design
from geoagro.values.ground import Ground
from geoagro.values.layers import Field, LayerSpec
from geoagro.values.measures import MEASURE_FIELDS, Measures
from geoagro.values.plants import Plants
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


@dataclass(frozen=True)
class Tables:
    """The four tables of a layout, declared above; LAYOUT_QUALITY is written from its measures."""

    area_summary: Any
    crop_summary: Any
    row_summary: Any
    layout_quality: Measures


@dataclass(frozen=True)
class Layout:
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
    """

    design: Design
    site: Site
    terrain: Terrain
    ground: Ground
    rows: TreeRows
    beds: Beds
    plants: Plants
    unplanted: Any
    contours: Any
    tables: Tables
    zones: ZoneAccount | None = None
    bed_findings: tuple[Finding, ...] = ()

    @property
    def findings(self) -> tuple[Finding, ...]:
        """What reading the files, splitting the ground and placing the plants found."""
        by_hand = self.rows.by_hand.findings if self.rows.by_hand else ()
        return self.site.findings + self.ground.findings + by_hand + self.bed_findings + self.plants.findings
