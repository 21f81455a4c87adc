"""The direction in which each line's roots share least ground with their neighbours."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from geoagro.arrays import Bools, Floats, Ints
from geoagro.planar.ragged import places
from geoagro.planar.zones import Zones
from geoagro.plants.blocks.tallies import Turned
from geoagro.plants.crops import need
from geoagro.plants.directions import azimuths
from geoagro.plants.neighbours import pairs_within
from geoagro.plants.plan import Plan
from geoagro.plants.root_shares import covered_share
from geoagro.plants.spots import Spots, facing_of
from geoagro.plants.timing import Life

_PER_LINE = (4, 16)
_MOST = 6_000
_POINTS = 64
_SAME = 0.005
"""Mean shares nearer than this count as equal; the earlier direction in the list is taken."""


@dataclass(frozen=True)
class _Group:
    """Plants of one crop of one planting, with full-grown root zones."""

    zones: Zones
    life: Life
    full_size_weeks: float

    def size(self, week: float) -> float:
        return min(1.0, max(0.0, (week - self.life.plant) / self.full_size_weeks))


Beside = Callable[[Spots], Mapping[int, Spots]]


def least_conflict(
    plan: Plan, index: int, spots: Spots, found: Mapping[int, Spots], beside: Beside
) -> tuple[Spots, Turned]:
    """Turn each line the way in which its root zones share least with all plants in reach.

    Looked at are the plantings in `found`, those that `beside` places by this one's roots, and the planting
    itself with all its lines turned the same way, each pair at the size it has when the first of the two is
    harvested. Each line is judged by up to 16 plants in its middle (fewer, but at least 4, where there are over
    375 lines): least share of the plant's own zone that any other plant uses.
    """
    planting = plan.plantings[index]
    words = ["along", "against", *(("uphill", "downhill") if plan.terrain.aspect_deg is not None else ())]
    turned = [azimuths(planting, word, spots, plan) for word in words]
    judge = _middles(spots.piece)
    others = [group for k, other in found.items() for group in _groups(plan, k, other)]
    line, at = np.unique(spots.piece[judge], return_inverse=True)
    trials = []
    for azimuth in turned:
        trial = spots.turned(azimuth, spots.facing)
        near = [group for k, other in beside(trial).items() for group in _groups(plan, k, other)]
        trials.append(_line_means(plan, index, trial, judge, (at, [*others, *near])))
    mean = np.array(trials)
    best = _first_best(mean)
    choice = best[np.searchsorted(line, spots.piece)] if len(line) else np.zeros(0, dtype=np.int64)
    azimuth = np.choose(choice, turned) if len(spots) else spots.bearing_deg
    facing = np.array([facing_of(word) for word in words])[choice]
    own = _own(plan, spots, line)
    return spots.turned(azimuth, facing), Turned(planting.label, tuple(words), mean[:, own], best[own])


def _own(plan: Plan, spots: Spots, line: Ints) -> Bools:
    """Say of each line whether its bed is placed for itself."""
    piece, first = np.unique(spots.piece, return_index=True)
    return plan.counted(spots.bed[first[np.searchsorted(piece, line)]])


def _middles(piece: Ints) -> Ints:
    """Find (by index) a few plants in the middle of each line."""
    if not len(piece):
        return np.zeros(0, dtype=np.int64)
    _, counts = np.unique(piece, return_counts=True)
    per_line = int(np.clip(_MOST // len(counts), *_PER_LINE))
    off = np.abs(places(counts) - (np.repeat(counts, counts) - 1) / 2)
    return np.flatnonzero(off <= (per_line - 1) / 2)


def _groups(plan: Plan, index: int, spots: Spots) -> Iterator[_Group]:
    planting = plan.plantings[index]
    for number, code in enumerate(planting.crops):
        crop = plan.crops[code]
        some = spots.where(spots.code == number)
        reach = crop.lifting_reach_m or need(crop, code, "root_reach_m", "direction auto")
        opening = 360.0
        if planting.direction != "all_round":
            opening = planting.root_opening_deg or need(crop, code, "root_opening_deg", "a direction")
        full = np.ones(len(some))
        zones = Zones(some.xy[:, 0], some.xy[:, 1], reach * full, some.bearing_deg, opening * full)
        yield _Group(zones, plan.times[index][code], need(crop, code, "full_size_weeks", "direction auto"))


def _line_means(plan: Plan, index: int, spots: Spots, judge: Ints, against: tuple[Ints, list[_Group]]) -> Floats:
    """Mean share of the judged plants' zones that others use, per line."""
    at, others = against
    own = list(_groups(plan, index, spots))
    pairs = []
    for number, mine in enumerate(_groups(plan, index, spots.where(judge))):
        which = np.flatnonzero(spots.code[judge] == number)
        for theirs in (*others, *own):
            i, *zones = _meeting(mine, theirs)
            pairs.append((which[i], zones[0], zones[1]))
    used = covered_share(pairs, len(judge), points=_POINTS)
    return np.bincount(at, used) / np.maximum(np.bincount(at), 1)


def _meeting(mine: _Group, theirs: _Group) -> tuple[Ints, Zones, Zones]:
    """Pairs within reach, with both zones at the size they have when the first of both is harvested."""
    start = max(mine.life.plant, theirs.life.plant)
    end = min(mine.life.harvest_to, theirs.life.harvest_to)
    a, b = mine.zones.scaled(mine.size(end)), theirs.zones.scaled(theirs.size(end))
    reach = float(a.reach.max(initial=0.0) + b.reach.max(initial=0.0)) if end > start else 0.0
    i, j, distance = pairs_within(np.column_stack([a.x, a.y]), np.column_stack([b.x, b.y]), reach)
    apart = distance > 1e-6  # not the plant itself
    return i[apart], a.take(i[apart]), b.take(j[apart])


def _first_best(mean: Floats) -> Ints:
    best: Ints = np.argmax(mean <= mean.min(axis=0) + _SAME, axis=0)
    return best
