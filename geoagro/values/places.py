"""Addresses: one way to say where in a field something holds, and what an address comes to on laid beds."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated, Any, Literal

import numpy as np
import shapely
from pydantic import BeforeValidator, Field, model_validator
from shapely.geometry.base import BaseGeometry

from geoagro.arrays import Bools, Floats, Ints, Texts
from geoagro.values.model import Model

Side = Literal["north", "east", "south", "west"]

_RANGE = re.compile(r"(\d+)(?:\s*-\s*(\d+))?")
_EVERY = re.compile(r"every\s+(\d+)(?:st|nd|rd|th)?(?:\s+from\s+(\d+))?")


@dataclass(frozen=True)
class Numbers:
    """Numbers of rows or alleys: ranges, first and last of each, or every n-th from a first one."""

    ranges: tuple[tuple[int, int], ...]
    every: int = 0
    first: int = 1

    @classmethod
    def of(cls, text: str) -> Numbers:
        """Read "1-10, 14", "every 2" or "every 2 from 3"; ValueError for anything else.

        >>> Numbers.of("1-3, 7").ranges
        ((1, 3), (7, 7))
        """
        if step := _EVERY.fullmatch(text.strip()):
            if int(step[1]) < 1:
                raise ValueError("'every 0' takes nothing; write 'every 2'")
            return cls((), int(step[1]), int(step[2] or 1))
        found = [_RANGE.fullmatch(part.strip()) for part in text.split(",")]
        ranges = tuple((int(m[1]), int(m[2] or m[1])) for m in found if m)
        if len(ranges) < len(found):
            raise ValueError(f"'{text}' names no numbers; write 5, [1-10, 14], 'every 2' or 'every 2 from 3'")
        if wrong := next(((a, b) for a, b in ranges if a > b), None):
            raise ValueError(f"{wrong[0]}-{wrong[1]} runs backward; write {wrong[1]}-{wrong[0]}")
        return cls(ranges)

    def holds(self, numbers: Any) -> Any:
        """Mask of the numbers that are meant."""
        given = np.asarray(numbers)
        if self.every:
            return (given >= self.first) & ((given - self.first) % self.every == 0)
        mask = np.zeros(given.shape, dtype=bool)
        for low, high in self.ranges:
            mask |= (given >= low) & (given <= high)
        return mask


def _as_text(value: Any) -> Any:
    """Join what YAML makes of numbers: 5, [1-10, 14], "1-10, 14"."""
    if isinstance(value, bool):
        return value
    if isinstance(value, int):
        return str(value)
    if isinstance(value, list | tuple) and value and all(isinstance(v, int | str) for v in value):
        return ", ".join(str(v) for v in value)
    return value


def _checked(value: Any) -> Any:
    text = _as_text(value)
    if isinstance(text, str):
        Numbers.of(text)
    return text


def _as_list(value: Any) -> Any:
    return [value] if isinstance(value, str | Mapping) else value


NumberText = Annotated[str, BeforeValidator(_checked, json_schema_input_type=int | str | list[int | str])]
Names = Annotated[tuple[str, ...], BeforeValidator(_as_list, json_schema_input_type=str | list[str])]


class Place(Model):
    """A place in the field. All that is given must hold at once; a list of places holds where one of them does."""

    rows: NumberText | None = Field(None, description="Row numbers: 5, [1-10, 14], 'every 2 from 3'.")
    alleys: NumberText | None = Field(
        None, description="Alleys, numbered from the top (1 lies above the first row): [2, 4-6], 'every 2'."
    )
    beds: Names = Field((), description="Beds by id (R012-U1) or kind (tree, vegetable, edge).")
    side: Side | None = Field(None, description="Along this side of the field, `deep` rows wide.")
    deep: Annotated[int, Field(ge=1)] = Field(1, description="How many row spacings `side` reaches into the field.")
    area: Names = Field((), description="Names of drawn areas (`inputs.areas`).")
    but_not: Annotated[tuple[Place, ...], BeforeValidator(_as_list, json_schema_input_type="Place | list[Place]")] = (
        Field((), alias="except", description="Places that are left out.")
    )

    @model_validator(mode="after")
    def _says_something(self) -> Place:
        if not (self.rows or self.alleys or self.beds or self.side or self.area or self.but_not):
            raise ValueError("say where: rows, alleys, beds, side, area or except")
        if self.side is None and self.deep != 1:
            raise ValueError("deep goes with side")
        return self


Places = Annotated[tuple[Place, ...], BeforeValidator(_as_list, json_schema_input_type=Place | list[Place])]


@dataclass(frozen=True, eq=False)
class Part:
    """One place on laid beds.

    Attributes
    ----------
    beds
        Ids of the beds meant.
    area
        Ground meant, in the working CRS; None for all of the beds.
    but_not
        What is left out.
    """

    beds: frozenset[str]
    area: Any | None = None
    but_not: tuple[Part, ...] = ()

    def holds(self, names: Texts | Sequence[str], bed: Ints, xy: Floats) -> Bools:
        """Mask of points (n, 2) that lie in the place; `bed` says on which of the beds `names` each of them is."""
        mask = np.array([name in self.beds for name in names], dtype=bool)[bed]
        if self.area is not None and mask.any():
            mask[mask] = shapely.intersects_xy(self.area, xy[mask, 0], xy[mask, 1])
        for part in self.but_not:
            mask &= ~part.holds(names, bed, xy)
        return mask


@dataclass(frozen=True)
class Reach:
    """What an address comes to: it holds where one of its parts does, all of `inside` and none of `outside`."""

    parts: tuple[Part, ...]
    inside: tuple[Reach, ...] = ()
    outside: tuple[Reach, ...] = ()

    @property
    def beds(self) -> frozenset[str]:
        """Beds of which the address may hold a part."""
        found: frozenset[str] = frozenset().union(*(part.beds for part in self.parts))
        return found.intersection(*(reach.beds for reach in self.inside))

    def holds(self, names: Texts | Sequence[str], bed: Ints, xy: Floats) -> Bools:
        """Mask of points (n, 2) where the address holds; `bed` says on which of the beds `names` each of them is."""
        mask = np.zeros(len(xy), dtype=bool)
        for part in self.parts:
            mask |= part.holds(names, bed, xy)
        for reach in self.inside:
            mask &= reach.holds(names, bed, xy)
        for reach in self.outside:
            mask &= ~reach.holds(names, bed, xy)
        return mask


@dataclass(frozen=True)
class NamedArea:
    """A drawn area with its name, in the working CRS."""

    name: str
    shape: BaseGeometry
