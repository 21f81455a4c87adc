"""Zones: parts of a field with a recipe or purpose of their own, and how they are accounted for."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from pydantic import Field, model_validator

from geoagro.frames import pd
from geoagro.values.layers import Field as Column
from geoagro.values.layers import LayerSpec
from geoagro.values.model import Length, Model, Spacing
from geoagro.values.places import Places
from geoagro.values.recipe import Planting
from geoagro.values.words import Sentence, meant, say

Purpose = Literal["crops", "nursery", "seed bed", "grass", "compost", "leave alone"]

_BARE: frozenset[Purpose] = frozenset({"grass", "compost", "leave alone"})
PURPOSES: dict[str, Sentence] = {
    "crops": meant("purpose", "crops"),
    "nursery": meant("purpose", "nursery"),
    "seed bed": meant("purpose", "seed bed"),
    "grass": meant("purpose", "grass"),
    "compost": meant("purpose", "compost"),
    "leave alone": meant("purpose", "leave alone"),
}
"""What a zone is for, in words."""
REST = say("rest of the field")
"""Name of what no zone holds, in tables by zone."""


class ZoneBeds(Model):
    """Working widths of a zone; what is left out is as in section `beds`."""

    tree_bed_width_m: Length | None = Field(None, description="Width of tree beds in the zone.")
    bed_width_m: Length | None = Field(None, description="Width of vegetable beds in the zone.")
    path_width_m: Length | None = Field(None, description="Narrowest path in the zone.")
    narrowest_path_m: Length | None = Field(None, description="Path in an alley's middle at pinches in the zone.")
    min_bed_length_m: Length | None = Field(None, description="Shortest bed in the zone.")

    @property
    def given(self) -> dict[str, float]:
        """Widths that the zone gives itself."""
        return {key: value for key, value in self.model_dump().items() if value is not None}


class Zone(Model):
    """A part of the field with its own plantings or purpose; what the design plants elsewhere stays out of it."""

    name: str = Field(min_length=1, description="What tables and pages call it.")
    within: Places = Field(description="Where it is: rows, alleys, beds, side, area.")
    purpose: Purpose = Field("crops", description="What it is for; plantings of the whole design go into crops only.")
    plantings: tuple[Planting, ...] = Field((), description="Planted here and nowhere else.")
    recipe: Path | None = Field(None, description="Recipe file whose crops and plantings are used here.")
    beds: ZoneBeds | None = Field(None, description="Own widths of beds and paths; the rest as in section beds.")
    spacing_m: Spacing | None = Field(None, description="Own distance of rows; for zones drawn as areas or sides.")
    min_row_length_m: Length | None = Field(None, description="Own shortest row; goes with spacing_m.")
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

    @property
    def has_own_widths(self) -> bool:
        """Whether beds are laid by a rule of the zone's own."""
        return self.spacing_m is not None or (self.beds is not None and bool(self.beds.given))

    @property
    def is_before_beds(self) -> bool:
        """Whether rows, areas and sides alone say where it is, so that it is known before beds are laid."""
        return all(not (p.alleys or p.beds or p.but_not) for p in self.within)

    @model_validator(mode="after")
    def _widths_have_a_place(self) -> Zone:
        if self.is_bare and self.has_own_widths:
            raise ValueError(f"no rows or beds are laid in a bare zone; leave beds and spacing_m out ({self.purpose})")
        if self.spacing_m is not None and not self.is_drawn:
            raise ValueError("spacing_m needs a zone that is known before rows are laid; give it by area or side")
        if self.min_row_length_m is not None and self.spacing_m is None:
            raise ValueError("min_row_length_m goes with spacing_m; give both, or leave it out")
        if self.has_own_widths and not self.is_before_beds:
            raise ValueError(
                "beds of its own need a zone that is known before beds are laid; give it by rows, area or side"
            )
        return self

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
        Column("rows", "int", "Tree rows with a bed in it."),
        Column("row_spacing_m", "float", "Distance that its rows are asked to have.", "m"),
        Column("bed_width_m", "float", "Width of its vegetable beds as the design asks for it.", "m"),
        Column("vegetable_beds", "int", "Vegetable beds, counted where their middle lies."),
        Column("bed_area_m2", "float", "Tree beds and vegetable beds inside it.", "m2"),
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
