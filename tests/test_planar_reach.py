"""Where straight pieces lie within reach of each other, held to the distances of points along them."""

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from geoagro.planar.reach import within_reach

PLACES = np.linspace(0, 1, 401)
corner = st.tuples(st.integers(-8, 8), st.integers(-8, 8))


@given(corner, corner, corner, corner, st.sampled_from([0.5, 1.0, 2.5, 6.0]))
def test_the_stretch_within_reach_holds_the_points_that_are_near_and_no_others(a, b, c, d, reach_m):
    some, others = ((np.array([p], dtype=float), np.array([q], dtype=float)) for p, q in ((a, b), (c, d)))
    (begin,), (end,) = within_reach(some, others, reach_m)
    points = np.array(a) + PLACES[:, None] * (np.array(b) - np.array(a))
    away = shapely.distance(shapely.points(points), shapely.LineString([c, d]))
    inside = (begin <= PLACES) & (end >= PLACES)
    clear = np.abs(away - reach_m) > 1e-6
    assert np.array_equal(inside[clear], (away < reach_m)[clear])


def test_the_cap_of_a_piece_is_round():
    begin, end = within_reach(
        (np.array([[0.0, 3.0]]), np.array([[10.0, 3.0]])), (np.array([[-5.0, 0.0]]), np.zeros((1, 2))), 5.0
    )
    assert (begin[0], end[0]) == (0.0, pytest.approx(0.4))  # 3, 4, 5
