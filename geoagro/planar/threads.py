"""Work on many shapes by as many threads as there are processors: the library sets the interpreter free meanwhile."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from itertools import pairwise
from typing import Any, TypeVar

import numpy as np

Result = TypeVar("Result")

MANY_SHAPES = 100
"""From so many shapes on, several threads work; starting one takes time too."""

_RUNS_EACH = 4
"""Runs for each thread, so that none waits long for the last."""


def run_in_runs(work: Callable[[slice], Result], count: int) -> list[Result]:
    """Do some work for runs of `count` things; results in the order of the runs, one run where there are few."""
    if count < MANY_SHAPES:
        return [work(slice(0, count))]
    ends = np.linspace(0, count, _RUNS_EACH * (os.cpu_count() or 1) + 1).astype(int)
    runs = [slice(int(a), int(b)) for a, b in pairwise(ends) if b > a]
    with ThreadPoolExecutor(os.cpu_count()) as pool:
        return list(pool.map(work, runs))


def over_runs(work: Callable[..., Any], *arrays: Any) -> Any:
    """Do some work that gives an array on arrays of one length, run by run; the results one behind the other."""
    return np.concatenate(run_in_runs(lambda run: work(*(array[run] for array in arrays)), len(arrays[0])))


def run_each(work: Callable[[int], Result], count: int) -> Sequence[Result]:
    """Do some work for each of `count` things, one by one; results in their order."""
    return [one for run in run_in_runs(lambda run: [work(k) for k in range(run.start, run.stop)], count) for one in run]
