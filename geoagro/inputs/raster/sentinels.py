"""Numbers that customarily mark cells without data, where a file doesn't declare them."""

from __future__ import annotations

from collections import Counter

import numpy as np
from numpy.typing import NDArray

from geoagro.arrays import Floats

CUSTOMARY = (-9999.0, -99999.0, -32768.0, -32767.0, 32767.0, -3.4028234663852886e38)
"""From memory: the usual marks of raster software and the limits of 16 bit whole and 32 bit real numbers."""

_WILD = 1e30


def take_out_sentinels(values: Floats) -> Counter[float]:
    """Make customary marks, infinite and absurdly large numbers NaN, in place; count each of them.

    >>> z = np.array([1.0, -9999.0, np.inf])
    >>> dict(take_out_sentinels(z)), z.tolist()
    ({-9999.0: 1, inf: 1}, [1.0, nan, nan])
    """
    found: Counter[float] = Counter()
    for number in CUSTOMARY:
        _take_out(values, np.isclose(values, number, rtol=1e-6, atol=0), found)
    _take_out(values, np.abs(values) > _WILD, found)
    return found


def _take_out(values: Floats, hit: NDArray[np.bool_], found: Counter[float]) -> None:
    if hit.any():
        numbers, counts = np.unique(values[hit], return_counts=True)
        found.update(dict(zip(numbers.tolist(), counts.tolist(), strict=True)))
        values[hit] = np.nan
