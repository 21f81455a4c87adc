"""Where in a design file a value stands."""

from __future__ import annotations

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
