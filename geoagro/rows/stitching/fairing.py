"""Fair finished rows: short waves that the limit's 10 m don't show are nudged out, place by place, where that costs no ground."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import shapely

from geoagro.arrays import Bools, Floats, Shapes
from geoagro.planar.inside import points_inside
from geoagro.rows.candidates import Candidate, cut_or_eased, with_best_ends
from geoagro.rows.quality import SHORT_CHORD_LIMITS, SHORT_CHORD_M, chord_grade
from geoagro.rows.stitching.place_by_place import AROUND_M, where_it_wins, worth_around
from geoagro.rows.stitching.smoothing import smoothed
from geoagro.rows.task import Task

TRIES = ((14.0, 12), (20.0, 24), (9.0, 12))
"""How far from a wave rows may move, and in how many rounds: what fails one way is tried the next."""
WAVE_COST = 0.5
"""A metre of row in a wave, which holds the limit over 10 m, is held to cost as much as so many metres of legal row (our choice)."""
LEAST_SHARE = 0.001
"""Waves on less of the row length than this are let be."""
INSIDE = 0.99
"""Waves are looked for a little inside the limit, since they are judged on finer samples."""


def faired(best: Candidate, task: Task) -> Candidate:
    """Nudge waves out of a set of rows, wherever that is worth more than it loses of legal rows and row ends."""
    for zone_m, rounds in TRIES:
        waves = _waves(best, task)
        if len(waves) <= LEAST_SHARE * len(best.view.samples):
            break
        places = np.asarray(shapely.get_parts(shapely.union_all(shapely.buffer(waves, zone_m))), dtype=object)
        tried, good = _nudged_where_it_wins(best, places, task, rounds)
        if good.any() and fair_worth(tried, task) > fair_worth(best, task):
            best = tried
    return best


def _steep(found: Candidate, task: Task) -> Floats:
    """Length of row (metres) that each sample stands for where it is too steep over the short chord, else 0."""
    samples = found.view.samples
    grade = chord_grade([*task.around.kept, *found.held.kept], samples, task.judged, chord_m=SHORT_CHORD_M)
    limit = INSIDE * SHORT_CHORD_LIMITS * task.rule.max_grade_pct / 100
    steep: Floats = np.where(grade > limit, samples.weight, 0.0)
    return steep


def _waves(found: Candidate, task: Task) -> Shapes:
    """Points on waves."""
    points: Shapes = np.asarray(shapely.points(found.view.samples.xy[_steep(found, task) > 0]), dtype=object)
    return points


def fair_worth(found: Candidate, task: Task) -> float:
    """Tell what a set is worth less the cost of its waves, as a share of the ground."""
    cost_m = WAVE_COST * float(_steep(found, task).sum())
    return found.worth - cost_m * task.rule.spacing_m / task.plantable.area


def _nudged_where_it_wins(best: Candidate, places: Shapes, task: Task, rounds: int) -> tuple[Candidate, Bools]:
    return where_it_wins(
        len(places),
        lambda some: _nudged(best, places[some], task, rounds),
        lambda tried: _won(tried, best, places, task),
    )


def _nudged(best: Candidate, places: Shapes, task: Task, rounds: int) -> Candidate:
    rows = smoothed(best.held.kept, shapely.union_all(places), replace(task, fair=True), rounds)
    return with_best_ends(cut_or_eased(rows, task, best.held.kept), task).after(best)


def _won(tried: Candidate, best: Candidate, places: Shapes, task: Task) -> Floats:
    """Metres of legal row that each place and its surroundings won, waves counted by their cost."""
    around = shapely.buffer(places, AROUND_M)
    gone_m = _metres(best, task, around) - _metres(tried, task, around)
    won: Floats = WAVE_COST * gone_m + worth_around(tried, task, around) - worth_around(best, task, around)
    return won


def _metres(found: Candidate, task: Task, areas: Shapes) -> Floats:
    steep = _steep(found, task)
    some = np.flatnonzero(steep)
    where, area = points_inside(found.view.samples.xy[some], areas)
    return np.bincount(area, weights=steep[some][where], minlength=len(areas)).astype(np.float64)
