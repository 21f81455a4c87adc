"""Groups of unequal size laid one after another in flat arrays."""

from __future__ import annotations

import numpy as np

from geoagro.arrays import Ints


def starts(counts: Ints) -> Ints:
    """Where each group begins, and one more: where the last one ends.

    >>> starts(np.array([2, 0, 3])).tolist()
    [0, 2, 2, 5]
    """
    return np.concatenate([[0], np.cumsum(counts)]).astype(np.int64)


def owners(counts: Ints) -> Ints:
    """Group number of every member.

    >>> owners(np.array([2, 0, 3])).tolist()
    [0, 0, 2, 2, 2]
    """
    return np.repeat(np.arange(len(counts)), counts)


def places(counts: Ints) -> Ints:
    """Place of every member within its group, from 0.

    >>> places(np.array([2, 0, 3])).tolist()
    [0, 1, 0, 1, 2]
    """
    return np.arange(int(np.sum(counts))) - np.repeat(starts(counts)[:-1], counts)
