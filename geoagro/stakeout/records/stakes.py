"""Stakes in the field: the layers and tables of a stake-out, and all of it in one value."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import ClassVar

import geopandas as gpd
import pandas as pd

from geoagro.stakeout.records.procedure import Procedure
from geoagro.values.base.paints import PATH, TREE_BED
from geoagro.values.base.small_map import Drawn
from geoagro.values.base.value import Value, brief, crs_name, layer
from geoagro.values.layers import Field, LayerSpec
from geoagro.values.measures import MEASURE_FIELDS, Measures
from geoagro.values.stakeout import MARKS, Point
from geoagro.values.words import Sentence

WALK = LayerSpec(
    "walk",
    "Walk over all stakes",
    "LineString",
    (
        Field("day_trip", "int", "Part of the walk."),
        Field("crew", "int", "Crew that walks it."),
        Field("day", "int", "Day on which it is walked."),
        Field("stakes", "int", "Stakes set on it."),
        Field("distance_m", "float", "Distance walked from the start to the last stake.", "m"),
        Field("hours", "float", "Walking and setting stakes, as often as the procedure asks.", "h"),
    ),
)


TAPE_OFFSETS = LayerSpec(
    "tape_offsets",
    "Tape from row to row",
    "none",
    (
        Field("stake", "text", "Stake that the tape starts from."),
        Field("row", "int", "Its row."),
        Field("to_row", "int", "Row that the tape goes to."),
        Field("side", "text", "'up' or 'down': side of the row, seen from the stake."),
        Field("level_m", "float", "Distance with the tape held level.", "m"),
        Field("ground_m", "float", "Distance with the tape lying on the slope; empty if heights are unknown.", "m"),
        Field("rise_m", "float", "Height of the other row here above the stake.", "m"),
        Field("to_station_m", "float", "Station on the other row where the tape ends.", "m"),
        Field("near_stake", "text", "Stake of the other row next to that place."),
        Field("from_near_stake_m", "float", "Distance along the other row from that stake; negative before it.", "m"),
    ),
)


BASELINE_OFFSETS = LayerSpec(
    "baseline_offsets",
    "Offsets from the baseline",
    "none",
    (
        Field("stake", "text", "Stake."),
        Field("row", "int", "Its row."),
        Field("baseline_m", "float", "Distance from peg A along the line A to B.", "m"),
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
        Field("from_stake", "text", "Stake behind."),
        Field("to_stake", "text", "Stake ahead."),
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
        Field("beyond_pct", "float", "Row length whose spacing is out of tolerance.", "%"),
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


@dataclass(frozen=True)
class Baseline:
    """Two pegged points A and B."""

    a: Point
    b: Point
    a_name: str
    b_name: str


@dataclass(frozen=True, eq=False, repr=False)
class StakeOut(Value):
    """Everything needed to mark a layout in the field; frames as declared above.

    Attributes
    ----------
    height_source
        Where the heights come from, in words.
    baseline
        The two pegs that `baseline_offsets` counts from.
    procedure
        How to mark with the receiver at hand.
    advice
        That of table `receivers` by its `receiver_class`, to be put into words.

    >>> from geoagro import example_layout, stakes_of
    >>> laid = example_layout()
    >>> stakes_of(laid.design, laid.site, laid.rows, laid.beds, laid.terrain)
    StakeOut: marks 24 rows; walk 0.35 km; tape offsets 40 rows; baseline offsets 24 rows; heights an
      invented even slope; crs EPSG:32633
    """

    LAYERS: ClassVar[Mapping[str, LayerSpec]] = {
        "marks": MARKS,
        "walk": WALK,
        "tape_offsets": TAPE_OFFSETS,
        "baseline_offsets": BASELINE_OFFSETS,
        "levels": LEVELS,
        "receivers": RECEIVERS,
    }

    marks: gpd.GeoDataFrame
    walk: gpd.GeoDataFrame
    tape_offsets: pd.DataFrame
    baseline_offsets: pd.DataFrame
    levels: pd.DataFrame
    receivers: pd.DataFrame
    summary: Measures
    baseline: Baseline
    procedure: Procedure
    advice: Mapping[str, Sentence]
    height_source: str

    def in_short(self) -> dict[str, str]:
        """Give counts."""
        return {
            "marks": brief(self.marks),
            "walk": f"{self.walk.length.sum() / 1e3:.2f} km",
            "tape offsets": brief(self.tape_offsets),
            "baseline offsets": brief(self.baseline_offsets),
            "heights": self.height_source,
            "crs": crs_name(self.marks.crs),
        }

    def map_layers(self) -> tuple[Drawn, ...]:
        """Draw the walk and the marks."""
        return (layer(self.walk, "none", PATH, 1.0), layer(self.marks, "none", TREE_BED, 2.5))
