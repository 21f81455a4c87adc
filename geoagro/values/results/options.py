"""Options side by side: what is compared, and what one option came to."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any, Literal

from geoagro.values.measures import Quantity
from geoagro.values.words import say

Better = Literal["high", "low", ""]
"""Whether more or less of it is better, all else equal; empty where that is for the designer to say."""


@dataclass(frozen=True)
class Compared:
    """A figure that options are compared by."""

    quantity: Quantity
    better: Better = ""

    @property
    def key(self) -> str:
        """Name for programs."""
        return self.quantity.key


FIELD_HA = Compared(Quantity("field_ha", say("field"), "ha", "Area inside the boundary, on the map plane."))
PLANTABLE_HA = Compared(
    Quantity("plantable_ha", say("plantable"), "ha", "Ground that may be planted, on the map plane."), "high"
)
BED_SHARE_OF_FIELD = Compared(
    Quantity("beds_of_field_pct", say("beds of field"), "share", "Tree beds and vegetable beds over the field."), "high"
)
PLANTS_AT_ONCE = Compared(
    Quantity("plants_at_once", say("plants at once"), "", "Plants in the week in which most stand.")
)
PLANTS_IN_ALL = Compared(
    Quantity(
        "plants_in_all", say("plants, repeats included"), "", "Every planting of a place, repeats of the season too."
    )
)
ENDS_PER_PLANTED_HA = Compared(
    Quantity("row_ends_per_planted_ha", say("row ends per planted ha"), "1/ha", "Two per row, over beds and paths."),
    "low",
)
IN_OWN_LIMITS = Compared(
    Quantity(
        "in_own_limits_pct", say("in limits"), "share", "Plantable ground with rows that hold the option's own limits."
    ),
    "high",
)
INNER_LOW_POINTS = Compared(
    Quantity(
        "inner_low_points",
        say("inner low points"),
        "",
        "Low points along rows, between their ends, of 0.15 m or deeper.",
    ),
    "low",
)
LONGEST_ONE_WAY = Compared(
    Quantity("longest_one_way_m", say("longest way of water"), "m", "Longest way that water runs one way along a row."),
    "low",
)
WORK_FIRST_YEAR = Compared(
    Quantity("work_first_year_h", say("work, first year"), "h", "Hours of the season plan in the first year, likely."),
    "low",
)
NET_VALUE = Compared(
    Quantity("net_value", say("net present value"), "money", "Net present value of the season plan, all likely."),
    "high",
)
DEEPEST_BALANCE = Compared(
    Quantity("deepest_balance", say("deepest balance"), "money", "Lowest running balance of the season plan, likely."),
    "high",
)


@dataclass(frozen=True)
class OptionResult:
    """What one option came to.

    Attributes
    ----------
    name
        Of the design, or the settings that were varied.
    design_file
        As it was given.
    settings
        Keys that were varied, with their values as text.
    state
        Checksum of design, input files and program version: the same state needn't be laid out again.
    figures
        By key of the quantity, shares in percent; NaN or absent where unknown.
    currency
        Of the figures in money; empty without a season.
    outline, rows
        Rings of the field and lines of the rows, each a list of (east, north) rounded to a decimetre, for a small map.
    problem
        Why it couldn't be laid out; empty where it could.
    """

    name: str
    design_file: str
    settings: dict[str, str]
    state: str
    figures: dict[str, float] = field(default_factory=dict)
    currency: str = ""
    outline: list[list[tuple[float, float]]] = field(default_factory=list)
    rows: list[list[tuple[float, float]]] = field(default_factory=list)
    problem: str = ""

    def value(self, compared: Compared) -> float:
        """Return the value of a figure, NaN where it isn't known."""
        found = self.figures.get(compared.key)
        return math.nan if found is None else float(found)

    def data(self) -> dict[str, Any]:
        """Everything as plain data, unknown figures as None."""
        figures = {key: None if math.isnan(v) else v for key, v in self.figures.items()}
        return self.__dict__ | {"figures": figures}
