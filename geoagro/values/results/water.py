"""Water on a layout as `water.gpkg` keeps it for the report: its tables, and what was read back of them."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from geoagro.frames import pd
from geoagro.values.base.value import Value
from geoagro.values.layers import Field, LayerSpec

WATER_GEOPACKAGE, WATER_PICTURE = "water.gpkg", "water.png"

ROW_WATER = LayerSpec(
    "row_water",
    "Water by row",
    "none",
    (
        Field("row", "int", "Row number."),
        Field("length_m", "float", "Length read (up to where heights end).", "m"),
        Field("drains_m2", "float", "Ground that drains straight to the row, no other row between.", "m2"),
        Field("beyond", "bool", "True where some of that ground lies beyond the elevation."),
        Field("low_points", "int", "Inner low points of 0.15 m and deeper."),
        Field("deepest_m", "float", "Deepest inner low point.", "m"),
        Field("one_way_m", "float", "Longest way of water one way along the row.", "m"),
        Field("crossings", "int", "Flow lines that the row crosses."),
        Field("caught_m3", "float", "Runoff of its own ground in the storm; empty where none was asked for.", "m3"),
        Field("received_m3", "float", "Water handed down from rows above.", "m3"),
        Field("holds_m3", "float", "Water that its ponds hold one by one before any runs over.", "m3"),
        Field("held_m3", "float", "Water that stands along it afterwards.", "m3"),
        Field("over_m3", "float", "Water that leaves it.", "m3"),
        Field("first_over_m", "float", "Where it leaves most: metres from the row's start; empty if it holds.", "m"),
        Field(
            "first_over_rain_mm", "float", "Storm of the same length at which its own ground alone fills a pond.", "mm"
        ),
    ),
)

WATER_CRITERIA = LayerSpec(
    "water_criteria",
    "Published criteria",
    "none",
    (
        Field("criterion", "text", "What is asked."),
        Field("source", "text", "Who asks it."),
        Field("limit", "text", "The published limit, in words."),
        Field("value", "text", "What this layout has."),
        Field("verdict", "text", "passes, fails, does not apply, or no verdict."),
        Field("why", "text", "Why it doesn't apply, or what is not known."),
    ),
)

WATER_BALANCE = LayerSpec(
    "water_balance",
    "Balance of the storm",
    "none",
    (
        Field("item", "text", "Part of the balance."),
        Field("volume_m3", "float", "Volume.", "m3"),
        Field("definition", "text", "What is counted."),
    ),
)

WATER_FINDINGS = LayerSpec(
    "water_findings",
    "What a careful adviser would say",
    "none",
    (
        Field("severity", "text", "note or warning."),
        Field("about", "text", "Section or key of the design that it is about."),
        Field("finding", "text", "What was found, in words."),
    ),
)

WATER_SOURCE = LayerSpec(
    "water_source",
    "What water was followed on",
    "none",
    (
        Field(
            "item",
            "text",
            "rows: the tree rows of the layout; water: that section of the design; picture: the map beside this file.",
        ),
        Field("sha256", "text", "Checksum of their content when this file was written."),
    ),
)

WaterLeft = Literal["none", "other rows", "other water", "edited"]
"""Why a report has no pages of water: nobody looked; rows or the design's section `water` are others now; files were edited."""


@dataclass(frozen=True, eq=False, repr=False)
class WaterSeen(Value):
    """What `geoagro water` found on these very rows.

    Attributes
    ----------
    picture
        The map, a PNG file.
    findings, criteria, balance, rows
        Tables WATER_FINDINGS, WATER_CRITERIA, WATER_BALANCE (empty without a storm) and ROW_WATER; empty texts are "".
    """

    picture: Path
    findings: pd.DataFrame
    criteria: pd.DataFrame
    balance: pd.DataFrame
    rows: pd.DataFrame
