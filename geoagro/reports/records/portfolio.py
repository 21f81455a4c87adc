"""Many fields added up."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from geoagro.arrays import Shapes
from geoagro.reports.records.account import Account, Caution
from geoagro.values.layers import Field, LayerSpec
from geoagro.values.results.field_result import FIELD_FIGURES

PORTFOLIO_FIELDS = LayerSpec(
    "portfolio_fields",
    "Fields",
    "none",
    (
        Field("field", "text", "Name of the field."),
        Field("parts", "int", "Separate parts of the field."),
        *FIELD_FIGURES,
        Field("survey", "text", "Last survey with a count; empty if none."),
        Field("survival_pct", "float", "Survival of all crops in that survey; empty if none.", "%"),
        Field("crs", "text", "Working CRS of the field."),
    ),
)

PORTFOLIO_CROPS = LayerSpec(
    "portfolio_crops",
    "Crops over all fields",
    "none",
    (
        Field("crop", "text", "Crop code."),
        Field("name", "text", "Name of the crop."),
        Field("habit", "text", "tree, shrub, herb, grass or vine."),
        Field("fields", "int", "Fields in which it stands."),
        Field("plants", "int", "Planting points."),
        Field("share_area_m2", "float", "Its share of the planted beds.", "m2"),
    ),
)


@dataclass(frozen=True, eq=False)
class Portfolio:
    """Many fields added up; each account as it was reported on its own.

    Attributes
    ----------
    accounts
        Of each field; none where the fields come from a store, which keeps their figures only.
    fields, crops
        Tables PORTFOLIO_FIELDS and PORTFOLIO_CROPS.
    cautions
        Of the portfolio, then of each field (with its name).
    outlines
        Array of the fields' outlines in longitude and latitude, in the order of `fields`, where there are no accounts.
    """

    accounts: tuple[Account, ...]
    fields: pd.DataFrame
    crops: pd.DataFrame
    cautions: tuple[tuple[str, Caution], ...]
    outlines: Shapes | None = None

    def total(self, column: str) -> float:
        """Sum of a column of `fields`, to 0.1."""
        return round(float(self.fields[column].sum()), 1)
