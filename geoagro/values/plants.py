"""Planting points."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, ClassVar

from geoagro.frames import gpd
from geoagro.values.base.paints import TREE_BED
from geoagro.values.base.small_map import Drawn
from geoagro.values.base.value import Value, brief, crs_name, layer
from geoagro.values.layers import Field, LayerSpec
from geoagro.values.rules.bed_kinds import STRIP_WORDS, STRIPS
from geoagro.values.site import Finding

FARTHEST_NEIGHBOUR_M = 4.0
"""How far the nearest plant is looked for."""

PLANTS = LayerSpec(
    "plants",
    "Plants",
    "Point",
    (
        Field("plant", "int", "Plant number, unique in the layout."),
        Field("crop", "text", "Crop code of the design file or the crop library."),
        Field("planting", "text", "Name of the planting in the design file that put it here."),
        Field("mixture", "text", "Mixture that the planting belongs to; the kind of bed where none is named."),
        Field("bed_kind", "text", STRIP_WORDS, values=STRIPS),
        Field("row", "int", "Tree row of the bed."),
        Field("bed", "text", "Bed id."),
        Field("line", "int", "Planting line, counted across the bed from its upslope side."),
        Field("station_m", "float", "Distance from the start of the line.", "m"),
        Field("x", "float", "Easting in the working CRS.", "m"),
        Field("y", "float", "Northing in the working CRS.", "m"),
        Field("z", "float", "Height read from the elevation source; empty where heights are unknown.", "m"),
        Field(
            "nearest_m",
            "float",
            "Distance to the nearest plant, of any crop, that stands while it stands, in any round; empty where none is "
            f"within {FARTHEST_NEIGHBOUR_M:g} m.",
            "m",
        ),
        Field(
            "bearing_deg",
            "float",
            "Direction the plant faces, clockwise from grid north; empty if all round.",
            "deg",
        ),
        Field(
            "direction",
            "text",
            "Where its roots point: all_round, along or against the row, uphill, downhill, away from the row, bearing.",
        ),
        Field(
            "stratum",
            "text",
            "emergent, high, medium, low or ground.",
            values=("emergent", "high", "medium", "low", "ground"),
        ),
        Field("plant_week", "int", "Week of planting, counted from the start of the design."),
        Field("harvest_from_week", "int", "First week of harvest."),
        Field("harvest_to_week", "int", "Last week of harvest, with which the plant's life ends."),
        Field("plant_date", "date", "Day on which that week begins; empty where the design has no start date."),
        Field("harvest_from_date", "date", "Day on which the first week of harvest begins."),
        Field("harvest_to_date", "date", "Day on which the last week of harvest begins."),
    ),
)


@dataclass(frozen=True, eq=False, repr=False)
class Plants(Value):
    """Layer PLANTS: all crops in one frame, ordered by plant number.

    Attributes
    ----------
    findings
        What placing found: plants left out at bed ends, directions that `auto` chose and what they gained.

    >>> from geoagro import example_layout
    >>> example_layout().plants
    Plants: plants 5,490 rows; crops lettuce 5,400, apple 90; crs EPSG:32633; findings 0
    """

    LAYERS: ClassVar[Mapping[str, LayerSpec]] = {"frame": PLANTS}

    frame: gpd.GeoDataFrame
    findings: tuple[Finding, ...] = ()

    def by_crop(self) -> dict[str, Any]:
        """One frame per crop, in order of crop code."""
        return {str(code): part for code, part in self.frame.groupby("crop", sort=True)}

    def in_short(self) -> dict[str, str]:
        """Give the number of plants by crop."""
        return {
            "plants": brief(self.frame),
            "crops": ", ".join(f"{code} {n:,}" for code, n in self.frame["crop"].value_counts().items()),
            "crs": crs_name(self.frame.crs),
            "findings": brief(self.findings),
        }

    def map_layers(self) -> tuple[Drawn, ...]:
        """Draw the plants as dots; of very many every n-th."""
        return (layer(self.frame, "none", TREE_BED, 1.5),)
