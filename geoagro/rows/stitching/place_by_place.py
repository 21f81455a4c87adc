"""Try changes in many places at once, each judged by itself, and keep those that win."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from geoagro.arrays import Bools, Floats, Shapes
from geoagro.planar.inside import points_inside
from geoagro.rows.candidates import Candidate
from geoagro.rows.row_ends import ends_of
from geoagro.rows.task import Task, legal_runs, worth_m

AROUND_M = 19.0
"""What a change wins is looked for up to this far around it."""
LEAST_M = 1.0
"""A change that wins no more than this length of legal row isn't kept."""


def where_it_wins(
    count: int, changed: Callable[[Bools], Candidate], won_m: Callable[[Candidate], Floats]
) -> tuple[Candidate, Bools]:
    """Change a set in `count` places at once, then only where that won: what comes of it, and where it won.

    Parameters
    ----------
    changed
        The set changed in some of the places.
    won_m
        Metres of legal row that it won in each.
    """
    tried = changed(np.ones(count, dtype=bool))
    good = won_m(tried) > LEAST_M
    return (changed(good) if good.any() and not good.all() else tried), good


def worth_around(found: Candidate, task: Task, areas: Shapes) -> Floats:
    """Metres of legal row in each area, less what the row ends there cost."""
    length = worth_m(found.view, task) * legal_runs(found.view, task)
    where, area = points_inside(found.view.samples.xy, areas)
    worth = np.bincount(area, weights=length[where], minlength=len(areas))
    _, area = points_inside(ends_of(found.held.kept).xy, areas)
    out: Floats = worth - task.turning_cost_m / 2 * np.bincount(area, minlength=len(areas))
    return out
