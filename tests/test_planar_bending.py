"""Radius of bends against the circle they were drawn from."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from geoagro.planar.bending import circle_radius

METRES = st.floats(min_value=-1e4, max_value=1e4)


@given(METRES, METRES, st.floats(min_value=1, max_value=500), st.lists(st.floats(0, 6.2), min_size=3, max_size=3))
def test_points_of_a_circle_give_its_radius_wherever_it_lies(east, north, radius, angles):
    first, middle, last = sorted(angles)
    if min(middle - first, last - middle, first + 2 * np.pi - last) < 0.05:
        return
    points = [np.array([[east + radius * np.cos(a), north + radius * np.sin(a)]]) for a in (first, middle, last)]
    assert circle_radius(*points)[0] == pytest.approx(radius, rel=1e-6)


def test_points_in_one_line_bend_at_no_radius_that_counts():
    first, middle, last = (np.array([[x, 2 * x]]) for x in (0.0, 1.0, 5.0))
    assert circle_radius(first, middle, last)[0] > 1e9
