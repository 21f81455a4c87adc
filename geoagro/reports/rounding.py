"""Rounding of parts so that they still add up to their whole."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

STEP_M2 = 0.1
"""Areas are rounded to this once, when they are measured; sums are taken of the rounded figures."""


def apportion(parts: ArrayLike, total: float, *, step: float = STEP_M2) -> NDArray[np.floating[Any]]:
    """Round parts to whole steps whose sum is `total` rounded; no part moves by a whole step or more.

    The largest-remainder method: all are rounded down, then the steps that are missing go to the parts that
    lost most. The parts must add up to the total within rounding.

    >>> apportion([1.04, 1.04, 1.04], 3.12).tolist()
    [1.1, 1.0, 1.0]
    """
    exact = np.asarray(parts, dtype=float) / step
    if exact.size == 0:
        return exact
    down = np.floor(exact + 1e-9)
    missing = int(round(total / step) - down.sum())
    if not -1 <= missing <= exact.size + 1:
        raise ValueError(f"parts that sum to {exact.sum() * step} can't be rounded to a total of {total}")
    order = np.argsort(-(exact - down), kind="stable")
    down[order[: max(missing, 0)]] += 1
    down[order[-1]] += min(missing, 0)
    rounded: NDArray[np.floating[Any]] = np.round(down * step, 10)
    return rounded
