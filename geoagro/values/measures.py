"""Figures of a product: what is measured is declared once, and a value is found by that declaration, never by text."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from geoagro.frames import pd
from geoagro.values.layers import Field, LayerSpec
from geoagro.values.words import Sentence, english_number, say

_MOST_DECIMALS, _UNKNOWN_DECIMALS = 4, 2
MEASURE_FIELDS = (
    Field("measure", "text", "Name of the measure."),
    Field("value", "float", "Value in `unit`."),
    Field("unit", "text", "Unit."),
    Field("definition", "text", "How it is computed."),
    Field("key", "text", "Name of the measure for programs; it stays when the words change."),
    Field("at", "float", "What it is measured at, as its words say; empty where there is but one."),
)


@dataclass(frozen=True)
class Quantity:
    """What is measured.

    Attributes
    ----------
    key
        Name for programs.
    words, definition
        Name for people, and how it is computed in a sentence; {at} stands for what it is measured at.
    unit
        Of the value; "share" for a part of 1, which files and pages give in percent.
    told
        Whether short accounts show it.
    endless
        What is said of an infinite value.
    """

    key: str
    words: str
    unit: str
    definition: str
    told: bool = False
    endless: str = say("no limit")

    @property
    def written_unit(self) -> str:
        """Unit in files and on pages."""
        return "%" if self.unit == "share" else self.unit

    def written(self, value: float) -> float:
        """Give a value as files and pages hold it: shares in percent.

        >>> Quantity("covered_pct", "covered", "share", "").written(0.875)
        87.5
        """
        return 100.0 * value if self.unit == "share" else value

    def is_(self, value: float, *, at: float = math.nan) -> Measure:
        """Give it a value."""
        return Measure(self, float(value), at)


@dataclass(frozen=True)
class Measure:
    """A quantity with its value, NaN where unknown; `at` is NaN where the quantity is measured but once."""

    quantity: Quantity
    value: float
    at: float = math.nan

    @property
    def words(self) -> str:
        """Name for people, a sentence that can be said in any language."""
        return Sentence(self.quantity.words, at=self.at)

    @property
    def definition(self) -> str:
        """How it is computed."""
        return Sentence(self.quantity.definition, at=self.at)


@dataclass(frozen=True)
class Measures:
    """Measures of one thing, in the order in which they are told."""

    items: tuple[Measure, ...]

    def __iter__(self) -> Iterator[Measure]:
        """Go through the measures in order."""
        return iter(self.items)

    def __len__(self) -> int:
        """Count the measures."""
        return len(self.items)

    def __contains__(self, quantity: object) -> bool:
        """Tell whether a quantity was measured."""
        return any(m.quantity == quantity for m in self.items)

    def __getitem__(self, quantity: Quantity) -> float:
        """Give the value of a quantity that is measured once; NaN where it wasn't measured."""
        return next((m.value for m in self.items if m.quantity == quantity), math.nan)

    def at(self, quantity: Quantity) -> dict[float, float]:
        """Give the values of a quantity by what it was measured at."""
        return {m.at: m.value for m in self.items if m.quantity == quantity}

    def told(self) -> Measures:
        """Keep those that short accounts show."""
        return Measures(tuple(m for m in self.items if m.quantity.told))

    def frame(self, spec: LayerSpec) -> pd.DataFrame:
        """Write them out as a table with the columns MEASURE_FIELDS."""
        return spec.frame(
            {
                "key": [m.quantity.key for m in self.items],
                "at": [m.at for m in self.items],
                "measure": [m.words for m in self.items],
                "value": [m.quantity.written(m.value) for m in self.items],
                "unit": [m.quantity.written_unit for m in self.items],
                "definition": [m.definition for m in self.items],
            }
        )


def hectares_text(area_m2: float, sd_m2: float = math.nan) -> str:
    """Write an area in hectares, halves up, without a minus before zero; `sd_m2` is the field's (`Site.area_sd_m2`).

    The area is rounded to 0.1 m2 first, as tables are, so that what is measured and what is read from a table give one text.

    >>> hectares_text(51_217.5), hectares_text(-0.3), hectares_text(51_217.5, 23.0)
    ('5.12 ha', '0.00 ha', '5.122 ha')
    """
    return f"{english_number(round(area_m2, 1) / 10_000, hectare_decimals(sd_m2))} ha"


def hectare_decimals(sd_m2: float) -> int:
    """Decimals of hectares that an area with this standard deviation (m2) bears: down to its first digit, 4 at most.

    This is the one rule by which every page and line rounds hectares. Where nothing is known of the error, 2: an are.

    >>> hectare_decimals(120.0), hectare_decimals(23.0), hectare_decimals(2_500.0), hectare_decimals(math.nan)
    (2, 3, 1, 2)
    """
    if math.isnan(sd_m2):
        return _UNKNOWN_DECIMALS
    if sd_m2 <= 0:
        return _MOST_DECIMALS
    return min(max(math.ceil(-math.log10(sd_m2 / 10_000) - 1e-9), 0), _MOST_DECIMALS)
