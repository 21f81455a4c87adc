"""What the recipe means through time: roots in conflict, cover, crowding, weeding, warnings."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, ClassVar

import pandas as pd

from geoagro.values.base.value import Value
from geoagro.values.layers import Field, LayerSpec
from geoagro.values.rules.bed_kinds import STRIP_WORDS
from geoagro.values.site import Finding

CONFLICTS = LayerSpec(
    "conflicts",
    "Roots harmed by lifting",
    "Point",
    (
        Field("plant", "int", "Plant number."),
        Field("crop", "text", "Crop code."),
        Field("planting", "text", "Name of the planting."),
        Field("bed", "text", "Bed id."),
        Field("share_pct", "float", "Share of its root zone that is dug up when the other crop is lifted.", "%"),
        Field("with_crop", "text", "Crop that is lifted."),
        Field("week", "int", "Week of the lifting, middle of its window, counted from the start of the design."),
        Field("advice", "text", "The change that helps most, the same for all plants of the pair."),
        Field("x", "float", "Easting in the working CRS.", "m"),
        Field("y", "float", "Northing in the working CRS.", "m"),
    ),
)

ROOT_PAIRS = LayerSpec(
    "root_pairs",
    "Root zones shared, by pair of crops",
    "none",
    (
        Field("crop", "text", "Crop whose root zone is looked at."),
        Field("with_crop", "text", "Crop that shares it."),
        Field("plants", "int", "Plants of the first crop that the shares are taken from (at most 400, evenly picked)."),
        Field(
            "mean_share_pct",
            "float",
            "Share of the root zone that it uses (overlaps counted once), mean over plants, in the worst month.",
            "%",
        ),
        Field("worst_share_pct", "float", "The same for the worst plant.", "%"),
        Field("month", "int", "The worst month."),
        Field("from_month", "int", "First month in which the mean passes the threshold; 0 if never."),
        Field("text", "text", "The same in words."),
    ),
)

COVER = LayerSpec(
    "cover",
    "Ground cover and strata by month",
    "none",
    (
        Field("bed", "text", "Bed id; 'field' for all beds and paths together."),
        Field("month", "int", "Month from the start of the design; looked at in its middle."),
        Field("cover_pct", "float", "Share of the ground under any crown.", "%"),
        Field("emergent_pct", "float", "Share under crowns of the emergent stratum.", "%"),
        Field("high_pct", "float", "Share under crowns of the high stratum.", "%"),
        Field("medium_pct", "float", "Share under crowns of the medium stratum.", "%"),
        Field("low_pct", "float", "Share under crowns of the low stratum.", "%"),
        Field("ground_pct", "float", "Share under plants that creep on the ground.", "%"),
    ),
)

KIND_COVER = LayerSpec(
    "kind_cover",
    "Ground cover by kind of bed",
    "none",
    (
        Field("bed_kind", "text", STRIP_WORDS),
        Field("month", "int", "Month from the start of the design, 1 first; looked at in its middle."),
        Field("cover_pct", "float", "The beds' ground under any crown.", "%"),
    ),
)

STRATA = LayerSpec(
    "strata",
    "Occupation by stratum",
    "none",
    (
        Field("year", "int", "Year from the start of the design."),
        Field("stratum", "text", "emergent, high, medium, low."),
        Field("share_pct", "float", "Share of beds and paths under crowns of this stratum, mean of the year.", "%"),
        Field(
            "reference_pct", "float", "Share asked for in the design (`reference_cover_pct`); empty if none is.", "%"
        ),
        Field("difference_pct", "float", "share_pct - reference_pct.", "%"),
    ),
)

CROWDING = LayerSpec(
    "crowding",
    "Crowns that meet within a stratum",
    "none",
    (
        Field("stratum", "text", "Stratum."),
        Field("crop", "text", "Crop whose crowns are looked at."),
        Field("with_crop", "text", "Crop of the same stratum that they meet."),
        Field("plants_pct", "float", "Share of its plants whose crown meets one, in the worst month.", "%"),
        Field("overlap_pct", "float", "Share of the crown that is overlapped, mean over plants, in that month.", "%"),
        Field("from_month", "int", "First month in which half of the plants meet one; 0 if never."),
    ),
)

TIMELINE = LayerSpec(
    "timeline",
    "Which crop stands in which bed when",
    "none",
    (
        Field("bed_kind", "text", STRIP_WORDS),
        Field("mixture", "text", "Mixture."),
        Field("planting", "text", "Planting."),
        Field("crop", "text", "Crop code."),
        Field("planting_no", "int", "1 for what the recipe plants, 2, 3, ... where the same places are planted again."),
        Field("beds", "int", "Number of beds."),
        Field("plants", "int", "Number of plants."),
        Field("plant_week", "int", "Week of planting."),
        Field("harvest_from_week", "int", "First week of harvest."),
        Field("harvest_to_week", "int", "Last week of harvest, or the week in which the place is planted again."),
        Field("follows", "text", "Planting that it follows; empty if it starts by the calendar."),
    ),
)

WEEDING = LayerSpec(
    "weeding",
    "Weeding rounds expected in the first 20 weeks",
    "none",
    (
        Field("bed", "text", "Bed id."),
        Field("bare_rounds", "float", "Rounds on bare ground (common practice, no source)."),
        Field("rounds", "float", "Rounds expected under this cover; a part of a round counts as one."),
        Field("closed_month", "int", "First month in which the cover is closed; 0 if never."),
    ),
)

RECIPE_SPECS: tuple[LayerSpec, ...] = (
    CONFLICTS, ROOT_PAIRS, COVER, KIND_COVER, STRATA, CROWDING, TIMELINE, WEEDING,
)  # fmt: skip


@dataclass(frozen=True, eq=False, repr=False)
class RecipeAnalysis(Value):
    """Frames as declared above.

    Attributes
    ----------
    sampling
        Which plants the root and crown figures come from, in words; "all plants" on small fields.
    warnings
        What to know before planting.

    >>> from geoagro import example_layout, read_crop_library, recipe_of
    >>> laid, library = example_layout(), read_crop_library()
    >>> recipe_of(laid, library)
    RecipeAnalysis: conflicts 0 rows; root_pairs 2 rows; cover 680 rows; kind_cover 72 rows; strata 28
      rows; crowding 2 rows; timeline 2 rows; weeding 16 rows; sampling all plants; warnings 0
    """

    LAYERS: ClassVar[Mapping[str, LayerSpec]] = {
        "conflicts": CONFLICTS,
        "root_pairs": ROOT_PAIRS,
        "cover": COVER,
        "kind_cover": KIND_COVER,
        "strata": STRATA,
        "crowding": CROWDING,
        "timeline": TIMELINE,
        "weeding": WEEDING,
    }

    conflicts: pd.DataFrame
    root_pairs: pd.DataFrame
    cover: pd.DataFrame
    kind_cover: pd.DataFrame
    strata: pd.DataFrame
    crowding: pd.DataFrame
    timeline: pd.DataFrame
    weeding: pd.DataFrame
    sampling: str
    warnings: tuple[Finding, ...]

    @property
    def layers(self) -> tuple[tuple[LayerSpec, Any], ...]:
        """What can be written into files: each declaration with its frame."""
        return tuple((spec, getattr(self, spec.name)) for spec in RECIPE_SPECS)
