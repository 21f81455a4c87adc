"""Stakes: how rows are marked in the field, and the layers and tables that come of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

from pydantic import Field as Setting
from pydantic import model_validator

from geoagro.values.layers import Field, LayerSpec
from geoagro.values.measures import MEASURE_FIELDS, Measures
from geoagro.values.model import Distance, Length, Model

Receiver = Literal["phone", "phone_under_trees", "sbas", "dgnss", "rtk"]
Paper = Literal["a4", "letter"]
Point = tuple[float, float]


class StakeRule(Model):
    """How rows are marked out (section `stakeout` of the design file)."""

    tolerance_m: Length = Setting(0.05, description="Farthest that a tape between two stakes may lie off the row.")
    min_spacing_m: Length = Setting(2.0, description="Stakes aren't set nearer than this unless a curve needs it.")
    max_spacing_m: Length = Setting(25.0, description="Longest tape between two stakes.")
    step_m: Length = Setting(
        1.0, description="Stakes stand on whole multiples of this from the row's start where that costs no stake."
    )
    merge_m: Distance = Setting(0.5, description="Bed ends and bends this near to another stake share it.")
    bend_deg: float = Setting(20.0, gt=0, le=180, description="Turn within 4 m of row that gets a stake of its own.")
    start: Literal["auto"] | Point = Setting("auto", description="Easting, northing where the walk begins.")
    baseline: Literal["auto"] | tuple[Point, Point] = Setting(
        "auto", description="Two pegged points (easting, northing each) that offsets are measured from."
    )
    crews: int = Setting(1, ge=1, description="Crews that mark at the same time.")
    hours_per_day: float = Setting(6.0, gt=0, le=24, description="Working hours of a day in the field.")
    walking_kmh: float = Setting(2.5, gt=0, description="Walking speed with tools over rough ground.")
    minutes_per_mark: float = Setting(2.0, ge=0, description="Time to find, set and write one stake.")
    receiver: Receiver = Setting("phone", description="What the stakes are found with.")
    accuracy_m: Length | None = Setting(
        None, description="The receiver's own standard deviation in east and north each, instead of the class's."
    )
    a_frame_m: Length = Setting(2.0, description="Distance between the feet of the A-frame.")
    crs: str | None = Setting(None, description="CRS of the stake-out files, e.g. 'EPSG:32633'; else the working CRS.")
    paper: Paper = Setting("a4", description="Paper of the printed sheets.")
    scale: Literal["auto"] | int = Setting("auto", description="Scale number of the sheets, e.g. 500 for 1:500.")

    @model_validator(mode="after")
    def _limits_fit(self) -> StakeRule:
        if self.min_spacing_m > self.max_spacing_m:
            raise ValueError("min_spacing_m must not be above max_spacing_m")
        if self.step_m > self.min_spacing_m:
            raise ValueError("step_m must not be above min_spacing_m")
        if self.scale != "auto" and not 100 <= self.scale <= 5000:
            raise ValueError("scale must lie between 100 and 5000")
        return self


MARKS = LayerSpec(
    "marks",
    "Stakes",
    "Point",
    (
        Field("mark", "text", "Name on the stake: row and whole metres along it (12-035)."),
        Field("row", "int", "Tree row in the layout."),
        Field("label", "text", "Row as written on stakes; keeps its first number when the layout is changed."),
        Field("number", "int", "1 for the first stake of the row."),
        Field("kind", "text", "row_end, exclusion_edge, gap, bed_end, bend or tape."),
        Field("station_m", "float", "Distance along the row from its start.", "m"),
        Field("chainage_m", "float", "The same, counted as on the stakes: from where the row first began.", "m"),
        Field("tape_m", "float", "Straight distance from the stake before; empty at the first.", "m"),
        Field("off_tape_m", "float", "Farthest that the row lies off the tape from the stake before.", "m"),
        Field("x", "float", "Easting in the working CRS.", "m"),
        Field("y", "float", "Northing in the working CRS.", "m"),
        Field("z", "float", "Height as surveyed; empty where heights are unknown.", "m"),
        Field("bearing_deg", "float", "Direction of the row, clockwise from grid north.", "deg"),
        Field("walk", "int", "Place in the walking order, 1 first."),
        Field("part", "int", "Crew and day: part of the walk."),
        Field("note", "text", "What else is here: bed ends, gap, exclusion."),
    ),
)

WALK = LayerSpec(
    "walk",
    "Walk over all stakes",
    "LineString",
    (
        Field("part", "int", "Part of the walk."),
        Field("crew", "int", "Crew that walks it."),
        Field("day", "int", "Day on which it is walked."),
        Field("marks", "int", "Stakes set on it."),
        Field("distance_m", "float", "Distance walked from the start to the last stake.", "m"),
        Field("hours", "float", "Walking and setting stakes.", "h"),
    ),
)

TAPE_OFFSETS = LayerSpec(
    "tape_offsets",
    "Tape from row to row",
    "none",
    (
        Field("mark", "text", "Stake that the tape starts from."),
        Field("row", "int", "Its row."),
        Field("to_row", "int", "Row that the tape goes to."),
        Field("side", "text", "'up' or 'down': side of the row, seen from the stake."),
        Field("level_m", "float", "Distance with the tape held level.", "m"),
        Field("ground_m", "float", "Distance with the tape lying on the slope; empty if heights are unknown.", "m"),
        Field("rise_m", "float", "Height of the other row here above the stake.", "m"),
        Field("to_station_m", "float", "Station on the other row where the tape ends.", "m"),
        Field("near_mark", "text", "Stake of the other row next to that place."),
        Field("from_near_mark_m", "float", "Distance along the other row from that stake; negative before it.", "m"),
    ),
)

BASELINE_OFFSETS = LayerSpec(
    "baseline_offsets",
    "Offsets from the baseline",
    "none",
    (
        Field("mark", "text", "Stake."),
        Field("row", "int", "Its row."),
        Field("along_m", "float", "Distance from peg A along the line A to B.", "m"),
        Field("offset_m", "float", "Distance at right angles to the line.", "m"),
        Field("side", "text", "'left' or 'right', looking from A to B."),
        Field("from_a_m", "float", "Check: straight distance from peg A.", "m"),
        Field("from_b_m", "float", "Check: straight distance from peg B.", "m"),
    ),
)

LEVELS = LayerSpec(
    "levels",
    "Level check from stake to stake",
    "none",
    (
        Field("row", "int", "Row."),
        Field("from_mark", "text", "Stake behind."),
        Field("to_mark", "text", "Stake ahead."),
        Field("distance_m", "float", "Level distance between them.", "m"),
        Field("rise_m", "float", "Expected rise (fall if negative).", "m"),
        Field("grade_pct", "float", "Rise per 100 m.", "%"),
        Field("a_frame_mm", "float", "Rise between the feet of the A-frame at this grade.", "mm"),
    ),
)

RECEIVERS = LayerSpec(
    "receivers",
    "What the receiver does to row spacing",
    "none",
    (
        Field("receiver_class", "text", "Class as in stakeout.receiver; own for the accuracy that the design gives."),
        Field("receiver", "text", "The same in words."),
        Field("sigma_m", "float", "Standard deviation in east and in north.", "m"),
        Field("error_p50_m", "float", "Half of the row spacings are less wrong than this.", "m"),
        Field("error_p95_m", "float", "95 % of the row spacings are less wrong than this.", "m"),
        Field("beyond_share", "float", "Share of row length whose spacing is out of tolerance."),
        Field("source", "text", "Where the class's accuracy comes from."),
        Field("advice", "text", "How to mark with it."),
    ),
)

STAKE_SUMMARY = LayerSpec(
    "stake_summary",
    "Stake-out in figures",
    "none",
    MEASURE_FIELDS,
)

PLOTS = LayerSpec(
    "plots",
    "Sample plots",
    "Polygon",
    (
        Field("plot", "text", "Name of the plot (P01)."),
        Field("x", "float", "Easting of the centre.", "m"),
        Field("y", "float", "Northing of the centre.", "m"),
        Field("radius_m", "float", "Radius, level distance.", "m"),
        Field("area_m2", "float", "Area of the whole circle.", "m2"),
        Field("plants", "int", "Plants planned in it."),
    ),
)


@dataclass(frozen=True)
class ScaleFactor:
    """How the map plane differs from the ground at the field's centre.

    Attributes
    ----------
    grid
        Point scale factor of the projection: map distance over distance on the ellipsoid.
    height_m
        Mean height that `combined` is computed for; NaN where unknown.
    combined
        Map distance over ground distance: `grid` times R / (R + height).
    convergence_deg
        Bearing of true north from grid north is minus this.
    """

    grid: float
    height_m: float
    combined: float
    convergence_deg: float

    @property
    def ppm(self) -> float:
        """Millimetres by which a kilometre of ground is longer on the map."""
        return (self.combined - 1.0) * 1e6


@dataclass(frozen=True)
class Baseline:
    """Two pegged points A and B."""

    a: Point
    b: Point
    a_name: str
    b_name: str


@dataclass(frozen=True)
class StakeOut:
    """Everything needed to mark a layout in the field; frames as declared above.

    Attributes
    ----------
    height_source
        Where the heights come from, in words.
    baseline
        The two pegs that `baseline_offsets` counts from.
    """

    marks: Any
    walk: Any
    tape_offsets: Any
    baseline_offsets: Any
    levels: Any
    receivers: Any
    summary: Measures
    baseline: Baseline
    height_source: str
