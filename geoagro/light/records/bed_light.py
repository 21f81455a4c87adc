"""Light that trees leave on every bed, as a layer and a table."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from geoagro.values.layers import Field, LayerSpec

YEARS = (1, 2, 3, 5, 8, 12, 20)
"""Years of age that are told; between them light falls evenly enough."""

LIGHT_CLASSES = ("over 85", "70 to 85", "50 to 70", "30 to 50", "under 30")

BED_LIGHT = LayerSpec(
    "bed_light",
    "Light on beds",
    "Polygon",
    (
        Field("bed", "text", "Bed id."),
        Field("row", "int", "Tree row that the bed is measured from."),
        Field("side", "text", "'up' or 'down' of its row."),
        *(
            Field(
                f"year_{year}_pct",
                "float",
                f"Light on its ground in year {year}, mean of the months, of open ground's.",
                "%",
            )
            for year in YEARS
        ),
        Field("light_class", "text", "Class of the light in year 5, % of open ground's."),
        Field("darkest_month", "int", "Calendar month with the least light, in the last of these years."),
        Field("darkest_pct", "float", "Light in that month.", "%"),
    ),
)

LIGHT_MONTHS = LayerSpec(
    "light_months",
    "Light on beds by month",
    "none",
    (
        Field("year", "int", "Year from the start of the design."),
        Field("month", "int", "Calendar month."),
        Field("low_pct", "float", "Light that one bed in ten falls short of, by area.", "%"),
        Field("mean_pct", "float", "Mean of all vegetable beds by area.", "%"),
        Field("high_pct", "float", "Light that one bed in ten exceeds, by area.", "%"),
    ),
)


@dataclass(frozen=True, eq=False)
class BedLight:
    """Frames as declared above.

    Attributes
    ----------
    first_month
        Calendar month in which each year begins.
    basis
        What it rests on, in words.
    """

    beds: pd.DataFrame
    months: pd.DataFrame
    first_month: int
    basis: str
