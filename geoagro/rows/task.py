"""What a set of contour rows is laid for, and what rows are worth for that."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import shapely
from shapely import LineString, MultiPolygon

from geoagro.arrays import Bools, Floats
from geoagro.rows.fall import Fall
from geoagro.rows.quality import SEARCH_STEP_M, RowView, in_runs, legal_samples
from geoagro.rows.slopes import Slopes
from geoagro.values.design import RowRule
from geoagro.values.grid import Grid
from geoagro.values.rows import RowWindow


@dataclass(frozen=True, eq=False)
class Around:
    """Rows given by hand, which others are laid around.

    Attributes
    ----------
    kept
        Rows that stay as they are.
    earlier
        Rows that stood where the field is laid anew: a start among others.
    edge
        Outline of what is laid anew, where new rows should join those that stay; None where that isn't asked for.
    """

    kept: tuple[LineString, ...] = ()
    earlier: tuple[LineString, ...] = ()
    edge: Any | None = None


NOTHING = Around()
MISSED_FALL = 0.5
"""Where a row doesn't keep the wanted fall, a metre of it is worth less by this much (our choice): ground is planted there all the same."""
MOST_TURNS = 0.5
"""Turns of a row count no more than this share of the side of a square as large as the ground (our choice)."""


@dataclass(frozen=True)
class Task:
    """What a set of contour rows is laid for.

    Attributes
    ----------
    plantable
        Where rows may stand, working CRS.
    smooth
        Heights smoothed at the scale of the rows: where rows should run.
    judged
        Heights smoothed little: what grades are held on.
    guides
        Lines that a row must run on.
    around
        Rows that stay as they are.
    longest_way_m
        Longest way of water one way along a row, where low points are avoided; None for any.
    lift_dents
        Whether nudging pulls low points along rows up.
    fair
        Whether nudging pulls on short chords too, so that waves go which the limit's chord doesn't show.
    fall
        Wanted fall along rows; None for level rows.
    window
        What the beds between rows ask of the rows' distance; None where nothing is asked.
    step_m
        How far apart samples lie on which sets of rows are told apart.
    """

    plantable: MultiPolygon
    smooth: Grid
    judged: Grid
    rule: RowRule
    guides: tuple[LineString, ...] = ()
    fall: Fall | None = None
    window: RowWindow | None = None
    around: Around = NOTHING
    longest_way_m: float | None = None
    lift_dents: bool = False
    fair: bool = False
    step_m: float = SEARCH_STEP_M

    @cached_property
    def turning_cost_m(self) -> float:
        """What a row's two turns cost, metres of legal row: what the rule says, but on small ground no more than rows there can earn.

        The ground is taken part by part, each by its area: dear turns would else leave a small plot, on which all rows are
        short, without any.
        """
        part_m2 = shapely.area(shapely.get_parts(self.plantable))
        side_m = float((part_m2**1.5).sum() / max(part_m2.sum(), 1e-9))
        return min(self.rule.turning_cost_m, MOST_TURNS * side_m)

    @cached_property
    def judged_slopes(self) -> Slopes:
        """The judged surface with its gradient."""
        return Slopes.of(self.judged)

    @cached_property
    def smooth_slopes(self) -> Slopes:
        """The smooth surface with its gradient."""
        return Slopes.of(self.smooth)

    @property
    def aim_m(self) -> float:
        """Distance between rows on even ground."""
        return self.rule.spacing_m if self.window is None else self.window.aim_m

    @property
    def nearest_m(self) -> float:
        """Least distance between rows, metres."""
        return (1 - self.rule.spacing_tolerance) * self.rule.spacing_m

    @property
    def pinned(self) -> tuple[LineString, ...]:
        """Lines that the row field has a row on."""
        return (*self.guides, *self.around.kept)

    @property
    def hectares(self) -> float:
        """Plantable area, ha."""
        return float(self.plantable.area / 1e4)


def legal_runs(view: RowView, task: Task) -> Bools:
    """Tell which samples belong to runs that hold the task's limits and are long enough to be rows."""
    rule = task.rule
    ok = legal_samples(
        view, spacing_m=rule.spacing_m, tolerance=rule.spacing_tolerance, max_grade=rule.max_grade_pct / 100
    )
    runs: Bools = in_runs(ok, view.samples, rule.min_row_length_m)
    return runs


def worth_m(view: RowView, task: Task) -> Floats:
    """Tell what each sample is worth where it is legal, metres of row: what it stands for, less where a wanted fall is missed."""
    samples = view.samples
    if task.fall is None:
        return samples.weight
    missed = task.fall.missed(samples.xy, np.column_stack([samples.tx, samples.ty]), view.rise)
    return np.where(missed, 1 - MISSED_FALL, 1.0) * samples.weight
