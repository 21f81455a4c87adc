"""What an officer looks for: eligible ground by parcel and rule, species, trees over the years, who surveyed."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import pandas as pd

from geoagro.values.base.value import Value
from geoagro.values.layers import Field, LayerSpec
from geoagro.values.results.evidence import PHOTOS

_YES_NO = ("yes", "no")

PARCELS = LayerSpec(
    "account_parcels",
    "Parcels",
    "none",
    (
        Field("parcel", "text", "Id of the parcel; 'whole field' where the design names no parcels."),
        Field("area_m2", "float", "Area on the map plane.", "m2"),
        Field("geodesic_area_m2", "float", "Area on the ellipsoid.", "m2"),
        Field("eligible_m2", "float", "Ground that counts by the programme's rule; empty without a rule.", "m2"),
        Field("not_eligible_m2", "float", "Ground that doesn't count; empty without a rule.", "m2"),
        Field("planted_m2", "float", "Beds that carry plants, on the map plane.", "m2"),
        Field("trees", "int", "Planting points of trees in it."),
        Field("trees_per_ha", "float", "Planting points of trees per hectare of the parcel, map plane.", "1/ha"),
        Field("broken", "text", "Keys of report.eligible whose limit the parcel breaks; empty if none."),
    ),
)

ELIGIBLE = LayerSpec(
    "account_eligible",
    "Eligible ground",
    "none",
    (
        Field("parcel", "text", "Id of the parcel."),
        Field("item", "text", "Kind of ground."),
        Field("area_m2", "float", "Area on the map plane.", "m2"),
        Field("geodesic_area_m2", "float", "Area on the ellipsoid.", "m2"),
        Field("eligible", "text", "yes or no.", values=_YES_NO),
        Field("rule", "text", "Key of report.eligible that decided it."),
    ),
)

CONDITIONS = LayerSpec(
    "account_conditions",
    "Limits of the programme",
    "none",
    (
        Field("parcel", "text", "Id of the parcel."),
        Field("rule", "text", "Key of report.eligible."),
        Field("asked", "float", "Limit as the design gives it."),
        Field(
            "found", "float", "What the plan has; empty where it can't be told, and the limit then counts as broken."
        ),
        Field("unit", "text", "Unit of both."),
        Field("met", "text", "yes or no.", values=_YES_NO),
    ),
)

SPECIES = LayerSpec(
    "account_species",
    "Species",
    "none",
    (
        Field("crop", "text", "Crop code."),
        Field("name", "text", "Name of the crop."),
        Field("scientific", "text", "Scientific name; empty where design and crop library have none."),
        Field("habit", "text", "tree, shrub, herb, grass or vine."),
        Field(
            "native", "text", "yes or no by the list that the design names; empty without a list or a scientific name."
        ),
        Field("provenance", "text", "Where the planting material comes from, as the design states it."),
        Field("first_planted", "text", "First day of planting; empty where the design has no start."),
        Field("last_planted", "text", "Last day of first planting."),
        Field("plants", "int", "Planting points."),
        Field(
            "standing_now", "float", "Of the plan, standing on the report's day; empty where day or start is unknown."
        ),
        Field("per_ha_field", "float", "Planting points per hectare of the gross field.", "1/ha"),
    ),
)

BY_YEAR = LayerSpec(
    "account_by_year",
    "Trees over the years, as planned",
    "none",
    (
        Field("year", "float", "Years after the start of the plan."),
        Field("day", "text", "Day; empty where the design has no start."),
        Field("trees", "int", "Trees that stand then, thinnings and ends of life taken off, deaths not."),
        Field("trees_per_ha_field", "float", "These per hectare of the gross field.", "1/ha"),
        Field("canopy_m2", "float", "Ground under their crowns at the size of that age; empty if unknown.", "m2"),
        Field("canopy_pct", "float", "The same as a share of the gross field.", "%"),
    ),
)

INDICATORS = LayerSpec(
    "account_indicators",
    "Indicators",
    "none",
    (
        Field("indicator", "text", "Name for programs."),
        Field("value", "float", "Value in `unit`."),
        Field("low", "float", "Lower end of its interval or range; empty where it has none."),
        Field("high", "float", "Upper end of its interval or range; empty where it has none."),
        Field("unit", "text", "Unit; empty for a number."),
        Field("counted", "int", "Plants that it rests on."),
        Field("definition", "text", "What it is."),
        Field("source", "text", "Whose definition or equation, or which survey."),
    ),
)

SURVEYED = LayerSpec(
    "account_surveyed",
    "Who surveyed",
    "none",
    (
        Field("survey", "text", "Boundary, or day and name of the survey."),
        Field("day", "text", "Day."),
        Field("by", "text", "Who surveyed, as stated; empty where nobody said."),
        Field("receiver", "text", "Receiver, as stated; empty where nobody said."),
        Field("error_m", "float", "Error of a point: as stated for the boundary, else as the survey shows it itself.", "m"),
    ),
)  # fmt: skip


@dataclass(frozen=True, eq=False, repr=False)
class Claim(Value):
    """What stands on an officer's pages; frames of the tables above.

    Attributes
    ----------
    eligible_m2, not_eligible_m2
        Sums over all parcels, measured as the rule says; NaN without a rule.
    now_year
        Years from the start to the report's day; NaN where either is unknown.
    by_parcel
        Whether the design names the parcels' attribute.
    """

    parcels: pd.DataFrame = field(default_factory=PARCELS.empty)
    eligible: pd.DataFrame = field(default_factory=ELIGIBLE.empty)
    conditions: pd.DataFrame = field(default_factory=CONDITIONS.empty)
    species: pd.DataFrame = field(default_factory=SPECIES.empty)
    by_year: pd.DataFrame = field(default_factory=BY_YEAR.empty)
    surveyed: pd.DataFrame = field(default_factory=SURVEYED.empty)
    indicators: pd.DataFrame = field(default_factory=INDICATORS.empty)
    photos: Any = field(default_factory=lambda: PHOTOS.empty(None))
    eligible_m2: float = float("nan")
    not_eligible_m2: float = float("nan")
    now_year: float = float("nan")
    by_parcel: bool = False

    @property
    def tables(self) -> dict[LayerSpec, Any]:
        """Every table with its declaration, in the order of the report."""
        return {
            PARCELS: self.parcels,
            ELIGIBLE: self.eligible,
            CONDITIONS: self.conditions,
            SPECIES: self.species,
            BY_YEAR: self.by_year,
            PHOTOS: self.photos,
            SURVEYED: self.surveyed,
            INDICATORS: self.indicators,
        }
