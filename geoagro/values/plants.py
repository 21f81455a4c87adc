"""Planting points."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from geoagro.values.layers import Field, LayerSpec

PLANTS = LayerSpec(
    "plants",
    "Plants",
    "Point",
    (
        Field("plant", "int", "Plant number, unique in the layout."),
        Field("crop", "text", "Crop code of the design file or the crop library."),
        Field("planting", "text", "Name of the planting in the design file that put it here."),
        Field("bed_kind", "text", "'tree' or 'vegetable'."),
        Field("row", "int", "Tree row of the bed."),
        Field("bed", "text", "Bed id."),
        Field("line", "int", "Line across the bed, 1 on the upslope side."),
        Field("station_m", "float", "Distance from the start of the line.", "m"),
        Field("x", "float", "Easting in the working CRS.", "m"),
        Field("y", "float", "Northing in the working CRS.", "m"),
        Field("z", "float", "Height as surveyed; empty where heights are unknown.", "m"),
        Field(
            "azimuth_deg",
            "float",
            "Direction the plant faces, clockwise from grid north; empty if all round.",
            "deg",
        ),
        Field("stratum", "text", "emergent, high, medium, low or ground."),
        Field("plant_week", "int", "Week of planting, counted from the start of the design."),
        Field("harvest_from_week", "int", "First week of harvest."),
        Field("harvest_to_week", "int", "Last week of harvest."),
    ),
)


@dataclass(frozen=True)
class Plants:
    """Layer PLANTS: all crops in one frame, ordered by plant number."""

    frame: Any

    def by_crop(self) -> dict[str, Any]:
        """One frame per crop, in order of crop code."""
        return {str(code): part for code, part in self.frame.groupby("crop", sort=True)}
