"""Points near places, held to what a search tree of the scientific library finds (scipy's cKDTree)."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial import cKDTree

from geoagro.planar.near_points import near_points


@given(st.integers(0, 2**32 - 1), st.floats(0.1, 200.0), st.sampled_from([0.0, 5e5]))
@settings(max_examples=100, deadline=None)
def test_points_near_places_are_those_that_a_search_tree_finds(seed, within_m, off_m):
    random = np.random.default_rng(seed)
    points, at = (random.uniform(-50, 50, (random.integers(1, n), 2)) + off_m for n in (300, 40))
    at = np.concatenate([at, at[:1] + 1e4])  # and one far from all
    begin, found = near_points(points, at, within_m)
    expected = cKDTree(points).query_ball_point(at, within_m)
    assert begin[0] == 0 and begin[-1] == len(found) and len(begin) == len(at) + 1
    for k, near in enumerate(expected):
        assert sorted(found[begin[k] : begin[k + 1]]) == sorted(near)


@pytest.mark.parametrize(("points", "at"), [(0, 3), (3, 0), (0, 0)])
def test_of_no_points_or_for_no_places_none_are_near(points, at):
    begin, found = near_points(np.zeros((points, 2)), np.zeros((at, 2)), 1.0)
    assert begin.tolist() == [0] * (at + 1) and len(found) == 0


def test_points_on_one_spot_and_as_far_as_may_be_count():
    begin, found = near_points(np.array([[0.0, 0.0], [0.0, 0.0], [3.0, 4.0]]), np.array([[0.0, 0.0]]), 5.0)
    assert begin.tolist() == [0, 3] and sorted(found) == [0, 1, 2]
