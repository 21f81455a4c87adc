"""The planting recipe: crops, and which of them stands where in a bed."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from geoagro.values.model import Distance, Length, Metres, Model


class Crop(Model):
    """A crop or tree; every value can be overridden in the design file."""

    name: str | None = None
    spacing_m: Length | None = None


class Planting(Model):
    """One crop's lines in one kind of bed."""

    crop: str
    bed: Literal["tree", "vegetable"]
    name: str | None = Field(None, description="Own name of this planting; the crop's code if left out.")
    spacing_m: Length | None = Field(None, description="Distance in the line; the crop's own if left out.")
    lines: int = Field(1, ge=1, description="Lines across the bed, evenly spread.")
    offsets_m: tuple[Metres, ...] | None = Field(
        None, description="Instead of `lines`: distances from the bed's middle, upslope positive."
    )
    stagger: bool = Field(False, description="Shift every second line by half a step.")
    end_margin_m: Distance = Field(0.0, description="Kept free at both ends of the line.")
