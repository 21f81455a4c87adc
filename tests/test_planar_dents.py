"""Heights along lines: low points, turns, ways of water."""

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from scipy.signal import find_peaks

from geoagro.planar.dents import STEP_M, deep_dents, dent_depths, heights_along, longest_ways, low_points, turns
from geoagro.planar.peak_loops import peaks
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


def test_low_points_are_as_deep_as_their_lower_pass_and_turns_keep_both_ends():
    # passes of 3, 2.4 and 2: the pond at 1 runs over at 2.4, the one at .5 at 2
    z = np.array([3.0, 1.0, 2.4, 0.5, 2.0, 1.9, 0.0])
    at, depth = low_points(z, 0.15)
    assert (at.tolist(), depth.tolist()) == ([1, 3], pytest.approx([1.4, 1.5]))
    assert dent_depths(z, 0.15) == pytest.approx([0, 1.4, 0, 1.5, 0, 0, 0])
    assert turns(z, 0.15).tolist() == [0, 1, 2, 3, 4, 6]
    assert low_points(z, 1.45)[0].tolist() == [3]
    # ripples below 2 cm are no turn, a wave of 3 cm is
    assert turns(np.array([1.0, 0.9, 0.915, 0.8, 0.7])).tolist() == [0, 4]
    assert turns(np.array([1.0, 0.9, 0.93, 0.8, 0.7])).tolist() == [0, 1, 2, 4]


def test_lines_whose_heights_end_after_two_stations_are_left_out():
    heights = read(
        [[(0, 0), (9, 0)], [(0, 5), (9, 5)], [(0, 8), (1.5, 8)]],
        lambda x, y: np.where((y > 1) & (x > 1.2) & (y < 6), np.nan, x),
    )
    assert [number for number, _ in heights.parts] == [0, 2]
    assert [part.stop - part.start for _, part in heights.parts] == [10, 3]
    assert longest_ways(heights) == pytest.approx([9, 1.5])


def test_only_low_points_of_15_cm_are_counted():
    def trough(depth):
        return read([[(0, 0), (40, 0)]], lambda x, y: depth * np.cos(2 * np.pi * x / 20) / 2)

    assert deep_dents(trough(0.14)) == 0
    assert deep_dents(trough(0.16)) == 2


flat_tops = st.lists(st.integers(0, 4), min_size=0, max_size=40).map(lambda z: np.asarray(z, dtype=float))


@given(st.one_of(flat_tops, walks), st.floats(0, 2))
def test_peaks_prominences_and_bases_are_those_of_the_library(z, least):
    """Reference: scipy.signal.find_peaks."""
    at, known = find_peaks(z, prominence=least)
    found = peaks(z, least)
    assert found.at.tolist() == at.tolist()
    assert found.prominence.tolist() == known["prominences"].tolist()
    assert found.left.tolist() == known["left_bases"].tolist()
    assert found.right.tolist() == known["right_bases"].tolist()
