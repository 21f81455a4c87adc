"""What was really planted: surveys as they were read, and what they say about a layout."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any, Literal

from geoagro.values.layers import Field, LayerSpec
from geoagro.values.plants import PLANTS
from geoagro.values.site import Finding, SourceFile

What = Literal["stakes", "plants", "rows"]

SURVEY_POINTS = LayerSpec(
    "survey_points",
    "Points as surveyed",
    "Point",
    (
        Field("point", "int", "Number in the order of the file."),
        Field("name", "text", "Name as surveyed; empty if none."),
        Field("status", "text", "planted, dead, missing, or empty."),
        Field("crop", "text", "Crop as surveyed; empty if none."),
        Field("x", "float", "Easting in the working CRS.", "m"),
        Field("y", "float", "Northing in the working CRS.", "m"),
        Field("z", "float", "Height as surveyed; empty if none.", "m"),
        Field("far", "bool", "True where the point lies too far outside the field to be used."),
    ),
)

SURVEY_TRACES = LayerSpec(
    "survey_traces",
    "Row traces as surveyed",
    "LineString",
    (
        Field("trace", "int", "Number in the order of the file."),
        Field("name", "text", "Name as surveyed; empty if none."),
    ),
)

SURVEY_ABOUT = LayerSpec(
    "survey_about",
    "About the survey",
    "none",
    (
        Field("item", "text", "date, file, what, layout, matched_within_m, or the level of a finding."),
        Field("value", "text", "Its value, or what was found and what to do about it."),
    ),
)

MARKS_ASBUILT = LayerSpec(
    "marks_asbuilt",
    "Stakes as surveyed",
    "Point",
    (
        Field("mark", "text", "Stake of the design."),
        Field("row", "int", "Its row."),
        Field("found", "bool", "True where the survey has it; the others are drawn where they should stand."),
        Field("matched_by", "text", "name, place, or empty."),
        Field("survey_name", "text", "Name in the survey."),
        Field("x", "float", "Easting as surveyed (as designed if not found).", "m"),
        Field("y", "float", "Northing as surveyed (as designed if not found).", "m"),
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
        Field("state", "text", "found (nine tenths of a staked row, half of the plants), part, or missing."),
        Field("length_m", "float", "Length as designed.", "m"),
        Field(
            "found_m", "float", "Length of it that was found: between its outer stakes, or by its share of plants.", "m"
        ),
    ),
)

_BUILT = (
    Field("state", "text", "alive, dead, missing, or not_surveyed."),
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

SURVIVAL = LayerSpec(
    "survival",
    "Planned, counted, survived",
    "none",
    (
        Field("crop", "text", "Crop; 'all' for all crops."),
        Field("row", "int", "Row; 0 for the whole field."),
        Field("planned", "int", "Plants of the design."),
        Field("surveyed", "int", "Of these, looked at."),
        Field("alive", "int", "Found alive."),
        Field("dead", "int", "Found dead."),
        Field("missing", "int", "Not found, or reported missing."),
        Field("survival", "float", "Alive over surveyed."),
        Field("low", "float", "Lower end of the 95 % interval."),
        Field("high", "float", "Upper end of the 95 % interval."),
        Field("method", "text", "How the interval was computed."),
    ),
)

AREAS_ASBUILT = LayerSpec(
    "areas_asbuilt",
    "Areas as built",
    "none",
    (
        Field("item", "text", "Kind of ground."),
        Field("definition", "text", "What is counted."),
        Field("designed_m2", "float", "As designed.", "m2"),
        Field("built_m2", "float", "As surveyed.", "m2"),
    ),
)


@dataclass(frozen=True)
class Survey:
    """A survey as read, in the working CRS.

    Attributes
    ----------
    points
        Layer SURVEY_POINTS.
    traces
        Layer SURVEY_TRACES.
    what
        What its points are, or that it holds traces of rows.
    """

    name: str
    date: date
    what: What
    points: Any
    traces: Any
    findings: tuple[Finding, ...]
    source: SourceFile


@dataclass(frozen=True)
class AsBuilt:
    """What a survey says about the layout; frames as declared above, None where the survey doesn't tell.

    Attributes
    ----------
    extra
        Numbers (column `point`) of surveyed points that match nothing in the design.
    within_m
        Distance within which points without a name were matched.
    """

    survey: Survey
    within_m: float
    marks: Any | None
    rows: Any | None
    rows_found: Any | None
    plants: Any | None
    survival: Any | None
    replant: Any | None
    replant_counts: Any | None
    areas: Any
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
