"""Put together what is best of many sets of rows, patch by patch, for as long as it gains."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import compress

import numpy as np
import shapely

from geoagro.arrays import Floats
from geoagro.rows.candidates import Candidate, cut_or_eased, with_best_ends
from geoagro.rows.stitching.maps import RowMap, cells_of, row_map
from geoagro.rows.stitching.place_by_place import AROUND_M, where_it_wins, worth_around
from geoagro.rows.stitching.seams import SEAMS, Patch, patches
from geoagro.rows.stitching.smoothing import smoothed
from geoagro.rows.stitching.splice import spliced, zone_of
from geoagro.rows.stitching.variants import VARIANTS, Variant, variants_of
from geoagro.rows.task import Task

APART_M = 40.0
"""Patches of one round lie this far apart, so that each can be judged by itself."""
NUDGES = 12
LEAST_WORTH = 0.001
"""Variants of the best set, all of them in turn, are tried until they win less than this share of the ground."""
MOST_DONORS = 40
"""So many sets are kept at the most; a set takes a few megabytes a hectare."""


class Stitching:
    """A best set of rows, and all others that it may be mended from."""

    def __init__(self, best: Candidate, donors: Sequence[Candidate], task: Task) -> None:
        self._task, self._cells = task, cells_of(task.plantable)
        self.best, self._mine = best, row_map(best, task, self._cells)
        self._donors: list[Candidate] = []
        self._maps: list[RowMap | None] = []
        self._known = self._rounds = 0
        self._failed: set[tuple[int, ...]] = set()
        for donor in donors:
            self.add(donor)

    def add(self, donor: Candidate) -> None:
        """Take a set of rows among those that patches may come from."""
        self._donors.append(donor)
        self._maps.append(row_map(donor, self._task, self._cells))
        there = [k for k, drawn in enumerate(self._maps) if drawn is not None]
        if len(there) > MOST_DONORS:
            # patches know their donor by its number, so its place stays, with another set in it: the memory is free
            worst, finest = (choose(there, key=lambda k: self._donors[k].worth) for choose in (min, max))
            self._maps[worst], self._donors[worst] = None, self._donors[finest]

    def settle(self) -> None:
        """Hold all donors so far for tried: until something wins, only new ones are looked at."""
        self._known = len(self._donors)

    def round(self) -> bool:
        """Try the best patches of all donors at once; tells whether the set is worth more since."""
        chosen = self._chosen()
        self._rounds += 1
        if not chosen:
            return False
        tried, good = where_it_wins(
            len(chosen), lambda some: self._with(list(compress(chosen, some))), lambda found: self._won(found, chosen)
        )
        better = good.any() and tried.worth > self.best.worth
        self._failed |= {_mark(patch) for patch, won in zip(chosen, good, strict=True) if not (won and better)}
        if not better:
            return False
        self.stand_on(tried)
        return True

    def stand_on(self, found: Candidate) -> None:
        """Go on from another set; all donors may win again."""
        self.best, self._mine, self._known = found, row_map(found, self._task, self._cells), 0

    def _patches(self, donors: Iterable[int], kind: int) -> list[Patch]:
        """Return what some donors offer, those first that are held to win most."""
        found: list[Patch] = []
        for k in donors:
            other = self._maps[k]
            if other is not None and self._donors[k] is not self.best:
                found += patches(self._mine, other, self._cells, self._task.rule.spacing_m, donor=k, kind=kind)
        return sorted(found, key=lambda p: (-round(p.gain_m, 6), p.donor))

    def _chosen(self) -> list[Patch]:
        """Patches that are held to win most, away from each other and from what failed before."""
        offered = self._patches(range(self._known, len(self._maps)), self._rounds)
        return _apart(patch for patch in offered if _mark(patch) not in self._failed)

    def _with(self, chosen: Sequence[Patch]) -> Candidate:
        rows = spliced(self.best.held.kept, [d.held.kept for d in self._donors], chosen)
        rows = smoothed(rows, zone_of(chosen), self._task, NUDGES)
        donors = sorted({patch.donor for patch in chosen})
        tried = with_best_ends(cut_or_eased(rows, self._task, self.best.held.kept), self._task)
        return tried.after(self.best, *(self._donors[k].held.cut for k in donors))

    def _won(self, tried: Candidate, chosen: Sequence[Patch]) -> Floats:
        """Metres of legal row, less the cost of row ends, that each patch and its surroundings won."""
        areas = shapely.buffer(np.array([patch.area for patch in chosen], dtype=object), AROUND_M)
        return worth_around(tried, self._task, areas) - worth_around(self.best, self._task, areas)


def _apart(found: Iterable[Patch]) -> list[Patch]:
    """Patches away from those before them."""
    chosen: list[Patch] = []
    taken = np.zeros(0, dtype=object)
    for patch in found:
        if not shapely.dwithin(taken, patch.area, APART_M).any():
            chosen.append(patch)
            taken = np.array([other.area for other in chosen], dtype=object)
    return chosen


def stitched(
    best: Candidate,
    donors: Sequence[Candidate],
    task: Task,
    rounds: int,
    told: Callable[[int], None] | None = None,
) -> tuple[Candidate, bool]:
    """Go on for so many rounds; where nothing gains for a while, variants of the best set are donors too.

    Ends before, where they don't win enough. Tells beside the best set whether the last round still gained. `told` is called
    with the number of rounds that are done.
    """
    if len(cells_of(task.plantable).xy) == 0:
        return best, False
    search = _Search(Stitching(best, donors, task), task, rounds, told)
    search.go_on()
    search.for_as_long_as_it_wins(search.try_variants)
    return search.stitching.best, search.gains


@dataclass(eq=False)
class _Search:
    """Stitching for so many rounds at the most; `done` of them are over, and `gains` tells whether the last one gained."""

    stitching: Stitching
    task: Task
    rounds: int
    told: Callable[[int], None] | None
    done: int = 0
    gains: bool = False

    def go_on(self) -> None:
        """Stitch until no donor wins anything any more."""
        idle = 0
        while idle < len(SEAMS) and self.done < self.rounds:
            if self.told:
                self.told(self.done)
            self.gains = self.stitching.round()
            idle, self.done = 0 if self.gains else idle + 1, self.done + 1
        self.stitching.settle()

    def for_as_long_as_it_wins(self, look: Callable[[], None]) -> None:
        """Look on in some way again and again, until that wins less than LEAST_WORTH."""
        before = -np.inf
        while self.done < self.rounds and self.stitching.best.worth >= before + LEAST_WORTH:
            before = self.stitching.best.worth
            look()

    def try_variants(self) -> None:
        """Let all variants of the best set, one after the other, be donors too."""
        for variant in VARIANTS:
            self._try(variant)

    def _try(self, variant: Variant) -> None:
        if self.done < self.rounds:
            for other in variants_of(self.stitching.best, self.task, variant):
                self.stitching.add(other)
            self.go_on()


def _mark(patch: Patch) -> tuple[int, ...]:
    """Tell a patch from others: its donor, place and size, to two metres."""
    middle = patch.area.centroid
    return (patch.donor, *(round(v / 2.0) for v in (middle.x, middle.y, np.sqrt(patch.area.area))))
