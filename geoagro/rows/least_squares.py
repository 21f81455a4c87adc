"""Weighted least squares in the shifts of all nodes of all rows."""

from __future__ import annotations

from collections.abc import Sequence
from math import comb
from typing import Any

import numpy as np

from geoagro.arrays import Floats, Ints
from geoagro.rows.loops.banded_loops import BAND, conjugate_gradients, gather
from geoagro.rows.loops.banded_parts import MANY_UNKNOWNS, conjugate_gradients_by_parts
from geoagro.rows.loops.pulls import Block


class LeastSquares:
    """Equations gathered term by term, then solved.

    Attributes
    ----------
    unknown
        Number of each node's shift among all shifts.
    """

    def __init__(self, unknown: Ints, row: Ints) -> None:
        """Start with no equations; `row` is the row of each node."""
        self.unknown, self._row = unknown, np.ascontiguousarray(row, dtype=np.int64)
        self._blocks: list[Block] = []

    def add(self, columns: Sequence[Ints], factors: Sequence[Any], target: Any, weight: Any) -> None:
        """Add equations sum_k factors[k] * u[columns[k]] = target, each with its weight."""
        count = len(columns[0])
        if count == 0:
            return
        where = np.column_stack([self.unknown[column] for column in columns]).astype(np.int64)
        factor = np.column_stack([np.broadcast_to(np.asarray(f, dtype=np.float64), count) for f in factors])
        sides = [np.array(np.broadcast_to(v, count), dtype=np.float64) for v in (target, weight)]
        self._blocks.append((where, factor, sides[0], sides[1]))

    def add_block(self, block: Block) -> None:
        """Add equations written out already."""
        self._blocks.append(block)

    def solved(self, steps: int) -> Floats:
        """Shift of every node after a number of steps of conjugate gradients; what no equation names stays."""
        count = len(self.unknown)
        padded, spare, right = np.zeros((count + 2 * BAND, BAND + 1)), np.zeros(count), np.zeros(count)
        band = padded[BAND : count + BAND]
        size = sum(len(block[0]) * comb(block[0].shape[1], 2) for block in self._blocks)
        far = (np.empty(size, dtype=np.int32), np.empty(size, dtype=np.int32), np.empty(size))
        done = 0
        for block in self._blocks:
            done = gather(block, self._row, band, spare, right, far, done)
        band[band[:, 0] == 0, 0] = 1.0
        far = (far[0][:done], far[1][:done], far[2][:done])
        if count >= MANY_UNKNOWNS:
            return conjugate_gradients_by_parts((padded, spare, far), right, steps, self._row)[self.unknown]
        return conjugate_gradients(padded, spare, far, right, steps)[self.unknown]
