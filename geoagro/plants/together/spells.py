"""Whether and when plants of two kinds stand at the same time."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from geoagro.arrays import Bools, Ints
from geoagro.values.timeline import Standing, Timeline
from geoagro.values.words import Sentence, say

_FIRST = say("weeks {begin} to {end}")
_LATER = say("weeks {begin} to {end} (plantings no. {one} and {other})")
_FIRST_OF_MORE = say("weeks {begin} to {end}, and again in later plantings, times: {n}")
_LATER_OF_MORE = say(
    "weeks {begin} to {end} (plantings no. {one} and {other}), and again in later plantings, times: {n}"
)


@dataclass(frozen=True)
class Spell:
    """First time at which two kinds stand together: weeks, and how many pairs of rounds meet."""

    begin: int
    end: int
    rounds: tuple[int, int]
    times: int

    def words(self) -> str:
        """Tell the weeks, and the rounds where they aren't the first."""
        told = {
            "begin": self.begin,
            "end": self.end,
            "one": self.rounds[0],
            "other": self.rounds[1],
            "n": self.times - 1,
        }
        first = self.rounds == (1, 1)
        if self.times > 1:
            return Sentence(_FIRST_OF_MORE if first else _LATER_OF_MORE, **told)
        return Sentence(_FIRST if first else _LATER, **told)


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
