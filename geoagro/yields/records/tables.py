"""Yields in company and land equivalent ratios, as tables."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import pandas as pd

from geoagro.values.base.value import Value
from geoagro.values.layers import Field, LayerSpec
from geoagro.values.rules.bed_kinds import STRIP_WORDS
from geoagro.values.site import Finding

YIELDS_IN_COMPANY = LayerSpec(
    "yields_in_company",
    "Yields in company",
    "none",
    (
        Field("bed_kind", "text", STRIP_WORDS),
        Field("mixture", "text", "Mixture."),
        Field("planting", "text", "Planting."),
        Field("crop", "text", "Crop code."),
        Field("planting_no", "int", "Planting of a crop that is harvested once, 1 first; 1 for perennials."),
        Field("year", "int", "Year of the plan, for perennials; 0 for crops that are harvested once."),
        Field("per_m2", "float", "Places on a square metre of beds and paths.", "1/m2"),
        Field("density", "float", "The same over the crop's usual density grown alone."),
        Field("light_pct", "float", "Light that reaches its crowns, as a share of open ground's.", "%"),
        Field("crowding", "float", "Factor on the yield of a place: its own density."),
        Field("company", "float", "Factor: what other crops take, and what water and nutrients then lack."),
        Field("shade", "float", "Factor: response to shade beyond what follows light in proportion."),
        Field("place_low", "float", "Yield of a place over its yield grown alone, low."),
        Field("place_likely", "float", "Likely; the product of the three factors, or measured."),
        Field("place_high", "float", "High."),
        Field("fullness", "float", "Light that all crops take over what grown stands of them would take."),
        Field("basis", "text", "'model', or 'measured' by the user in this mixture."),
        Field("response", "text", "Source of its response to shade."),
    ),
)

LAND_EQUIVALENT = LayerSpec(
    "land_equivalent",
    "Land equivalent ratio",
    "none",
    (
        Field("year", "int", "Year from the start of the design; only crops that bear in it count."),
        Field("crop", "text", "Crop code; 'all' for the sum."),
        Field("ratio_low", "float", "Yield in company over yield grown alone on the same area, low."),
        Field("ratio", "float", "Likely; the sum over crops is the land equivalent ratio."),
        Field("ratio_high", "float", "High."),
        Field(
            "area_time",
            "float",
            "Area-time equivalent ratio, likely: each ratio by its share of the time; only for 'all'.",
        ),
    ),
)


@dataclass(frozen=True, eq=False, repr=False)
class RecipeYields(Value):
    """Frames as declared above, and what to know of them.

    Attributes
    ----------
    sky
        What was known of the sun, in words.
    """

    yields: pd.DataFrame
    land: pd.DataFrame
    findings: tuple[Finding, ...]
    sky: str

    @property
    def layers(self) -> tuple[tuple[LayerSpec, Any], ...]:
        """What can be written into files: each declaration with its frame."""
        return (YIELDS_IN_COMPANY, self.yields), (LAND_EQUIVALENT, self.land)
