"""Mend a set of rows anew in many small places at once, in ways taken at random, and keep what wins, place by place.

Mending all of a set moves most of its rows, and by itself loses more than it wins where the set is good already. In a small place, all
else staying as it is, one try in fifty to a hundred wins, and a try takes hundredths of a second.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from geoagro.arrays import Bools, Floats
from geoagro.rows.candidates import Candidate, cut_or_eased, run_on_and_filled, with_best_ends
from geoagro.rows.row_ends import ends_of
from geoagro.rows.stitching.place_by_place import AROUND_M, where_it_wins, worth_around
from geoagro.rows.stitching.smoothing import smoothed
from geoagro.rows.task import Task, legal_runs, worth_m

RADII_M = (12.0, 16.0, 22.0, 30.0)
ROUNDS = (12, 24)
FIRMNESS = (0.5, 1.0, 2.0)
KEEP_OFFS = (None, None, 0.65, 0.7, 0.8, 0.95)
"""A place is so large, its rows are nudged in so many rounds, holding on so long to what is out of bounds; before that they run on and its
holes get rows, which keep so many spacings from others (None: rows are nudged only). Each of these wins somewhere."""
TURNS, LEAST_WORTH = 100, 0.0005
"""It ends where so many turns win less than this share of the ground."""
LOOKED_AT = 400
"""So many spots at the most are looked at for places of a turn: on some hectares, all places that there is room for are found in fewer."""


@dataclass(frozen=True)
class _Way:
    """One of the ways to mend places: see RADII_M."""

    radius_m: float
    rounds: int
    firm: float
    keep_off: float | None

    @classmethod
    def any(cls, rng: np.random.Generator) -> _Way:
        keep_off = KEEP_OFFS[rng.integers(len(KEEP_OFFS))]
        return cls(float(rng.choice(RADII_M)), int(rng.choice(ROUNDS)), float(rng.choice(FIRMNESS)), keep_off)


def mended_in_places(best: Candidate, task: Task, told: Callable[[int], None] | None = None) -> Candidate:
    """Mend places of a set for as long as it wins; `told` is called with the number of turns that are done."""
    rng = np.random.default_rng(0)
    before, done = -np.inf, 0
    while best.held.kept and best.worth >= before + LEAST_WORTH:
        before = best.worth
        for _ in range(TURNS):
            best = _mended_somewhere(best, task, _Way.any(rng), rng)
            done += 1
            if told:
                told(done)
    return best


def _mended_somewhere(best: Candidate, task: Task, way: _Way, rng: np.random.Generator) -> Candidate:
    """Mend as many places as lie apart in one way; the set that it makes where that is worth more."""
    middles = _middles(best, task, way.radius_m, rng)
    if len(middles) == 0:
        return best
    places = np.asarray(shapely.buffer(shapely.points(middles), way.radius_m), dtype=object)
    around = np.asarray(shapely.buffer(places, AROUND_M), dtype=object)
    before_m = worth_around(best, task, around)

    def changed(some: Bools) -> Candidate:
        return _mended(best, task, way, shapely.union_all(places[some]))

    tried, good = where_it_wins(len(places), changed, lambda found: worth_around(found, task, around) - before_m)
    return tried if good.any() and tried.worth > best.worth else best


def _mended(best: Candidate, task: Task, way: _Way, zone: BaseGeometry) -> Candidate:
    """Mend all of a zone."""
    rows = best.held.kept
    if way.keep_off is not None:
        rows = run_on_and_filled(rows, task, way.keep_off, within=zone)
    rows = smoothed(rows, zone, task, way.rounds, firm=way.firm)
    return with_best_ends(cut_or_eased(rows, task, best.held.kept), task).after(best)


def _middles(best: Candidate, task: Task, radius_m: float, rng: np.random.Generator) -> Floats:
    """Middles of places near spots where something is lost, the more the likelier, apart from each other; shape (n, 2)."""
    spots, lost_m = _losses(best, task)
    # drawn without putting back: the least of exponential waiting times comes first
    order = np.argsort(rng.exponential(size=len(spots)) / lost_m)[:LOOKED_AT]
    near = spots[order] + rng.normal(scale=radius_m / 2, size=(len(order), 2))
    apart_m = 2 * radius_m + AROUND_M
    chosen: list[int] = []
    for k in range(len(near)):
        if (np.hypot(*(near[chosen] - near[k]).T) > apart_m).all():
            chosen.append(k)
    return near[chosen]


def _losses(best: Candidate, task: Task) -> tuple[Floats, Floats]:
    """Spots where rows are worth less than they could be, shape (n, 2), and by how many metres: samples, and ends inside."""
    samples = best.view.samples
    lost = samples.weight - worth_m(best.view, task) * legal_runs(best.view, task)
    ends = ends_of(best.held.kept).xy
    inner = ~np.asarray(shapely.dwithin(shapely.points(ends), task.plantable.boundary, task.rule.spacing_m), dtype=bool)
    spots = np.concatenate([samples.xy, ends[inner]])
    lost = np.concatenate([lost, np.full(int(inner.sum()), task.turning_cost_m / 2)])
    return spots[lost > 0], lost[lost > 0]
