"""What a survey says of a layout: its layers and tables, and all of it in one value."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import ClassVar

import geopandas as gpd
import pandas as pd

from geoagro.stakeout.records.accuracy import Accuracy, Alignment
from geoagro.values.base.value import Value
from geoagro.values.layers import Field, LayerSpec
from geoagro.values.plants import PLANTS
from geoagro.values.site import Finding
from geoagro.values.survey import Survey

MARKS_ASBUILT = LayerSpec(
    "stakes_asbuilt",
    "Stakes as surveyed",
    "Point",
    (
        Field("stake", "text", "Stake of the design."),
        Field("row", "int", "Its row."),
        Field("found", "bool", "True where the survey has it; the others are drawn where they should stand."),
        Field("matched_by", "text", "name, place, or empty."),
        Field("survey_name", "text", "Name in the survey."),
        Field("x", "float", "Easting as surveyed (as designed if not found).", "m"),
        Field("y", "float", "Northing as surveyed (as designed if not found).", "m"),
        Field("design_x", "float", "Easting as designed.", "m"),
        Field("design_y", "float", "Northing as designed.", "m"),
        Field("away_m", "float", "Distance from where it should stand.", "m"),
        Field("along_m", "float", "The same along the row, forward positive.", "m"),
        Field("across_m", "float", "The same across the row, to the left (upslope) positive.", "m"),
    ),
)


ROWS_ASBUILT = LayerSpec(
    "rows_asbuilt",
    "Rows as surveyed",
    "LineString",
    (
        Field("row", "int", "Row of the design."),
        Field("source", "text", "stakes or trace."),
        Field("length_m", "float", "Length as surveyed.", "m"),
        Field("across_p50_m", "float", "Distance from the designed row: median.", "m"),
        Field("across_p95_m", "float", "Distance from the designed row: 5 % is farther.", "m"),
        Field("spacing_p05_m", "float", "Distance to the next row as surveyed: 5 % is nearer.", "m"),
        Field("spacing_p50_m", "float", "Distance to the next row as surveyed: median.", "m"),
        Field("spacing_p95_m", "float", "Distance to the next row as surveyed: 5 % is farther.", "m"),
        Field("error_p95_m", "float", "Difference from the designed spacing at the same place: 95 % is smaller.", "m"),
    ),
)


ROWS_FOUND = LayerSpec(
    "rows_found",
    "Rows found and missing",
    "none",
    (
        Field("row", "int", "Row of the design."),
        Field("state", "text", "found (nine tenths of a staked row, half of the plants), partial, or missing."),
        Field("length_m", "float", "Length as designed.", "m"),
        Field(
            "found_m", "float", "Length of it that was found: between its outer stakes, or by its share of plants.", "m"
        ),
    ),
)


_BUILT = (
    Field("state", "text", "alive, replaced, dead, missing, or not_surveyed."),
    Field("survey_name", "text", "Name in the survey."),
    Field("built_x", "float", "Easting as surveyed; empty if not seen.", "m"),
    Field("built_y", "float", "Northing as surveyed; empty if not seen.", "m"),
    Field("away_m", "float", "Distance from where it was planned.", "m"),
)


PLANTS_ASBUILT = LayerSpec("plants_asbuilt", "Plants as surveyed", "Point", (*PLANTS.fields, *_BUILT))


REPLANT = LayerSpec(
    "replant",
    "Places to plant again",
    "Point",
    (
        Field("plant", "int", "Plant number of the design."),
        Field("crop", "text", "Crop."),
        Field("row", "int", "Row."),
        Field("bed", "text", "Bed."),
        Field("line", "int", "Planting line, counted across the bed from its upslope side."),
        Field("station_m", "float", "Distance from the start of the line.", "m"),
        Field("state", "text", "dead or missing."),
    ),
)


REPLANT_COUNTS = LayerSpec(
    "replant_counts",
    "Plants to bring for planting again",
    "none",
    (
        Field("crop", "text", "Crop."),
        Field("row", "int", "Row."),
        Field("bed", "text", "Bed."),
        Field("plants", "int", "Plants needed."),
    ),
)


@dataclass(frozen=True, eq=False, repr=False)
class AsBuilt(Value):
    """What a survey says about the layout; frames as declared above, None where the survey doesn't tell.

    Attributes
    ----------
    extra
        Numbers (column `point`) of surveyed points that match nothing in the design.
    within_m
        Distance within which points without a name were matched.
    alignment
        What moved all points alike.
    accuracy
        The receiver's error and that of planting, told apart; None for traces.
    row_offsets
        Table ROW_OFFSETS.
    covers
        What was looked at: all, rows or plots.

    >>> from geoagro import AsBuilt
    >>> sorted(AsBuilt.LAYERS)
    ['marks', 'plants', 'replant', 'rows', 'rows_found']
    """

    LAYERS: ClassVar[Mapping[str, LayerSpec]] = {
        "marks": MARKS_ASBUILT,
        "rows": ROWS_ASBUILT,
        "rows_found": ROWS_FOUND,
        "plants": PLANTS_ASBUILT,
        "replant": REPLANT,
    }

    survey: Survey
    within_m: float
    marks: gpd.GeoDataFrame | None
    rows: gpd.GeoDataFrame | None
    rows_found: pd.DataFrame | None
    plants: gpd.GeoDataFrame | None
    survival: pd.DataFrame | None
    replant: gpd.GeoDataFrame | None
    replant_counts: pd.DataFrame | None
    alignment: Alignment | None
    accuracy: Accuracy | None
    row_offsets: pd.DataFrame | None
    covers: str
    areas: pd.DataFrame
    extra: tuple[int, ...]
    findings: tuple[Finding, ...]


@dataclass(frozen=True)
class SampleSize:
    """How many plants and plots a survival count needs.

    Attributes
    ----------
    plants
        Plants to look at, for simple random sampling with the field's size taken into account.
    design_effect
        Factor by which plants in plots tell less than as many plants drawn one by one.
    plots
        Plots to lay out.
    plants_per_plot
        Mean number of planned plants in one.
    """

    plants: int
    design_effect: float
    plots: int
    plants_per_plot: float
