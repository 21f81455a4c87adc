"""Whether and when plants of two kinds stand at the same time."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from geoagro.arrays import Bools, Ints
from geoagro.values.timeline import Standing, Timeline


@dataclass(frozen=True)
class Spell:
    """First time at which two kinds stand together: weeks, and how many pairs of rounds meet."""

    begin: int
    end: int
    rounds: tuple[int, int]
    times: int

    def words(self) -> str:
        """Tell the weeks, and the rounds where they aren't the first."""
        later = "" if self.rounds == (1, 1) else f" (plantings no. {self.rounds[0]} and {self.rounds[1]})"
        more = f", and {self.times - 1} times more in later plantings" if self.times > 1 else ""
        return f"weeks {self.begin} to {self.end}{later}{more}"


def spell(one: Standing, other: Standing) -> Spell | None:
    """First spell of two kinds; None where they never stand together: what is planted as the other ends follows it."""
    met = [
        (max(a.plant_week, b.plant_week), min(a.end_week, b.end_week), (a.round, b.round))
        for a in one.stays
        for b in other.stays
        if a.plant_week < b.end_week and b.plant_week < a.end_week
    ]
    return Spell(*min(met), len(met)) if met else None


class Spells:
    """Spells of the kinds of a timeline, each pair worked out once."""

    def __init__(self, timeline: Timeline) -> None:
        self.timeline = timeline
        self._known: dict[tuple[int, int], Spell | None] = {}

    def of(self, first: int, second: int) -> Spell | None:
        """Spell of two kinds, by number."""
        if (first, second) not in self._known:
            self._known[first, second] = spell(self.timeline.kinds[first], self.timeline.kinds[second])
        return self._known[first, second]

    def meet(self, first: Ints, second: Ints) -> Bools:
        """Say for each pair of plants, by the numbers of their kinds, whether they ever stand together.

        Plants of one kind always do.
        """
        count = len(self.timeline.kinds)
        pairs, pair = np.unique(first * count + second, return_inverse=True)
        met = [a == b or self.of(a, b) is not None for a, b in (divmod(int(p), count) for p in pairs)]
        found: Bools = np.array(met, dtype=bool)[pair]
        return found
