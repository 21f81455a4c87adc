"""Where in a design file a value stands."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

Location = tuple[str | int, ...]


@dataclass(frozen=True)
class Lines:
    """Line numbers (from 1) of keys and list items, by their place in the tree."""

    places: dict[Location, int]

    def known(self, location: Location) -> Location:
        """Cut a location down to the keys and items that stand in the file.

        Pydantic adds names of its own ("literal['auto']") where a value may be of several kinds.

        >>> Lines({("rows",): 3, ("rows", "bearing_deg"): 4}).known(("rows", "bearing_deg", "float"))
        ('rows', 'bearing_deg')
        """
        kept: Location = ()
        for step in location:
            if (*kept, step) not in self.places:
                break
            kept = (*kept, step)
        return kept

    def at(self, location: Location) -> str:
        """`:9` for a place in the file or the nearest one above it; empty where lines aren't known."""
        line = self.places.get(self.known(location), 0)
        return f":{line}" if line else ""


def parse_key(key: str) -> Location:
    """Take a key in words apart: items count from 1 there, from 0 here.

    >>> parse_key("plantings[2].spacing_m")
    ('plantings', 1, 'spacing_m')
    """
    place: Location = ()
    for part in key.split("."):
        name, *items = re.split(r"\[(\d+)\]", part)
        place = (*place, name, *(int(item) - 1 for item in items if item))
    return place


def dotted(place: Iterable[str | int]) -> str:
    """Write a place as a key in words; items count from 1.

    >>> dotted(("plantings", 1, "crop"))
    'plantings[2].crop'
    """
    text = ""
    for step in place:
        text += f"[{step + 1}]" if isinstance(step, int) else f".{step}" if text else str(step)
    return text
