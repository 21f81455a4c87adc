"""What stands where and when: every place of the layout with all its stays, computed once and read by every figure."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np

from geoagro.arrays import Ints
from geoagro.frames import pd
from geoagro.values.recipe import Crop
from geoagro.values.rules.bed_kinds import lasts
from geoagro.values.rules.care import WEEKS_PER_YEAR, bears_for_years, coppice_weeks, pruning_weeks
from geoagro.values.season import CropSeason, Repeat, SeasonRule

KEYS = ("bed_kind", "mixture", "planting", "crop", "plant_week", "harvest_from_week", "harvest_to_week")
_NO_SEASON = SeasonRule(years=1)
_UNKNOWN = {
    **dict.fromkeys(("bed_kind", "mixture", "planting", "crop"), ""),
    **dict.fromkeys(("plant_week", "harvest_from_week"), 0),
    "harvest_to_week": 100_000,
}
"""Plants without times stand from the start on."""


@dataclass(frozen=True)
class Stay:
    """One round on a place, in weeks from the start of the design.

    Attributes
    ----------
    round
        1 for what the recipe plants; 2, 3, ... for repeats on the same place. What takes turns with other plantings has the
        round of the beds.
    end_week
        The place is empty after this week: the last harvest, or earlier where it is planted again before that.
    life_end_week
        Last week of harvest, had it not been planted again.
    prunings
        Weeks in which it is cut back.
    coppicings
        Weeks in which it is cut to the stump.
    """

    round: int
    plant_week: int
    harvest_from_week: int
    end_week: int
    life_end_week: int
    prunings: tuple[int, ...] = ()
    coppicings: tuple[int, ...] = ()

    def stands(self, week: float) -> bool:
        """Say whether it stands in a week; the weeks of planting and of the last harvest count."""
        return self.plant_week <= week <= self.end_week

    def size(self, week: float, full_weeks: float, kept: float = 1.0) -> float:
        """Share of the full size in a week in which it stands: grows evenly with age.

        A pruning takes it back to the share `kept`, cutting to the stump to nothing; from there it grows on as fast as
        before.
        """
        size = min(1.0, (week - self.plant_week) / full_weeks)
        for cuts, left in ((self.prunings, kept), (self.coppicings, 0.0)):
            number = bisect_right(cuts, week)
            if number:
                size = min(size, left + (week - cuts[number - 1]) / full_weeks)
        return size

    @property
    def bears(self) -> bool:
        """False where the place is planted again before the first harvest."""
        return self.harvest_from_week <= self.end_week


@dataclass(frozen=True)
class Standing:
    """All places of one crop of one planting; their stays don't overlap."""

    bed_kind: str
    mixture: str
    planting: str
    crop: str
    places: int
    stays: tuple[Stay, ...]

    def stay_at(self, week: float) -> Stay | None:
        """Give the stay of a week; where one ends with the planting of the next, the next."""
        return next((stay for stay in reversed(self.stays) if stay.stands(week)), None)


@dataclass(frozen=True, eq=False)
class Timeline:
    """What stands where and when.

    Attributes
    ----------
    kinds
        In order of bed kind, mixture, planting, crop and week of planting.
    kind
        Index into `kinds` of each plant, in the order of layer PLANTS.
    """

    kinds: tuple[Standing, ...]
    kind: Ints

    @classmethod
    def of(
        cls,
        plants: Any,
        crops: Mapping[str, Crop] | None = None,
        season: SeasonRule | None = None,
        *,
        start: date | None = None,
        weights: str | None = None,
    ) -> Timeline:
        """Work out all stays from a frame of layer PLANTS, which holds the first stay of each place.

        Without `season` nothing is repeated. With it, vegetable beds are planted again as `season.vegetables` says,
        perennials aside, as long as a round begins within the plan. `start` is the day on which week 0 begins, for
        what is done in named months. With `weights`, a column's name, each line of `plants` stands for so many.
        """
        if not len(plants):
            return cls((), np.zeros(0, dtype=np.int64))
        rule = season or _NO_SEASON
        keys, kind = _alike(_known(plants[name], _UNKNOWN[name]) for name in KEYS)
        each = None if weights is None else plants[weights].to_numpy()
        sizes = np.bincount(kind, weights=each, minlength=len(keys))
        kinds = tuple(
            _standing(key, round(count), crops or {}, rule, repeats=season is not None, start=start)
            for key, count in zip(keys, sizes.tolist(), strict=True)
        )
        return cls(kinds, kind)

    def standing(self, week: float, crop: str | None = None) -> int:
        """Count the plants that stand in a week, of all crops or of one."""
        return sum(
            kind.places for kind in self.kinds if (crop is None or kind.crop == crop) and kind.stay_at(week) is not None
        )

    def most_at_once(self, crop: str | None = None) -> int:
        """Count the plants in the week in which most stand."""
        weeks = {stay.plant_week for kind in self.kinds for stay in kind.stays}
        return max((self.standing(week, crop) for week in weeks), default=0)

    def all_plantings(self, crop: str | None = None) -> int:
        """Count every planting of a place, repeats too."""
        return sum(kind.places * len(kind.stays) for kind in self.kinds if crop is None or kind.crop == crop)

    @property
    def last_week(self) -> int:
        """Last week in which a further round is planted; 0 where there is one round."""
        return max((kind.stays[-1].plant_week for kind in self.kinds if len(kind.stays) > 1), default=0)


def _known(column: pd.Series, otherwise: Any) -> pd.Series:
    if not column.hasnans:
        return column
    return (column.astype(object) if isinstance(column.dtype, pd.CategoricalDtype) else column).fillna(otherwise)


def _alike(columns: Iterable[pd.Series]) -> tuple[list[tuple[Any, ...]], Ints]:
    """Tell which values stand together in a line, in order of the columns, and for each line the number of its own.

    Column after column, lines are told apart a little more: with millions of plants a table's own grouping takes as many
    whole numbers for each plant as there are columns.
    """
    keys: list[tuple[Any, ...]] = [()]
    number: Ints | None = None
    for column in columns:
        own, values = pd.factorize(column, sort=True)
        number = np.zeros(len(own), dtype=np.int64) if number is None else number
        number *= len(values)
        number += own
        there = np.bincount(number, minlength=len(keys) * len(values)) > 0
        keys = [(*keys[k // len(values)], values[k % len(values)]) for k in np.flatnonzero(there).tolist()]
        number = (np.cumsum(there) - 1)[number]
    assert number is not None  # KEYS aren't empty
    return keys, number


def _standing(
    key: tuple[Any, ...],
    count: int,
    crops: Mapping[str, Crop],
    rule: SeasonRule,
    *,
    repeats: bool,
    start: date | None,
) -> Standing:
    bed_kind, mixture, planting, code, *weeks = key
    crop, own = crops.get(code), rule.crops.get(code, CropSeason())
    again = repeats and not lasts(str(bed_kind)) and not (crop is not None and bears_for_years(crop, own))
    every = rule.vegetables.by_planting.get(str(planting), rule.vegetables.every_weeks)
    starts = list(_starts(int(weeks[0]), every, rule.vegetables, rule.years)) if again else [int(weeks[0])]
    stays = []
    for k, begin in enumerate(starts):
        first, last = (begin + int(week) - int(weeks[0]) for week in weeks[1:])
        end = min(last, starts[k + 1]) if k + 1 < len(starts) else last
        cuts = (pruning_weeks(begin, end, crop, own, start), coppice_weeks(begin, end, own)) if crop else ((), ())
        turns = again and every != rule.vegetables.every_weeks
        stays.append(Stay(begin // rule.vegetables.every_weeks + 1 if turns else k + 1, begin, first, end, last, *cuts))
    return Standing(str(bed_kind), str(mixture), str(planting), str(code), count, tuple(stays))


def _starts(first: int, every: int, repeat: Repeat, years: int) -> Iterator[int]:
    """Weeks in which the rounds begin that lie within the years of the repeat and of the plan.

    What takes turns with others (its own interval) is counted from the round of the beds in which it begins.
    """
    begun = first // repeat.every_weeks * repeat.every_weeks if every != repeat.every_weeks else 0
    rounds = 1 + max(52 * repeat.years - begun - 1, 0) // every
    for k in range(rounds):
        start = first + k * every
        if k == 0 or start <= years * WEEKS_PER_YEAR:
            yield start
