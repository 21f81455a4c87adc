"""What the user says of a claim: the programme's rule on eligible ground, its list of native kinds, photos, receivers."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

from pydantic import AfterValidator, Field, model_validator

from geoagro.values.model import Day, Model, Name, Percent
from geoagro.values.reasons import REASONS
from geoagro.values.rules.renamed import new_name

STRIPS_OF_GROUND = ("tree_beds", "vegetable_beds", "paths")
"""Kinds of ground that a layout lays; what it leaves goes by its reason."""
GROUPS = ("excluded", "unplanted")
"""All reasons for which no row may stand, and all for which plantable ground is left."""

Amount = Annotated[float, Field(ge=0, allow_inf_nan=False)]


def _known_ground(value: str) -> str:
    if moved := new_name("value", value):
        raise ValueError(f"'{value}' {moved.removesuffix('.')}")
    if value not in (*STRIPS_OF_GROUND, *GROUPS, *REASONS):
        raise ValueError(
            f"'{value}' is no kind of ground; write {', '.join((*STRIPS_OF_GROUND, *GROUPS))}, or a reason such as setback"
        )
    return value


Ground = Annotated[str, AfterValidator(_known_ground)]


class EligibleRule(Model):
    """A programme's rule as the user read it: which ground counts, and what each parcel must keep.

    Nothing is assumed: a limit that is left out isn't looked at. A parcel that breaks a limit counts nothing.
    """

    ground: Annotated[tuple[Ground, ...], Field(min_length=1)] = Field(
        description="Kinds of ground that count: tree_beds, vegetable_beds, paths, unplanted, excluded, or single reasons such as setback."
    )
    planted_only: bool = Field(False, description="Beds that carry no plant don't count.")
    measured: Literal["map", "ellipsoid"] = Field("map", description="Areas that the sums are claimed in.")
    trees: tuple[str, ...] = Field(
        (), description="Crops that the programme counts as trees; those with habit tree if left out."
    )
    min_trees_per_ha: Amount | None = Field(None, description="Fewest trees per hectare of a parcel.")
    max_trees_per_ha: Amount | None = Field(None, description="Most trees per hectare of a parcel.")
    canopy_year: Annotated[int, Field(ge=0, le=200)] | None = Field(
        None, description="Years after the start at which crowns are judged; needed for a limit on canopy."
    )
    min_canopy_pct: Percent | None = Field(None, description="Least share of a parcel under the crowns of trees.")
    max_canopy_pct: Percent | None = Field(None, description="Largest share of a parcel under the crowns of trees.")
    min_native_pct: Percent | None = Field(None, description="Least share of native trees, by report.native.")
    min_tree_species: Annotated[int, Field(ge=1)] | None = Field(None, description="Fewest species of trees.")
    min_parcel_m2: Amount | None = Field(None, description="Smallest parcel that is taken.")
    min_counted_m2: Amount | None = Field(None, description="Least ground that must count in a parcel.")

    @model_validator(mode="after")
    def _limits_fit(self) -> EligibleRule:
        for low, high in (("min_trees_per_ha", "max_trees_per_ha"), ("min_canopy_pct", "max_canopy_pct")):
            one, other = getattr(self, low), getattr(self, high)
            if one is not None and other is not None and one > other:
                raise ValueError(f"{low} must not be above {high}")
        asks = self.min_canopy_pct is not None or self.max_canopy_pct is not None
        if asks != (self.canopy_year is not None):
            raise ValueError("a limit on canopy and canopy_year go together: crowns are judged at an age")
        return self


class PhotoSource(Model):
    """Points where photos were taken."""

    file: Path = Field(
        description="Table of points with columns photo, bearing_deg, date, shows; x and y, or lon and lat."
    )
    layer: str | None = Field(None, description="Layer inside the file; needed where there are several.")
    crs: str | None = Field(None, description="CRS of the file where it states none, e.g. 'EPSG:4326'.")


class BoundarySurvey(Model):
    """Who surveyed the boundary, when and with what."""

    by: Name | None = Field(None, description="Who surveyed it.")
    day: Day | None = Field(None, description="Day of the survey, e.g. 2026-11-03.")
    receiver: Name | None = Field(None, description="Receiver, and how it was corrected.")


class Native(Model):
    """The list by which kinds are native: names, or a file of names."""

    names: tuple[str, ...] = Field((), description="Scientific names of native kinds.")
    file: Path | None = Field(None, description="Text or CSV file, a scientific name first in each line.")
    source: Name | None = Field(None, description="Whose list it is; printed beside the answer.")

    @model_validator(mode="after")
    def _one_list(self) -> Native:
        if bool(self.names) == (self.file is not None):
            raise ValueError("give the native kinds either as `names` or as `file`")
        return self
