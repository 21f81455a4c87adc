"""Put together what is best of many sets of rows, patch by patch, for as long as it gains."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
import shapely

from geoagro.arrays import Floats, Shapes
from geoagro.planar.inside import points_inside
from geoagro.rows.candidates import ROW_COST_M, Candidate, cut_or_eased, with_best_ends
from geoagro.rows.quality import in_runs, legal_samples
from geoagro.rows.row_ends import ends_of
from geoagro.rows.stitching.maps import RowMap, cells_of, row_map
from geoagro.rows.stitching.seams import SEAMS, Patch, patches
from geoagro.rows.stitching.splice import smoothed, spliced, zone_of
from geoagro.rows.stitching.variants import VARIANTS, variants_of
from geoagro.rows.task import Task

APART_M = 40.0
"""Patches of one round lie this far apart, so that each can be judged by itself."""
AROUND_M = 19.0
"""What a patch wins is looked for up to this far around it."""
LEAST_M = 1.0
NUDGES = 12
LEAST_WORTH = 0.001
"""The search ends where all variants of the best set have won less than this share of the ground."""
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
        tried = self._with(chosen)
        good = self._won(tried, chosen) > LEAST_M
        self._failed |= {_mark(patch) for patch, taken in zip(chosen, good, strict=True) if not taken}
        kept = [patch for patch, taken in zip(chosen, good, strict=True) if taken]
        if kept and len(kept) < len(chosen):
            tried = self._with(kept)
        if not kept or tried.worth <= self.best.worth:
            self._failed |= {_mark(patch) for patch in kept}
            return False
        self.best, self._mine, self._known = tried, row_map(tried, self._task, self._cells), 0
        return True

    def _chosen(self) -> list[Patch]:
        """Patches that are held to win most, away from each other and from what failed before."""
        found: list[Patch] = []
        for k, other in enumerate(self._maps):
            if k >= self._known and other is not None and self._donors[k] is not self.best:
                found += patches(self._mine, other, self._cells, self._task.rule.spacing_m, donor=k, kind=self._rounds)
        chosen: list[Patch] = []
        taken = np.zeros(0, dtype=object)
        for patch in sorted(found, key=lambda p: (-round(p.gain_m, 6), p.donor)):
            if _mark(patch) not in self._failed and not shapely.dwithin(taken, patch.area, APART_M).any():
                chosen.append(patch)
                taken = np.array([other.area for other in chosen], dtype=object)
        return chosen

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


def stitched(
    best: Candidate,
    donors: Sequence[Candidate],
    task: Task,
    rounds: int,
    told: Callable[[int], None] | None = None,
) -> tuple[Candidate, bool]:
    """Go on for so many rounds; where nothing gains for a while, variants of the best set are donors too.

    Ends before, where no variant wins enough. Tells beside the best set whether the last round still gained. `told` is called
    with the number of rounds that are done.
    """
    if len(cells_of(task.plantable).xy) == 0:
        return best, False
    stitching = Stitching(best, donors, task)
    idle = made = 0
    before, gains = -np.inf, False
    for number in range(rounds):
        if told:
            told(number)
        gains = stitching.round()
        idle = 0 if gains else idle + 1
        if idle < len(SEAMS):
            continue
        if made % len(VARIANTS) == 0:
            if stitching.best.worth < before + LEAST_WORTH:
                break
            before = stitching.best.worth
        stitching.settle()
        for other in variants_of(stitching.best, task, VARIANTS[made % len(VARIANTS)]):
            stitching.add(other)
        idle, made = 0, made + 1
    return stitching.best, gains


def _mark(patch: Patch) -> tuple[int, ...]:
    """Tell a patch from others: its donor, place and size, to two metres."""
    middle = patch.area.centroid
    return (patch.donor, *(round(v / 2.0) for v in (middle.x, middle.y, np.sqrt(patch.area.area))))


def worth_around(found: Candidate, task: Task, areas: Shapes) -> Floats:
    """Metres of legal row in each area, less what the row ends there cost."""
    rule, samples = task.rule, found.view.samples
    ok = legal_samples(
        found.view, spacing_m=rule.spacing_m, tolerance=rule.spacing_tolerance, max_grade=rule.max_grade_pct / 100
    )
    length = samples.weight * in_runs(ok, samples, rule.min_row_length_m)
    where, area = points_inside(samples.xy, areas)
    worth = np.bincount(area, weights=length[where], minlength=len(areas))
    _, area = points_inside(ends_of(found.held.kept).xy, areas)
    out: Floats = worth - ROW_COST_M / 2 * np.bincount(area, minlength=len(areas))
    return out
