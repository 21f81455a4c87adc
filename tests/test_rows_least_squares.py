"""Least squares along chains, against a dense solution."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from geoagro.rows import least_squares
from geoagro.rows.least_squares import LeastSquares
from geoagro.rows.loops import banded_parts

BY_PARTS, AT_ONCE = 0, 10**9
"""From how many unknowns on threads share the work: always, never."""


def solved(system, steps, many):
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(least_squares, "MANY_UNKNOWNS", many)
        return system.solved(steps)


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


@given(seed=st.integers(0, 10_000), ring=st.booleans(), many=st.sampled_from([BY_PARTS, AT_ONCE]))
def test_shifts_are_those_of_the_dense_normal_equations(seed, ring, many):
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
    assert solved(system, 400, many) == pytest.approx(dense(named, count)[unknown], abs=1e-6)


@pytest.mark.parametrize("many", [BY_PARTS, AT_ONCE])
@pytest.mark.parametrize("size", [0.0, 1e-150, 1e-161, 1e-163, 1e-200, 1e-300])
def test_wishes_too_small_to_be_squared_move_nothing_and_end_in_no_division_by_zero(size, many):
    count = 40
    system = LeastSquares(np.arange(count), np.zeros(count, dtype=int))
    at = np.arange(count - 1)
    system.add([np.arange(count)], [np.ones(count)], np.linspace(0, size, count), np.full(count, 0.01))
    system.add([at, at + 1], [np.ones(count - 1), -np.ones(count - 1)], np.zeros(count - 1), np.ones(count - 1))
    shift = solved(system, 60, many)
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


def a_large_system(rng, rows=40, nodes=30):
    """Rows that keep straight and pull on their neighbours."""
    row = np.repeat(np.arange(rows), nodes)
    every = np.arange(len(row))
    system = LeastSquares(every, row)
    system.add([every], [np.ones(len(every))], rng.normal(size=len(every)), np.full(len(every), 0.1))
    inner = every[(every % nodes > 0) & (every % nodes < nodes - 1)]
    system.add(
        [inner - 1, inner, inner + 1], [np.ones(len(inner)), -2 * np.ones(len(inner)), np.ones(len(inner))], 0.0, 3.0
    )
    beside = every[:-nodes]
    system.add(
        [beside, beside + nodes], [np.ones(len(beside)), -np.ones(len(beside))], rng.normal(size=len(beside)), 1.0
    )
    return system


def test_a_few_steps_by_threads_come_as_far_as_by_one_on_any_number_of_processors(monkeypatch):
    found = []
    for processors, many in ((1, BY_PARTS), (3, BY_PARTS), (8, BY_PARTS), (1, AT_ONCE)):
        monkeypatch.setattr(banded_parts.os, "cpu_count", lambda n=processors: n)
        found.append(solved(a_large_system(np.random.default_rng(3)), 12, many))
    assert np.array_equal(found[0], found[1])
    assert np.array_equal(found[0], found[2])
    assert found[3] == pytest.approx(found[0], abs=1e-10)
    assert not np.array_equal(found[3], np.zeros_like(found[3]))


@given(st.lists(st.integers(1, 40), min_size=1, max_size=60))
def test_parts_are_whole_rows_and_make_up_all(counts):
    row = np.repeat(np.arange(len(counts)), counts)
    parts = banded_parts.parts_of_rows(row)
    assert [a for a, _ in parts] == [0, *(b for _, b in parts[:-1])]
    assert parts[-1][1] == len(row)
    assert len(parts) <= banded_parts.PARTS
    assert all(row[a - 1] != row[a] for a, _ in parts[1:])
