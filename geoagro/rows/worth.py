"""What rows are worth as sets of them are compared: metres of legal row, fewer where a wanted fall is missed."""

from __future__ import annotations

import numpy as np

from geoagro.arrays import Bools, Floats
from geoagro.rows.quality import RowView, in_runs, legal_samples
from geoagro.rows.task import Task

MISSED_FALL = 0.5
"""Where a row doesn't keep the wanted fall, a metre of it is worth less by this much (our choice): ground is planted there all the same."""


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
