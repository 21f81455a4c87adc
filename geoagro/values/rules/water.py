"""What the user says of water: what rows are for, how much rain is reckoned with, and what holds or leads it."""

from __future__ import annotations

import hashlib
from typing import Literal

from pydantic import Field, model_validator

from geoagro.values.model import Distance, Length, Model, Percent

SoilGroup = Literal["A", "B", "C", "D"]
Cover = Literal[
    "bare",
    "row_crops",
    "row_crops_poor",
    "orchard_grass_poor",
    "orchard_grass",
    "orchard_grass_good",
    "meadow",
]


class Ridge(Model):
    """What stands along the rows to hold or lead water: a ridge below them, or a ditch above."""

    kind: Literal["ridge", "ditch"] = Field("ridge", description="ridge: a bank below the row; ditch: dug above it.")
    height_m: Length = Field(0.25, description="Height of the settled ridge, or depth of the ditch.")
    bottom_m: Distance = Field(0.0, description="Width of the ditch's bottom.")
    bank: float = Field(1.5, description="Run of a bank for one metre of rise.", gt=0, le=10)
    ends: Literal["closed", "open"] = Field("closed", description="Turned up at row ends, or open.")


class WaterRule(Model):
    """Water on the field: what rows are for and the storm that the user reckons with."""

    rows: Literal["store", "lead"] = Field(description="Rows hold water where it falls, or lead it to an outlet.")
    rain_mm: float | None = Field(None, description="Depth of the storm that rows must hold.", gt=0, le=2000)
    rain_hours: float = Field(24.0, description="Hours that this storm lasts.", gt=0, le=96)
    intensity_mm_h: float | None = Field(
        None, description="Strength of rain over the time water takes to the row's end.", gt=0, le=500
    )
    soil_group: SoilGroup | None = Field(None, description="Hydrologic soil group, A (sandy) to D (clay).")
    cover: Cover = Field("row_crops", description="Ground cover in the season of storms.")
    curve_number: float | None = Field(None, description="Instead of soil_group and cover.", ge=1, le=100)
    infiltration_mm_h: Distance | None = Field(None, description="Measured intake of the soil, instead of both.")
    runoff_coefficient: float | None = Field(
        None, description="Share of the rain that runs off at the peak.", gt=0, le=1
    )
    ridge: Ridge = Field(Ridge(), description="What holds or leads the water along rows.")
    roughness: float = Field(0.035, description="Manning's n of the furrow.", gt=0, le=0.5)
    grassed: bool = Field(False, description="The furrow is grassed.")
    easily_eroded: bool = Field(True, description="The soil washes easily.")
    max_way_m: Length = Field(100.0, description="Longest way of water one way along a row.")
    flow_line_ha: float = Field(0.5, description="Ground that gathers before a flow line is drawn.", gt=0, le=1000)
    machine_slope_pct: Percent = Field(15.0, description="Steepest cross slope of the machines.")

    @model_validator(mode="after")
    def _storm_is_given(self) -> WaterRule:
        if self.rows == "store" and self.rain_mm is None:
            raise ValueError(
                "rows: store needs rain_mm, the storm of your place that rows must hold (no default is known)"
            )
        if self.rows == "lead" and self.intensity_mm_h is None:
            raise ValueError("rows: lead needs intensity_mm_h, the rain of your place that rows must lead away")
        soil = (self.soil_group, self.curve_number, self.infiltration_mm_h)
        if sum(value is not None for value in soil) != 1 and self.rows == "store":
            raise ValueError("give exactly one of soil_group, curve_number, infiltration_mm_h")
        if self.rows == "lead" and self.runoff_coefficient is None:
            raise ValueError("rows: lead needs runoff_coefficient, the share of rain that runs off at the peak")
        return self


def checksum_of(rule: WaterRule | None) -> str:
    """Checksum of what the design says of water, by which a report knows later whether it still does."""
    return hashlib.sha256(b"" if rule is None else rule.model_dump_json().encode()).hexdigest()
