"""What was really planted: surveys as they were read, and what they say about a layout."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any, ClassVar, Literal

import geopandas as gpd
import numpy as np

from geoagro.values.base.value import Value
from geoagro.values.layers import Field, LayerSpec
from geoagro.values.site import Finding
from geoagro.values.words import say

What = Literal["stakes", "plants", "rows"]

SURVEY_POINTS = LayerSpec(
    "survey_points",
    "Points as surveyed",
    "Point",
    (
        Field("point", "int", "Number in the order of the file, or of the files one after the other."),
        Field("name", "text", "Name as surveyed; empty if none."),
        Field("status", "text", "planted, replaced, dead, missing, not looked at, or empty."),
        Field("crop", "text", "Crop as surveyed; empty if none."),
        Field("x", "float", "Easting in the working CRS; empty where nobody measured it.", "m"),
        Field("y", "float", "Northing in the working CRS; empty where nobody measured it.", "m"),
        Field("z", "float", "Height as surveyed; empty if none.", "m"),
        Field("far", "bool", "True where the point lies too far outside the field to be used."),
        Field("photo", "text", "Number or name of a photo taken there; empty if none."),
        Field("bearing_deg", "float", "Direction of the photo, clockwise from north; empty where unknown.", "deg"),
        Field("note", "text", "Note as surveyed; empty if none."),
        Field("dbh_cm", "float", "Diameter of the stem at 1.3 m as surveyed; empty if none.", "cm"),
        Field("tree_height_m", "float", "Height of the plant as surveyed; empty if none.", "m"),
    ),
    placed=False,
)


def nothing_noted(count: int) -> dict[str, Any]:
    """Columns of SURVEY_POINTS that only some surveys fill: photo, bearing, note, stem and height, all empty.

    >>> nothing_noted(1)["photo"]
    ['']
    """
    texts: dict[str, Any] = {name: [""] * count for name in ("photo", "note")}
    return texts | {name: np.full(count, np.nan) for name in ("bearing_deg", "dbh_cm", "tree_height_m")}


SURVEY_TRACES = LayerSpec(
    "survey_traces",
    "Row traces as surveyed",
    "LineString",
    (
        Field("trace", "int", "Number in the order of the file, or of the files one after the other."),
        Field("name", "text", "Name as surveyed; empty if none."),
    ),
)

SURVEY_ABOUT = LayerSpec(
    "survey_about",
    "About the survey",
    "none",
    (
        Field(
            "item",
            "text",
            "date, file and file_sha256 (of several files one after the other, each with file_points or file_traces, the numbers of its features), surveyed_by, receiver, what, covers, layout, matched_within_m, figures of shift and scatter, or the level of a finding.",
        ),
        Field("value", "text", "Its value, or what was found and what to do about it."),
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
        Field("alive", "int", "Found alive, those planted again since included."),
        Field("replaced", "int", "Of these, planted again since in place of a dead one."),
        Field("dead", "int", "Found dead."),
        Field("missing", "int", "Not found, or reported missing."),
        Field("survival_pct", "float", "Alive over surveyed.", "%"),
        Field("low_pct", "float", "Lower end of the 95 % interval.", "%"),
        Field("high_pct", "float", "Upper end of the 95 % interval.", "%"),
        Field("method", "text", "How the interval was computed."),
    ),
)

_HELD = say(
    "Area of the beds surveyed; built: times the share of its lines that living plants hold (half way to the next)."
)
BUILT_GROUND: dict[str, tuple[str, str]] = {
    "tree_beds_staked": (
        say("Tree beds staked"),
        say("Tree bed area; built: times the share of the row's length that the survey covers."),
    ),
    "tree_beds_planted": (say("Tree beds planted"), _HELD),
    "beds_planted": (say("Vegetable beds planted"), _HELD),
}
"""Items of the areas as built: what each is called, and how it is counted."""

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


def numbers(before: int, count: int) -> str:
    """Write the numbers of a file's features, where so many of other files come before.

    >>> numbers(40, 12), numbers(40, 1)
    ('41-52', '41')
    """
    return f"{before + 1}-{before + count}" if count > 1 else f"{before + 1}"


@dataclass(frozen=True)
class SurveyFile:
    """A file that a survey was read from: its name, its checksum, and how many points and traces it gave.

    >>> SurveyFile("walk.csv", "00ff", points=40, traces=0).points
    40
    """

    path: str
    sha256: str
    points: int
    traces: int


@dataclass(frozen=True, eq=False, repr=False)
class Survey(Value):
    r"""A survey as read, in the working CRS.

    Attributes
    ----------
    points
        Layer SURVEY_POINTS.
    traces
        Layer SURVEY_TRACES.
    what
        What its points are, or that it holds traces of rows.
    files
        The files that it was read from, in the order in which their points and traces are numbered.
    by, receiver
        Who surveyed and with what, as stated; empty where nobody said.

    >>> from pathlib import Path
    >>> from geoagro import example_layout, read_survey
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     file = Path(folder, "poles.csv")
    ...     _ = file.write_text("name,x,y,status,date\n1,500002.0,5000002.0,dead,2031-05-02\n")
    ...     survey = read_survey(file, example_layout().site, what="plants")
    >>> survey.what, survey.points["status"].tolist()
    ('plants', ['dead'])
    """

    LAYERS: ClassVar[Mapping[str, LayerSpec]] = {"points": SURVEY_POINTS, "traces": SURVEY_TRACES}

    name: str
    date: date
    what: What
    points: gpd.GeoDataFrame
    traces: gpd.GeoDataFrame
    findings: tuple[Finding, ...]
    files: tuple[SurveyFile, ...]
    by: str = ""
    receiver: str = ""
