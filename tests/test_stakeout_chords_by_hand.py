"""Steps of choosing stakes along a row, against sums by hand and an independent geometry library."""

import numpy as np
import pytest
import shapely
from shapely import LineString

from geoagro.stakeout.chords import (
    Chain,
    _last_before,
    _Padded,
    _steps_within,
    _tapes,
    fewest_stakes,
    longest_chord,
    off_tape,
)


def chain(xy, fixed=(), extra=1e-4):
    xy = np.asarray(xy, dtype=float)
    station = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(xy, axis=0).T))])
    flags = np.zeros(len(xy), dtype=bool)
    flags[[0, -1, *fixed]] = True
    return Chain(xy, station, flags, np.full(len(xy), extra))


def turned(xy, degrees):
    angle = np.radians(degrees)
    return np.asarray(xy) @ np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])


def wave(n=61):
    x = np.arange(float(n))
    return np.column_stack([x, 3 * np.sin(x / 8)])


@pytest.mark.parametrize("degrees", range(30, 360, 30))
def test_a_row_gets_the_same_stakes_whichever_way_it_runs(degrees):
    (level,) = fewest_stakes([chain(wave())], tolerance_m=0.1, min_m=2, max_m=20)
    (other,) = fewest_stakes([chain(turned(wave(), degrees))], tolerance_m=0.1, min_m=2, max_m=20)
    assert other.tolist() == level.tolist()


@pytest.mark.parametrize("degrees", [0, 90, 175, 300])
@pytest.mark.parametrize("tolerance", [0.02, 0.15, 0.6])
def test_a_tape_is_allowed_where_the_library_finds_no_point_farther_from_it_than_the_tolerance(tolerance, degrees):
    xy = turned(wave(24), degrees)
    allowed = _tapes(_Padded([chain(xy)], len(xy)), 12, tolerance)
    for step in range(1, 13):
        for k in range(len(xy) - step):
            tape = LineString([xy[k], xy[k + step]])
            off = shapely.distance(shapely.points(xy[k : k + step + 1]), tape).max()
            assert allowed[step, 0, k] == (off <= tolerance), (step, k, off)


@pytest.mark.parametrize(("back", "allowed"), [(0.04, True), (0.06, False)])
def test_a_row_that_runs_on_past_the_end_of_a_tape_by_more_than_the_tolerance_is_not_held_by_it(back, allowed):
    """10 m out and a little back again: the farthest point lies `back` beyond the tape's end."""
    pad = _Padded([chain([(0, 0), (10, 0), (10 - back, 0.0)])], 3)
    assert _tapes(pad, 2, 0.05)[2, 0, 0] == allowed
    assert _tapes(pad, 2, 0.05)[1, 0].tolist() == [True, True, False]


def test_among_equally_many_stakes_the_most_even_are_taken():
    """60 m and 25 m tapes: four stakes; 20, 20, 20 has a smaller sum of squares than 25, 25, 10."""
    (stakes,) = fewest_stakes([chain([(float(x), 0.0) for x in range(61)])], tolerance_m=0.05, min_m=5, max_m=25)
    assert stakes.tolist() == [0, 20, 40, 60]


def test_the_longest_spacing_is_allowed_to_the_full_and_the_least_kept():
    line = chain([(float(x), 0.0) for x in range(0, 61, 5)])
    assert fewest_stakes([line], tolerance_m=0.05, min_m=5, max_m=30)[0].tolist() == [0, 6, 12]
    assert fewest_stakes([line], tolerance_m=0.05, min_m=5, max_m=29.9)[0].tolist() == [0, 4, 8, 12]
    short = chain([(0.0, 0.0), (4.0, 0.0), (8.0, 0.0)])
    assert fewest_stakes([short], tolerance_m=0.05, min_m=4, max_m=5)[0].tolist() == [0, 1, 2]


def test_where_one_tape_must_be_too_short_it_is_the_least_short_one():
    """Stakes at 0, 9 and 12 m are fixed, tapes 5 to 8 m: one of 4 m beside 5 m is better than two of 4.5 or one of 1, 2, 3 m."""
    line = chain([(float(x), 0.0) for x in (0, 1, 2, 3, 4, 4.5, 6, 7, 9, 12)], fixed=(8,))
    (stakes,) = fewest_stakes([line], tolerance_m=0.05, min_m=5, max_m=8)
    assert line.station[stakes].tolist() == [0, 4, 9, 12]


def test_a_curve_is_left_only_where_no_stake_can_stand_on_it():
    """A corner between two points 30 m apart with tapes of 20 m: the points beside it are too far to be joined past it."""
    line = chain([(0, 0), (15, 0), (15, 15)])
    (stakes,) = fewest_stakes([line], tolerance_m=0.05, min_m=1, max_m=20)
    assert stakes.tolist() == [0, 1, 2]
    (joined,) = fewest_stakes([line], tolerance_m=11.0, min_m=1, max_m=40)
    assert joined.tolist() == [0, 2]  # the corner lies 15 / sqrt(2) = 10.6 m off the tape


def test_points_within_reach_are_counted_at_the_full_length():
    pad = _Padded([chain([(float(x), 0.0) for x in range(10)]), chain([(0, 0), (0.5, 0), (1.0, 0), (9, 0)])], 10)
    assert _steps_within(pad, 3.0) == 3
    assert _steps_within(pad, 2.99) == 2
    assert _steps_within(pad, 0.1) == 1


def test_the_last_place_that_needs_a_stake_is_known_before_each_point():
    flags = np.array([[True, False, True, False, False], [True, False, False, False, True]])
    assert _last_before(flags).tolist() == [[0, 0, 0, 2, 2], [0, 0, 0, 0, 0]]


def test_how_far_a_row_lies_off_its_tapes_is_told_at_each_tapes_end():
    """Along y = 0 with a bump of .3 m at 4 m and one of .2 m, 1 m past a stake at 10 m."""
    xy = [(0, 0), (4, 0.3), (10, 0), (11, -0.2), (15, 0)]
    found = off_tape(chain(xy), np.array([0, 2, 4]))
    assert np.isnan(found[0]) and found[1:] == pytest.approx([0.3, 0.2])
    hairpin = chain([(0, 0), (12, 0), (10, 0)])
    assert off_tape(hairpin, np.array([0, 2]))[1] == pytest.approx(2.0)  # beyond the tape's end
    assert np.isnan(off_tape(hairpin, np.array([0]))).all()


def test_no_chord_holds_a_tolerance_of_twice_the_radius():
    assert longest_chord(2.0, 1.0) == 0.0 and longest_chord(2.5, 1.0) == 0.0
    assert longest_chord(1.0, 1.0) == 2.0  # the diameter
