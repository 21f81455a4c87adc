"""What an address comes to on the beds of a field, and what it says when it meets nothing."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from functools import cached_property
from typing import Any

import numpy as np
import shapely
from shapely import MultiPolygon
from shapely.geometry.base import BaseGeometry

from geoagro.arrays import Bools, Ints
from geoagro.errors import DesignError
from geoagro.places.alleys import alley_numbers
from geoagro.places.sides import side_ground
from geoagro.values.beds import Beds
from geoagro.values.places import NamedArea, Numbers, Part, Place, Reach
from geoagro.values.rules.bed_kinds import BED_KINDS, EDGE, TREE, VEGETABLE

_REACH = 1.5
"""Beds nearer to each other than this many of the widest gap beside a bed lie in one alley."""


@dataclass(frozen=True)
class Laid:
    """A field as addresses see it.

    Attributes
    ----------
    boundary
        Of the field, working CRS.
    areas
        Drawn and named.
    spacing_m
        Between rows: what `deep` counts in.
    setback_m
        Kept free along the boundary, added to a side's depth.
    path_m
        Narrowest path between beds.
    """

    beds: Beds
    boundary: MultiPolygon
    areas: tuple[NamedArea, ...]
    spacing_m: float
    setback_m: float
    path_m: float

    @cached_property
    def names(self) -> Any:
        """Ids of all beds, tree beds first."""
        return np.concatenate([self.beds.tree_beds["bed"], self.beds.beds["bed"]]).astype(object)

    @cached_property
    def rows(self) -> Ints:
        """Row of each bed."""
        rows: Ints = np.concatenate([self.beds.tree_beds["row"], self.beds.beds["row"]]).astype(np.int64)
        return rows

    @cached_property
    def alleys(self) -> Ints:
        """Alley of each bed; 0 for tree beds."""
        trees = self.beds.tree_beds
        axes = {row: _one_line(pieces["axis"]) for row, pieces in trees.groupby("row")}
        veg = alley_numbers(self.beds.beds, axes, _REACH * max(self.path_m, 0.1) + 0.1)
        return np.concatenate([np.zeros(len(trees), dtype=np.int64), veg])

    @cached_property
    def kinds(self) -> Any:
        """Kind of each bed: tree, vegetable, or edge where no row faces."""
        veg = np.where(self.beds.beds["facing_row"].to_numpy() == 0, EDGE.code, VEGETABLE.code).astype(object)
        return np.concatenate([np.full(len(self.beds.tree_beds), TREE.code, dtype=object), veg])


def _one_line(axes: Any) -> Any:
    """Axes of the tree beds of one row, in their order, as one line."""
    return axes.iloc[0] if len(axes) == 1 else shapely.linestrings(shapely.get_coordinates(axes.to_numpy()))


def resolve(places: Sequence[Place], laid: Laid, key: str) -> Reach:
    """Find what an address means on laid beds.

    Raises DesignError, beginning with `key`, where a number, id or name doesn't exist (with the nearest that do), or
    where all of it together meets no bed.
    """
    one = len(places) == 1
    parts = tuple(_part(place, laid, key if one else f"{key}[{n}]") for n, place in enumerate(places, 1))
    return Reach(parts)


def drawn_place(places: Sequence[Place], laid: Laid, key: str) -> BaseGeometry:
    """Ground of an address that names areas and sides only, in the field's CRS; errors as in `resolve`."""
    shapes = [_area(place, laid, key) for place in places]
    return shapely.intersection(shapely.union_all([shape for shape in shapes if shape is not None]), laid.boundary)


def check_drawn(places: Sequence[Place], laid: Laid, key: str) -> Iterator[tuple[Any, str]]:
    """Ground of the areas and sides that an address names, with the key of each; errors as in `resolve`.

    What an address leaves out is looked at too, but needs no ground.
    """
    for number, place in enumerate(places, 1):
        at = key if len(places) == 1 else f"{key}[{number}]"
        shape = _area(place, laid, at)
        if shape is not None:
            yield shape, at
        for _ in check_drawn(place.but_not, laid, f"{at}.except"):
            pass


def _part(place: Place, laid: Laid, key: str) -> Part:
    mask = np.ones(len(laid.names), dtype=bool)
    if place.rows is not None:
        mask &= numbered(place.rows, laid.rows, f"{key}.rows", "rows")
    if place.alleys is not None:
        mask &= numbered(place.alleys, laid.alleys, f"{key}.alleys", "alleys") & (laid.alleys > 0)
    if place.beds:
        mask &= _named_beds(place.beds, laid, f"{key}.beds")
    area = _area(place, laid, key)
    if area is not None:
        shapes = np.concatenate([laid.beds.tree_beds.geometry, laid.beds.beds.geometry])
        shapely.prepare(area)
        mask &= shapely.intersects(area, shapes)
    if not mask.any():
        raise DesignError(f"{key}: no bed lies there. {_holds(laid)}")
    but_not = tuple(_part(other, laid, f"{key}.except") for other in place.but_not)
    return Part(frozenset(laid.names[mask].tolist()), area, but_not)


def numbered(text: str, numbers: Ints, key: str, what: str) -> Any:
    """Mask of the `numbers` of rows or alleys (`what`) that a text means; DesignError for one that doesn't exist."""
    asked = Numbers.of(text)
    existing = np.unique(numbers[numbers > 0])
    for low, high in asked.ranges:
        absent = [n for n in (low, high) if n not in existing]
        if absent and not (what == "rows" and ((existing >= low) & (existing <= high)).any()):
            near = existing[np.argmin(np.abs(existing - absent[0]))] if len(existing) else 0
            raise DesignError(
                f"{key}: {absent[0]} doesn't exist; {what} here are {_ranges(existing)}, the nearest is {near}."
            )
    return asked.holds(numbers)


def _ranges(numbers: Ints) -> str:
    """Write numbers as ranges.

    >>> _ranges(np.array([1, 2, 3, 7]))
    '1-3, 7'
    """
    if not len(numbers):
        return "none"
    groups = np.split(numbers, np.flatnonzero(np.diff(numbers) > 1) + 1)
    return ", ".join(f"{g[0]}-{g[-1]}" if len(g) > 1 else f"{g[0]}" for g in groups)


def _named_beds(names: Iterable[str], laid: Laid, key: str) -> Bools:
    mask = np.zeros(len(laid.names), dtype=bool)
    for name in names:
        found = laid.kinds == name if name in BED_KINDS else laid.names == name
        for kind in BED_KINDS.values():  # a kind of strip means those at the edge too
            found = found | (laid.kinds == kind.code) if kind.strips == name else found
        if not found.any():
            raise DesignError(f"{key}: bed '{name}' doesn't exist here. {_nearest(name, [*laid.names, *BED_KINDS])}")
        mask |= found
    return mask


def _area(place: Place, laid: Laid, key: str) -> BaseGeometry | None:
    found = []
    if place.area:
        found.append(shapely.union_all([_named_area(name, laid.areas, f"{key}.area") for name in place.area]))
    if place.side is not None:
        depth = laid.setback_m + place.deep * laid.spacing_m
        found.append(side_ground(laid.boundary, place.side, depth, key=f"{key}.side"))
    return shapely.intersection_all(found) if found else None


def _named_area(name: str, areas: Sequence[NamedArea], key: str) -> BaseGeometry:
    for area in areas:
        if area.name == name:
            return area.shape
    raise DesignError(
        f"{key}: no area is named '{name}'. {_nearest(name, [a.name for a in areas])} Draw it and name it under inputs.areas."
    )


def _nearest(name: str, names: Sequence[str]) -> str:
    close = get_close_matches(name, names, n=3, cutoff=0.5)
    return (
        f"The nearest {'is' if len(close) == 1 else 'are'} {', '.join(close)}."
        if close
        else "Nothing is named like it."
    )


def _holds(laid: Laid) -> str:
    rows = np.unique(laid.rows)
    return f"This field has rows {_ranges(rows)} with {len(laid.names)} beds."
