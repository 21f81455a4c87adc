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


@pytest.mark.parametrize("size", [0.0, 1e-150, 1e-161, 1e-163, 1e-200, 1e-300])
def test_wishes_too_small_to_be_squared_move_nothing_and_end_in_no_division_by_zero(size):
    count = 40
    system = LeastSquares(np.arange(count), np.zeros(count, dtype=int))
    at = np.arange(count - 1)
    system.add([np.arange(count)], [np.ones(count)], np.linspace(0, size, count), np.full(count, 0.01))
    system.add([at, at + 1], [np.ones(count - 1), -np.ones(count - 1)], np.zeros(count - 1), np.ones(count - 1))
    shift = system.solved(60)
    assert np.isfinite(shift).all()
    assert np.abs(shift).max() <= size


@pytest.mark.parametrize("weight", [1.0, 1e12, 1e20, 1e38])
def test_nodes_on_one_spot_that_tie_each_other_as_hard_as_can_be_still_move_together(weight):
    count = 12
    system = LeastSquares(np.arange(count), np.zeros(count, dtype=int))
    system.add([np.arange(count)], [np.ones(count)], np.arange(count, dtype=float), np.ones(count))
    system.add([np.array([5]), np.array([6])], [np.ones(1), -np.ones(1)], np.zeros(1), np.full(1, weight))
    shift = system.solved(60)
    assert np.isfinite(shift).all()
    others = np.r_[0:5, 7:12]
    assert shift[others] == pytest.approx(others, abs=1e-6)
