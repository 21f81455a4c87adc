"""The account of a field: its tables, and all its numbers in one value."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, ClassVar, Literal

import pandas as pd

from geoagro.reports.records.claim import Claim
from geoagro.values.base.value import Value
from geoagro.values.layers import Field, LayerSpec
from geoagro.values.report import SOURCES
from geoagro.values.rules.bed_kinds import STRIP_WORDS

_AREA = (
    Field("area_m2", "float", "Area on the map plane.", "m2"),
    Field("ground_area_m2", "float", "Area of the sloping ground surface; empty if slope is unknown.", "m2"),
    Field("geodesic_area_m2", "float", "Area on the ellipsoid.", "m2"),
)


PARTS = LayerSpec(
    "account_parts",
    "Parts of the field",
    "Polygon",
    (
        Field("part", "text", "Number of the separate part of the field, largest first."),
        Field("area_m2", "float", "Area on the map plane.", "m2"),
        Field("geodesic_area_m2", "float", "Area on the ellipsoid.", "m2"),
        Field("perimeter_m", "float", "Length of its outline, holes included, on the map plane.", "m"),
        Field("holes", "int", "Holes in it."),
        Field("plants", "int", "Planting points in it."),
        Field("trees", "int", "Planting points of trees in it."),
    ),
)


AREAS = LayerSpec(
    "account_areas",
    "Areas",
    "none",
    (
        Field("item", "text", "Kind of ground."),
        Field("part_of", "text", "Item that this is a part of; the parts of an item add up to it."),
        Field("definition", "text", "What is counted."),
        *_AREA,
        Field("field_pct", "float", "Share of the gross field on the map plane.", "%"),
    ),
)


CROPS = LayerSpec(
    "account_crops",
    "Plants and planted area by crop",
    "none",
    (
        Field("crop", "text", "Crop code."),
        Field("name", "text", "Name of the crop."),
        Field("habit", "text", "tree, shrub, herb, grass or vine."),
        Field("stratum", "text", "Height class by need of light."),
        Field("plants", "int", "Planting points."),
        Field("standing_at_once", "int", "Most plants that stand in any one week, repeats included."),
        Field("all_plantings", "int", "Plantings in all: each place as often as it is planted."),
        Field("rows", "int", "Tree rows in whose beds it stands."),
        Field("beds", "int", "Beds in which it stands."),
        Field("bed_area_m2", "float", "Area of the beds in which it stands; overlaps with other crops'.", "m2"),
        Field("share_area_m2", "float", "Its share of those beds; the shares of all crops add up.", "m2"),
        Field("canopy_m2", "float", "Sum of the crowns at full size; empty if the crown's width is unknown.", "m2"),
        Field("per_ha_field", "float", "Plants per hectare of the gross field.", "1/ha"),
        Field("per_ha_plantable", "float", "Plants per hectare of plantable ground.", "1/ha"),
        Field("per_ha_planted", "float", "Plants per hectare of planted beds.", "1/ha"),
        Field("per_ha_own_beds", "float", "Plants per hectare of the beds in which it stands.", "1/ha"),
        Field("notes", "text", "What is worth knowing of it."),
    ),
)


STRATA = LayerSpec(
    "account_strata",
    "Plants by stratum",
    "none",
    (
        Field("stratum", "text", "Height class by need of light."),
        Field("crops", "int", "Crops in it."),
        Field("plants", "int", "Planting points."),
        Field("share_area_m2", "float", "Sum of its crops' shares of the beds.", "m2"),
        Field("canopy_m2", "float", "Sum of the crowns at full size; empty if a width is unknown.", "m2"),
        Field("per_ha_planted", "float", "Plants per hectare of planted beds.", "1/ha"),
    ),
)


ROWS = LayerSpec(
    "account_rows",
    "Rows",
    "none",
    (
        Field("row", "int", "Row number, counted from the top of the field."),
        Field("length_m", "float", "Length on the map plane.", "m"),
        Field("elevation_m", "float", "Mean elevation, above the datum of the source.", "m"),
        Field("grade_p95_pct", "float", "Grade that 95 % of the row stays below, over 10 m.", "%"),
        Field("beds", "int", "Beds measured from the row, its own tree bed included."),
        Field("bed_area_m2", "float", "Area of these beds.", "m2"),
        Field("plants", "int", "Planting points in these beds."),
        Field("trees", "int", "Planting points of trees in these beds."),
    ),
)


BED_CROPS = LayerSpec(
    "account_beds",
    "Plants by bed and crop",
    "none",
    (
        Field("bed", "text", "Bed id."),
        Field("kind", "text", STRIP_WORDS),
        Field("row", "int", "Tree row of the bed."),
        Field("bed_area_m2", "float", "Area of the whole bed.", "m2"),
        Field("crop", "text", "Crop code; empty for a bed without plants."),
        Field("plants", "int", "Planting points of the crop in the bed."),
        Field("share_area_m2", "float", "The crop's share of the bed.", "m2"),
    ),
)


ZONE_GROUND = LayerSpec(
    "account_zones",
    "Zones",
    "none",
    (
        Field("zone", "text", "Name of the zone; 'rest of the field' for what no zone holds."),
        Field("purpose", "text", "crops, nursery, seed bed, grass, compost or leave alone."),
        Field("row_spacing_m", "float", "Distance that its rows are asked to have; empty where nothing is laid.", "m"),
        Field("rows", "int", "Tree rows with a bed in it; a row that crosses zones counts in each."),
        Field("area_m2", "float", "Area on the map plane; all zones together are the field.", "m2"),
        Field("tree_beds_m2", "float", "Tree beds in it.", "m2"),
        Field("vegetable_beds_m2", "float", "Vegetable beds in it.", "m2"),
        Field("paths_m2", "float", "Paths in it.", "m2"),
        Field("other_m2", "float", "The rest of it: setback, ground kept free, leftover.", "m2"),
        Field("field_pct", "float", "Share of the gross field.", "%"),
        Field("plants", "int", "Planting points in it."),
        Field("trees", "int", "Planting points of trees in it."),
        Field("all_plantings", "int", "Plantings in all: each place as often as it is planted."),
    ),
)


ZONE_CROP_ACCOUNT = LayerSpec(
    "account_zone_crops",
    "Plants by zone and crop",
    "none",
    (
        Field("zone", "text", "Name of the zone; 'rest of the field' for what no zone holds."),
        Field("crop", "text", "Crop code."),
        Field("name", "text", "Name of the crop."),
        Field("plants", "int", "Planting points of the crop in the zone."),
        Field("all_plantings", "int", "Plantings in all: each place as often as it is planted."),
    ),
)


UNCERTAINTY = LayerSpec(
    "account_uncertainty",
    "Uncertainty of the field's area",
    "none",
    (
        Field("cause", "text", "What makes the area uncertain."),
        Field("size_m", "float", "Error of a point in east and in north, or size of a cell.", "m"),
        Field("alike_m", "float", "Points nearer than this err alike, 0 for none; empty where it doesn't apply.", "m"),
        Field("sd_m2", "float", "Standard deviation; for a bound, the bound itself.", "m2"),
        Field("sd_pct", "float", "The same as a share of the field.", "%"),
        Field("method", "text", "How it is computed."),
    ),
)


SURVIVAL = LayerSpec(
    "account_survival",
    "What surveys found",
    "none",
    (
        Field("survey", "text", "Day and name of the survey."),
        Field("crop", "text", "Crop code; 'all' for all crops."),
        Field("planned", "int", "Planting points of the layout."),
        Field("surveyed", "int", "Of these, looked at."),
        Field("alive", "int", "Found alive."),
        Field("dead", "int", "Found dead."),
        Field("missing", "int", "Not found, or reported missing."),
        Field("survival_pct", "float", "100 x alive / looked at.", "%"),
        Field("low_pct", "float", "Lower end of the 95 % interval; empty where there is none.", "%"),
        Field("high_pct", "float", "Upper end of the 95 % interval; empty where there is none.", "%"),
        Field("change_pct", "float", "Survival less that of the survey before, in points of percent.", "%"),
        Field("method", "text", "How the interval was computed."),
    ),
)


BUILT = LayerSpec(
    "account_built",
    "Areas as built",
    "none",
    (
        Field("survey", "text", "Day and name of the survey."),
        Field("item", "text", "Kind of ground."),
        Field("definition", "text", "What is counted."),
        Field("designed_m2", "float", "As designed.", "m2"),
        Field("built_m2", "float", "As surveyed; empty where the survey doesn't tell.", "m2"),
        Field("less_m2", "float", "As surveyed less as designed.", "m2"),
        Field("change_m2", "float", "As surveyed less the survey before; empty in the first.", "m2"),
    ),
)


FOUND = LayerSpec(
    "account_found",
    "As planned and as found",
    "none",
    (
        Field("figure", "text", "planted_area_m2, trees or plants.", values=("planted_area_m2", "trees", "plants")),
        Field("survey", "text", "Day and name of the last survey that tells it."),
        Field("planned", "float", "As planned, for what the survey covers."),
        Field("looked_at", "float", "Of these, looked at; empty for areas."),
        Field("found", "float", "As found; from sample plots, the estimate for the field."),
        Field("low", "float", "Lower end of the 95 % interval; empty for what was counted whole."),
        Field("high", "float", "Upper end of the 95 % interval; empty for what was counted whole."),
        Field("basis", "text", "How it was found."),
    ),
)


@dataclass(frozen=True)
class Headline:
    """The figures of the first page; areas in m2 on the map plane unless the name says otherwise.

    `field_sd_m2` is the standard deviation of the field's area where the design says how exactly the boundary was
    surveyed (errors that go together near each other), else NaN. `plants` are planting points; `standing_at_once` the
    most that stand in any one week, `all_plantings` every planting of a point.
    """

    field_m2: float
    field_geodesic_m2: float
    field_ground_m2: float
    field_sd_m2: float
    plantable_m2: float
    planted_m2: float
    empty_beds_m2: float
    canopy_cover_m2: float
    plants: int
    standing_at_once: int
    all_plantings: int
    trees: int
    crops: int
    rows: int
    row_length_m: float
    trees_per_ha_field: float
    trees_per_ha_planted: float


@dataclass(frozen=True)
class Caution:
    """Something a reader must know before believing the numbers: a sentence with {names}, and their values."""

    text: str
    values: Mapping[str, str | int | float | tuple[str, ...]] = field(default_factory=dict)


@dataclass(frozen=True, eq=False, repr=False)
class Account(Value):
    """All numbers of a report, computed once; every file shows these and computes nothing of its own.

    Attributes
    ----------
    parts ... survival
        Frames of the layers and tables above; `parts` is in the working CRS.
    share_basis
        "canopy" or "plants": by what beds are shared out to crops.
    trees_basis
        "habit" or "bed": trees are crops whose habit is tree, or, where habits are unknown, all plants in
        tree beds.
    area_sd_m2
        Standard deviation by which areas are rounded for people: as stated, else as if walked with a phone.

    >>> from pathlib import Path
    >>> from geoagro import account_of, crop_facts, example_layout, read_crop_library, read_laid_out, read_layout_file, write_layout
    >>> import tempfile
    >>> laid, library = example_layout(), read_crop_library()
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     file = read_layout_file(write_layout(laid, Path(folder))[0])
    ...     account = account_of(read_laid_out(file, crop_facts(laid.design, library), design=laid.design), laid.design.report)
    ...     print(account.headline.trees, account.headline.rows)
    90 6
    """

    LAYERS: ClassVar[Mapping[str, LayerSpec]] = {
        "parts": PARTS,
        "areas": AREAS,
        "crops": CROPS,
        "strata": STRATA,
        "rows": ROWS,
        "bed_crops": BED_CROPS,
        "uncertainty": UNCERTAINTY,
        "survival": SURVIVAL,
        "built": BUILT,
        "sources": SOURCES,
    }

    name: str
    crs_name: str
    spacing_m: float
    headline: Headline
    parts: Any
    areas: pd.DataFrame
    crops: pd.DataFrame
    strata: pd.DataFrame
    rows: pd.DataFrame
    row_crops: pd.DataFrame
    bed_crops: pd.DataFrame
    uncertainty: pd.DataFrame
    quality: pd.DataFrame
    survival: pd.DataFrame
    built: pd.DataFrame
    found: pd.DataFrame
    sources: pd.DataFrame
    findings: pd.DataFrame
    share_basis: Literal["canopy", "plants"]
    trees_basis: Literal["habit", "bed"]
    cautions: tuple[Caution, ...]
    zones: Any = field(default_factory=ZONE_GROUND.empty)
    zone_crops: Any = field(default_factory=ZONE_CROP_ACCOUNT.empty)
    claim: Claim = field(default_factory=Claim)
    area_sd_m2: float = float("nan")

    @property
    def tables(self) -> dict[LayerSpec, Any]:
        """Every table with its declaration, in the order of the report."""
        return {
            **self.claim.tables,
            AREAS: self.areas,
            CROPS: self.crops,
            STRATA: self.strata,
            ZONE_GROUND: self.zones,
            ZONE_CROP_ACCOUNT: self.zone_crops,
            ROWS: self.rows,
            BED_CROPS: self.bed_crops,
            UNCERTAINTY: self.uncertainty,
            SURVIVAL: self.survival,
            BUILT: self.built,
            FOUND: self.found,
            SOURCES: self.sources,
        }
