"""Least squares along chains, against a dense solution."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from geoagro.rows.least_squares import LeastSquares


def dense(blocks, count):
    """Normal equations of all blocks, solved by numpy; what no equation names stays."""
    matrix, right = np.zeros((count, count)), np.zeros(count)
    for columns, factors, target, weight in blocks:
        for e in range(len(columns[0])):
            line = np.zeros(count)
            for column, factor in zip(columns, factors, strict=True):
                line[column[e]] += factor[e]
            matrix += weight[e] * np.outer(line, line)
            right += weight[e] * target[e] * line
    matrix[np.diag(matrix) == 0, np.diag(matrix) == 0] = 1.0
    return np.linalg.solve(matrix, right)


@given(seed=st.integers(0, 10_000), ring=st.booleans())
def test_shifts_are_those_of_the_dense_normal_equations(seed, ring):
    rng = np.random.default_rng(seed)
    row = np.repeat([0, 1, 2], [25, 14, 3])
    count, unknown = len(row), np.arange(42)
    if ring:
        unknown[24] = 0  # the first row ends where it starts
    every = np.arange(count)
    blocks = [([every], [np.ones(count)], rng.normal(size=count), np.full(count, 0.01))]
    for size in (2, 3, 4):
        columns = [rng.integers(0, count, 30) for _ in range(size)]
        blocks.append((columns, [rng.normal(size=30) for _ in range(size)], rng.normal(size=30), rng.uniform(0, 2, 30)))
    system = LeastSquares(unknown, row)
    for block in blocks:
        system.add(*block)
    named = [([unknown[c] for c in columns], *rest) for columns, *rest in blocks]
    assert system.solved(400) == pytest.approx(dense(named, count)[unknown], abs=1e-6)
