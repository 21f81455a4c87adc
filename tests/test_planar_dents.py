"""Heights along lines: low points, turns, ways of water."""

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from geoagro.planar.dents import STEP_M, deep_dents, heights_along, longest_ways, low_points, turns
from geoagro.planar.polylines import Polylines

walks = st.lists(st.floats(-1, 1), min_size=3, max_size=60).map(lambda steps: np.cumsum(np.asarray(steps)))


def read(lines, height):
    return heights_along(Polylines.read(shapely.linestrings(lines)), height)


def test_a_v_has_one_low_point_as_deep_as_its_lower_pass():
    heights = read([[(-40, 0), (30, 0)]], lambda x, y: 0.05 * np.abs(x))
    assert deep_dents(heights) == 1
    at, depth = low_points(heights.z_m, 0.15)
    assert heights.xy[at[0], 0] == pytest.approx(0, abs=0.5)
    assert depth[0] == pytest.approx(0.05 * 30, abs=0.05)
    assert longest_ways(heights) == pytest.approx([40], abs=1)


def test_an_even_slope_has_none_and_is_one_way_all_along():
    heights = read([[(0, 0), (50, 0)], [(0, 9), (20, 9)]], lambda x, y: 0.02 * x)
    assert deep_dents(heights) == 0
    assert longest_ways(heights) == pytest.approx([50, 20])


@pytest.mark.parametrize("length", [0.3, 4.9, 50.0, 50.3])
def test_stations_divide_a_line_evenly_at_the_stated_step_or_a_little_less(length):
    heights = read([[(0, 0), (length, 0)]], lambda x, y: x)
    steps = np.diff(heights.station_m)
    assert steps == pytest.approx(steps[0])
    assert steps[0] <= STEP_M
    assert steps[0] > STEP_M - STEP_M / len(steps) or len(steps) == 2
    assert heights.station_m[[0, -1]] == pytest.approx([0, length])


def test_a_line_is_read_as_far_as_heights_are_known():
    heights = read([[(0, 0), (50, 0)]], lambda x, y: np.where(x < 30, 0.02 * x, np.nan))
    assert longest_ways(heights) == pytest.approx([29], abs=1)


@given(walks)
def test_a_dent_is_as_deep_looked_at_from_either_end_and_turns_hold_every_end(z):
    at, depth = low_points(z, 0.15)
    back, again = low_points(z[::-1], 0.15)
    assert sorted(depth) == pytest.approx(sorted(again))
    assert len(at) == len(back)
    assert (depth >= 0.15).all()
    assert {0, len(z) - 1} <= set(turns(z).tolist())
