"""Fewest stakes: against brute force, closed forms and published curve examples."""

from itertools import combinations, pairwise

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString

from geoagro.stakeout.chords import Chain, fewest_stakes, longest_chord, mid_ordinate, off_tape


def chain_of(xy, *, fixed=(), known=()):
    xy = np.asarray(xy, dtype=float)
    station = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(xy, axis=0).T))])
    n = len(xy)
    flags = np.zeros(n, dtype=bool)
    flags[[0, n - 1, *fixed]] = True
    return Chain(xy, station, flags, np.where(np.isin(np.arange(n), known), 0.0, 1e-4))


def arc(radius, length, step=1.0):
    angle = np.arange(0, length + 1e-9, step) / radius
    return np.column_stack([radius * np.sin(angle), radius * (1 - np.cos(angle))])


def brute_force(chain, tolerance, low, high):
    """Fewest stakes by trying all sets, smallest first; distance by shapely."""
    n = len(chain.station)

    def fits(i, j):
        length = chain.station[j] - chain.station[i]
        short = length < low - 1e-9 and not (chain.fixed[i] and chain.fixed[j])
        if short or length > high + 1e-9:
            return False
        curve, tape = LineString(chain.xy[i : j + 1]), LineString(chain.xy[[i, j]])
        return max(shapely.distance(shapely.points(chain.xy[i : j + 1]), tape)) <= tolerance + 1e-9 and curve.length > 0

    ok = {(i, j) for i in range(n) for j in range(i + 1, n) if fits(i, j)}
    for count in range(n - 1):
        for inner in combinations(range(1, n - 1), count):
            path = (0, *inner, n - 1)
            if set(np.flatnonzero(chain.fixed)) <= set(path) and all(p in ok for p in pairwise(path)):
                return len(path)
    return None


@pytest.mark.parametrize(
    ("radius", "chord", "expected", "tolerance"),
    [
        # open surveying text, horizontal curves: R 500 ft, delta 55 deg: long chord 461.749, M 56.494 (exact 56.495)
        (500.0, 461.749, 56.494, 0.002),
        # practice problem for the engineers' examination: R 1500 ft, tangent 197 ft: M 12.8 ft (12.771)
        (1500.0, 2 * 1500 * np.sin(np.arctan(197 / 1500)), 12.771, 0.001),
        # railway rule "one inch of mid-ordinate on a 62 ft chord is one degree" (rule from memory; radius of a
        # one-degree curve 5729.578 ft from US Army FM 5-430): 1.0064 in
        (5729.578, 62.0, 1.0064 / 12, 1e-5),
    ],
)
def test_mid_ordinate_agrees_with_published_curves(radius, chord, expected, tolerance):
    assert mid_ordinate(chord, radius) == pytest.approx(expected, abs=tolerance)


def test_short_chords_follow_the_rule_of_thumb():
    assert mid_ordinate(6.0, 100.0) == pytest.approx(6.0**2 / (8 * 100.0), rel=1e-3)


def test_stakes_on_a_circle_stand_as_far_apart_as_the_mid_ordinate_allows():
    radius, tolerance = 60.0, 0.05
    chain = chain_of(arc(radius, 200.0, step=0.25))
    (stakes,) = fewest_stakes([chain], tolerance_m=tolerance, min_m=1.0, max_m=30.0)
    arc_of_chord = 2 * radius * np.arcsin(longest_chord(tolerance, radius) / 2 / radius)
    # stakes stand on quarter metres, so each tape may be up to that much shorter than the longest chord
    assert 200 / arc_of_chord <= len(stakes) - 1 <= np.ceil(200 / (np.floor(arc_of_chord * 4) / 4))
    assert np.nanmax(off_tape(chain, stakes)) <= tolerance


def test_a_straight_row_takes_the_longest_tape():
    chain = chain_of(np.column_stack([np.arange(101.0), np.zeros(101)]))
    (stakes,) = fewest_stakes([chain], tolerance_m=0.05, min_m=5, max_m=25)
    assert chain.station[stakes].tolist() == [0, 25, 50, 75, 100]


def test_earlier_stakes_stay_where_they_stood():
    chain = chain_of(np.column_stack([np.arange(61.0), np.zeros(61)]), known=(17, 38))
    (stakes,) = fewest_stakes([chain], tolerance_m=0.05, min_m=5, max_m=25)
    assert stakes.tolist() == [0, 17, 38, 60]


def test_places_that_need_a_stake_always_get_one():
    chain = chain_of(np.column_stack([np.arange(61.0), np.zeros(61)]), fixed=(30, 33))
    (stakes,) = fewest_stakes([chain], tolerance_m=0.05, min_m=5, max_m=25)
    assert {30, 33} <= set(stakes)
    assert len(stakes) == 6  # 0, one between, 30, 33, one between, 60


def test_a_curve_too_tight_for_the_smallest_spacing_is_still_kept_within_tolerance():
    chain = chain_of(arc(6.0, 30.0, step=0.5))
    (stakes,) = fewest_stakes([chain], tolerance_m=0.05, min_m=5, max_m=25)
    assert np.nanmax(off_tape(chain, stakes)) <= 0.05


wiggle = st.lists(st.floats(-0.6, 0.6), min_size=3, max_size=9)


@settings(max_examples=30, deadline=None)
@given(turns=wiggle, tolerance=st.sampled_from([0.05, 0.3, 0.8]), low=st.sampled_from([1.0, 2.5]))
def test_no_smaller_set_of_stakes_keeps_the_tape_on_the_row(turns, tolerance, low):
    heading = np.cumsum(turns)
    xy = np.vstack([[0, 0], np.cumsum(np.column_stack([np.cos(heading), np.sin(heading)]), axis=0)])
    chain = chain_of(xy)
    best = brute_force(chain, tolerance, low, 6.0)
    (stakes,) = fewest_stakes([chain], tolerance_m=tolerance, min_m=low, max_m=6.0)
    if best is not None:
        assert len(stakes) == best


@settings(max_examples=12, deadline=None)
@given(
    amplitude=st.floats(0.5, 8.0),
    wave=st.floats(40.0, 120.0),
    tolerance=st.sampled_from([0.03, 0.05, 0.15]),
)
def test_row_and_tape_keep_within_the_tolerance_of_each_other(amplitude, wave, tolerance):
    x = np.arange(0.0, 150.0, 0.5)
    chain = chain_of(np.column_stack([x, amplitude * np.sin(2 * np.pi * x / wave)]))
    (stakes,) = fewest_stakes([chain], tolerance_m=tolerance, min_m=1.0, max_m=25.0)
    row, tape = LineString(chain.xy), LineString(chain.xy[stakes])
    assert shapely.hausdorff_distance(row, tape, densify=0.02) <= tolerance + 1e-3
    assert np.nanmax(off_tape(chain, stakes)) <= tolerance + 1e-9


def test_rows_of_different_length_are_solved_as_if_each_were_alone():
    chains = [chain_of(arc(r, length)) for r, length in ((30, 12), (80, 140), (400, 61))]
    together = fewest_stakes(chains, tolerance_m=0.05, min_m=4, max_m=25)
    for chain, stakes in zip(chains, together, strict=True):
        (alone,) = fewest_stakes([chain], tolerance_m=0.05, min_m=4, max_m=25)
        assert alone.tolist() == stakes.tolist()
