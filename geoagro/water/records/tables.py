"""What the water of a layout is told in: layers, tables, and the value that carries them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import geopandas as gpd
import pandas as pd

from geoagro.values.base.value import Value
from geoagro.values.layers import Field, LayerSpec
from geoagro.values.results.water import ROW_WATER, WATER_BALANCE, WATER_CRITERIA
from geoagro.values.site import Finding

FLOW_LINES = LayerSpec(
    "flow_lines",
    "Lines of gathered flow",
    "LineString",
    (
        Field("line", "int", "Number of the line, the one that drains most ground first."),
        Field("drains_m2", "float", "Ground that drains through its lower end.", "m2"),
        Field("length_m", "float", "Length in and around the field.", "m"),
        Field("beyond", "bool", "True where water may come from beyond the elevation; drains_m2 is then the least."),
    ),
)

FLOW_CROSSINGS = LayerSpec(
    "flow_crossings",
    "Rows that cross a flow line",
    "Point",
    (
        Field("row", "int", "Row number."),
        Field("station_m", "float", "Metres from the row's start.", "m"),
        Field("line", "int", "Number of the flow line."),
        Field("drains_m2", "float", "Ground that drains through the flow line's lower end.", "m2"),
    ),
)

ROW_PROFILE = LayerSpec(
    "row_profile",
    "Way of water along rows",
    "LineString",
    (
        Field("row", "int", "Row number."),
        Field("from_m", "float", "Metres from the row's start where water begins to run this way.", "m"),
        Field("to_m", "float", "Metres from the row's start where it turns or the row ends.", "m"),
        Field("length_m", "float", "Length of this way.", "m"),
        Field("fall_pct", "float", "Mean fall along it, downhill in the line's own direction.", "%"),
        Field("steepest_pct", "float", "Steepest 10 m of it.", "%"),
        Field("drains_m2", "float", "Ground that drains straight to this piece of row.", "m2"),
        Field("ends_at", "text", "Where the water goes: row end or low point."),
        Field("peak_l_s", "float", "Peak flow at its lower end (rows that lead water); empty otherwise.", "l/s"),
        Field(
            "depth_m", "float", "Depth of that flow in the furrow; empty where it runs over or isn't asked for.", "m"
        ),
        Field("velocity_m_s", "float", "Velocity of that flow.", "m/s"),
        Field(
            "outlet_m", "float", "Distance from its lower end to a drawn outlet or flow line; empty without one.", "m"
        ),
        Field("problem", "text", "What breaks a limit of the design; empty if nothing."),
    ),
)

LOW_POINTS = LayerSpec(
    "low_points",
    "Low points along rows",
    "Point",
    (
        Field("row", "int", "Row number."),
        Field("station_m", "float", "Metres from the row's start.", "m"),
        Field("depth_m", "float", "Depth below the lower of the two passes along the row.", "m"),
        Field("holds_m3", "float", "Water held before it leaves; empty where no storm was asked for.", "m3"),
        Field("held_m3", "float", "Water that stands there after the storm.", "m3"),
        Field("leaves_by", "text", "Where it leaves first: over the ridge, along the row, or at the row's end."),
        Field("on_flow_line", "bool", "True within one row spacing of a flow line, where water comes together anyway."),
    ),
)

SPILLS = LayerSpec(
    "spills",
    "Water that leaves a row in the storm",
    "LineString",
    (
        Field("row", "int", "Row that the water leaves."),
        Field("station_m", "float", "Metres from that row's start.", "m"),
        Field("volume_m3", "float", "Water that leaves there, over the whole storm.", "m3"),
        Field("to_row", "int", "Row that receives it; 0 where it meets no further row."),
        Field("to_station_m", "float", "Metres from the receiving row's start; empty without one.", "m"),
    ),
)

SLOPE_CLASSES = LayerSpec(
    "slope_classes",
    "Slope across rows, for machines",
    "none",
    (
        Field("from_pct", "float", "Cross slope from.", "%"),
        Field("to_pct", "float", "Cross slope below; empty for the last class.", "%"),
        Field("row_m", "float", "Length of row on such ground.", "m"),
        Field("share_pct", "float", "Share of all rows.", "%"),
        Field("row_ends", "int", "Row ends on such ground, where machines turn."),
        Field("above_limit", "bool", "True where the class lies above the machines' limit."),
    ),
)

SOIL_LOSS = LayerSpec(
    "soil_loss",
    "Soil loss against rows up and down the slope",
    "none",
    (
        Field("layout", "text", "Layout of this field."),
        Field(
            "ratio",
            "float",
            "Soil loss as a share of that with rows straight up and down; only the rows' direction differs.",
        ),
        Field("definition", "text", "How it is computed, and what it leaves out."),
    ),
)

WATER_SPECS: tuple[LayerSpec, ...] = (
    FLOW_LINES,
    FLOW_CROSSINGS,
    ROW_PROFILE,
    LOW_POINTS,
    SPILLS,
    ROW_WATER,
    WATER_BALANCE,
    WATER_CRITERIA,
    SLOPE_CLASSES,
    SOIL_LOSS,
)


@dataclass(frozen=True, eq=False, repr=False)
class WaterPlan(Value):
    """Water on a laid-out field; each attribute is the frame of the layer or table of its name.

    Attributes
    ----------
    runoff_mm
        Runoff of the design storm; NaN where rows lead water or nothing was asked for.
    findings
        What a careful adviser would say, gravest first.
    verdict
        False where water may come from beyond the elevation onto most rows: volumes are then the least.
    """

    flow_lines: gpd.GeoDataFrame
    flow_crossings: gpd.GeoDataFrame
    row_profile: gpd.GeoDataFrame
    low_points: gpd.GeoDataFrame
    spills: gpd.GeoDataFrame
    row_water: pd.DataFrame
    water_balance: pd.DataFrame
    water_criteria: pd.DataFrame
    slope_classes: pd.DataFrame
    soil_loss: pd.DataFrame
    runoff_mm: float
    findings: tuple[Finding, ...]
    verdict: bool

    def tables(self) -> list[tuple[LayerSpec, Any]]:
        """Every layer and table with its declaration, in the order of the file."""
        return [(spec, getattr(self, spec.name)) for spec in WATER_SPECS]
