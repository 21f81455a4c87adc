"""Zones: parts of a field with a recipe or purpose of their own, and how they are accounted for."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

import pandas as pd
from pydantic import Field, model_validator

from geoagro.values.layers import Field as Column
from geoagro.values.layers import LayerSpec
from geoagro.values.model import Model
from geoagro.values.places import Places
from geoagro.values.recipe import Planting

Purpose = Literal["crops", "nursery", "seed bed", "grass", "compost", "leave alone"]

_BARE: frozenset[Purpose] = frozenset({"grass", "compost", "leave alone"})
REST = "rest of the field"
"""Name of what no zone holds, in tables by zone."""


class Zone(Model):
    """A part of the field with its own plantings or purpose; what the design plants elsewhere stays out of it."""

    name: str = Field(min_length=1, description="What tables and pages call it.")
    within: Places = Field(description="Where it is: rows, alleys, beds, side, area.")
    purpose: Purpose = Field("crops", description="What it is for; plantings of the whole design go into crops only.")
    plantings: tuple[Planting, ...] = Field((), description="Planted here and nowhere else.")
    recipe: Path | None = Field(None, description="Recipe file whose crops and plantings are used here.")
    bare: bool | None = Field(
        None, description="Neither rows nor beds; true for grass, compost and leave alone, false for the others."
    )

    @property
    def has_own(self) -> bool:
        """Whether the design's other plantings stay out."""
        return self.purpose != "crops" or bool(self.plantings) or self.recipe is not None

    @property
    def is_bare(self) -> bool:
        """Whether nothing is laid out here."""
        return self.purpose in _BARE if self.bare is None else self.bare

    @property
    def reason(self) -> str:
        """Code of the reason that bare ground of this zone is booked under."""
        return {"crops": "skipped"}.get(self.purpose, self.purpose.replace(" ", "_"))

    @property
    def is_drawn(self) -> bool:
        """Whether drawn areas and sides alone say where it is, so that rows can be kept out of it."""
        return all(not (p.rows or p.alleys or p.beds or p.but_not) for p in self.within)

    @model_validator(mode="after")
    def _bare_means_bare(self) -> Zone:
        if not self.within:
            raise ValueError("within is missing; say where the zone is")
        if self.is_bare and (self.plantings or self.recipe):
            raise ValueError(
                f"nothing can be planted in a bare zone; leave plantings out, or set bare: false ({self.purpose})"
            )
        if self.name == REST:
            raise ValueError(f"'{REST}' is the name of what no zone holds; choose another")
        return self


ZONES = LayerSpec(
    "zones",
    "Zones",
    "MultiPolygon",
    (
        Column("zone", "text", "Name of the zone in the design file."),
        Column("purpose", "text", "crops, nursery, seed bed, grass, compost or leave alone."),
        Column("area_m2", "float", "Area on the map plane.", "m2"),
        Column("plants", "int", "Planting points in it."),
    ),
)

ZONE_AREAS = LayerSpec(
    "zone_areas",
    "Areas by zone",
    "none",
    (
        Column("zone", "text", "Name of the zone; 'rest of the field' for what no zone holds."),
        Column("item", "text", "Kind of ground, as in the table of areas."),
        Column("area_m2", "float", "Area on the map plane; all lines together are the field.", "m2"),
    ),
)

ZONE_CROPS = LayerSpec(
    "zone_crops",
    "Plants by zone and crop",
    "none",
    (
        Column("zone", "text", "Name of the zone; 'rest of the field' for what no zone holds."),
        Column("crop", "text", "Crop code."),
        Column("plants", "int", "Number of planting points."),
    ),
)


@dataclass(frozen=True, eq=False)
class ZoneAccount:
    """Layer ZONES and tables ZONE_AREAS, ZONE_CROPS of a layout."""

    zones: Any
    areas: pd.DataFrame
    crops: pd.DataFrame
