"""Average very fine rasters while reading, so that a drone survey's cells fit into memory."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from geoagro.arrays import Floats

_ROWS_AT_ONCE = 256


def block_means(read: Callable[[int, int], Floats], *, rows: int, factor: int, jump: float) -> Floats:
    """Mean of blocks of factor x factor cells; NaN where any of them is unknown.

    Parameters
    ----------
    read
        Gives the cells of some rows: first row and number of rows in, values (NaN where unknown) out. The
        number of columns is a whole multiple of the factor.
    rows
        Number of rows, a whole multiple of the factor.
    factor
        Cells of a block along each side.
    jump
        A block in which exact zeros meet values further than this from zero straddles the edge of undeclared
        no-data, and is unknown.

    >>> block_means(lambda first, n: np.arange(16.0).reshape(4, 4)[first : first + n], rows=4, factor=2, jump=99.0)
    array([[ 2.5,  4.5],
           [10.5, 12.5]])
    """
    step = max(_ROWS_AT_ONCE // factor, 1) * factor
    parts = [_means(read(first, min(step, rows - first)), factor, jump) for first in range(0, rows, step)]
    return np.concatenate(parts)


def _means(values: Floats, factor: int, jump: float) -> Floats:
    rows, columns = values.shape
    blocks = values.reshape(rows // factor, factor, columns // factor, factor)
    straddling = (blocks == 0.0).any(axis=(1, 3)) & (np.abs(blocks).max(axis=(1, 3)) > jump)
    means: Floats = np.where(straddling, np.nan, blocks.mean(axis=(1, 3)))
    return means
