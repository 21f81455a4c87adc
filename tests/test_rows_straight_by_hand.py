"""How the bearing of straight rows is searched: on lengths that the test makes up, so that the answer is known."""

import numpy as np
import pytest
from builders import EAST, NORTH, UTM
from shapely import LineString, MultiPolygon, Polygon, box

from geoagro.rows import straight
from geoagro.rows.straight import (
    _axes,
    _first_place,
    _judged,
    _share_that_holds,
    _side_bearings,
    _slopes,
    best_bearing,
    limited,
)
from geoagro.values.grid import Grid

WIDE = MultiPolygon([box(EAST, NORTH, EAST + 200, NORTH + 100)])
"""Its longest side bears 90 degrees."""


def searched(monkeypatch, length_of, **rules):
    monkeypatch.setattr(
        straight, "_planted", lambda edges, bearing, spacing, least: np.full(straight.PHASES, length_of(bearing))
    )
    return best_bearing(WIDE, spacing_m=4.5, min_length_m=10.0, **rules)


@pytest.mark.parametrize(("other", "chosen"), [(99.51, 80.0), (99.49, 30.0)])
def test_of_bearings_within_half_a_per_cent_the_one_nearest_to_the_longest_side_is_taken(monkeypatch, other, chosen):
    lengths = {30.0: 100.0, 80.0: other}
    assert searched(monkeypatch, lambda bearing: lengths.get(round(bearing, 6), 1.0)) == chosen


def test_bearings_are_found_to_a_tenth_of_a_degree(monkeypatch):
    """100 m at 33.7 and 2 m less for each degree: within .5 m lie 33.45 to 33.95, and 33.9 is nearest to 90."""
    assert searched(monkeypatch, lambda bearing: 100 - 2 * abs(bearing - 33.7)) == pytest.approx(33.9)


def test_the_search_goes_round_the_circle(monkeypatch):
    """The best bearing is 179.7: as far from 90 as .3, and found from 180 = 0 as well."""
    found = searched(monkeypatch, lambda bearing: 100 - 10 * abs((bearing - 179.7 + 90) % 180 - 90))
    assert found == pytest.approx(179.7)


def test_only_the_eight_best_whole_degrees_are_looked_at_more_closely(monkeypatch):
    """Eight bearings of 50 m far apart; beside the ninth best, of 49 m, there would be 100 m at a tenth of a degree."""
    eight = {float(10 * k): 50.0 for k in range(1, 9)}
    lengths = eight | {150.0: 49.0, 150.3: 100.0, 80.4: 60.0}
    assert searched(monkeypatch, lambda bearing: lengths.get(round(bearing, 6), 1.0)) == pytest.approx(80.4)


def test_length_counts_as_far_as_the_ground_lets_the_bearing_hold_the_grade(monkeypatch):
    """A plane falls 10 % to the south: rows hold 5 % within asin(.5) = 30 degrees of east and west."""
    grid = Grid(np.zeros((30, 50)), EAST - 20, NORTH + 120, 5.0, UTM)
    falling = grid.with_values(np.repeat(0.1 * (grid.y - NORTH)[:, None], 50, axis=1))
    length = {10.0: 100.0, 70.0: 50.0}
    found = searched(
        monkeypatch, lambda bearing: length.get(round(bearing, 6), 1.0), surface=falling, max_grade_pct=5.0
    )
    assert found == 70.0
    assert searched(monkeypatch, lambda bearing: length.get(round(bearing, 6), 1.0)) == 10.0
    for known in ({"surface": falling}, {"max_grade_pct": 5.0}):  # no limit, or no heights: length alone
        assert searched(monkeypatch, lambda bearing: length.get(round(bearing, 6), 1.0), **known) == 10.0


def test_slopes_are_taken_at_four_thousand_places_over_ten_metres():
    """100 x 100 m: a step of sqrt(10,000 / 4,000) = 1.58 m, 63 each way; no finer than the cells of the surface."""
    field = MultiPolygon([box(EAST, NORTH, EAST + 100, NORTH + 100)])
    grid = Grid(np.zeros((140, 140)), EAST - 20, NORTH + 120, 1.0, UTM)
    ground = grid.with_values(np.add.outer(0.07 * (grid.y - NORTH), -0.02 * (grid.x - EAST)))
    found = _slopes(field, ground)
    assert found.shape == (63 * 63, 2)
    assert found == pytest.approx(np.tile([-0.02, 0.07], (len(found), 1)))
    coarse = Grid(np.zeros((35, 35)), EAST - 20, NORTH + 120, 4.0, UTM)
    assert _slopes(field, coarse).shape == (25 * 25, 2)
    wave = grid.with_values(np.repeat(np.sin(2 * np.pi * (grid.x - EAST) / 10)[None, :], 140, axis=0))
    assert np.abs(_slopes(field, wave)).max() < 1e-9  # over one wave of 10 m nothing is left
    narrow = grid.with_values(np.where(grid.x[None, :] < EAST + 52, ground.values, np.nan))
    assert len(_slopes(field, narrow)) < len(found) / 2  # where both ends of the chord are known


def test_a_bearing_at_its_limit_holds_and_ground_without_slopes_holds_everywhere():
    slopes = np.array([[0.0, 0.1], [0.05, 0.0]])
    assert _share_that_holds(slopes, np.array([0.0, 90.0]), 0.05).tolist() == [0.5, 1.0]
    assert _share_that_holds(np.zeros((0, 2)), np.array([1.0, 2.0]), 0.05).tolist() == [1.0, 1.0]


def test_axes_point_along_the_bearing_and_to_its_left():
    along, left = _axes(90.0)
    assert along == pytest.approx([1, 0]) and left == pytest.approx([0, 1])
    along, left = _axes(30.0)
    assert along == pytest.approx([0.5, np.sqrt(0.75)]) and left == pytest.approx([-np.sqrt(0.75), 0.5])


def test_twelve_sides_are_tried_at_most():
    turn = np.linspace(0, 2 * np.pi, 21)[:-1]
    field = MultiPolygon([Polygon(np.c_[50 * np.cos(turn), 40 * np.sin(turn)])])
    assert len(_side_bearings(field, 4.5)) == 12


def test_a_place_within_a_millionth_of_the_most_counts_as_equal():
    """Sixteen places .25 m apart on ground from 0 to 4 m: of the equal ones the middle of the ground is taken."""
    totals = np.full(16, 100.0)
    totals[3] = 100.00005
    t = np.array([[0.0, 4.0]])
    assert _first_place(totals, t, 4.0) == 2.0
    totals[3] = 100.001
    assert _first_place(totals, t, 4.0) == 0.75


@pytest.mark.parametrize(("surface", "limit"), [(True, None), (False, 4.0), (False, None)])
def test_rows_are_cut_for_their_grade_only_where_heights_and_a_limit_are_known(surface, limit):
    grid = Grid(np.zeros((30, 50)), EAST - 20, NORTH + 120, 5.0, UTM)
    steep = grid.with_values(np.repeat(0.5 * (grid.x - EAST)[None, :], 30, axis=0))
    line = LineString([(EAST, NORTH + 50), (EAST + 100, NORTH + 50)])
    given = {"surface": steep if surface else None, "max_grade_pct": limit}
    rows = limited([line], spacing_m=4.5, min_length_m=10.0, **given)
    assert (rows.kept, rows.cut) == ([line], [])
    held = limited([line], spacing_m=4.5, min_length_m=10.0, surface=steep, max_grade_pct=4.0)
    assert held.kept == [] and [reason for reason, _ in held.cut] == ["grade_limit"]


def test_a_row_of_the_least_length_is_kept_and_a_shorter_one_told():
    rows = limited([LineString([(0, 0), (w, 0)]) for w in (9.99, 10.0)], spacing_m=4.5, min_length_m=10.0)
    assert [line.length for line in rows.kept] == [10.0]
    assert [(reason, line.length) for reason, line in rows.cut] == [("short_row", 9.99)]


@pytest.mark.parametrize(("length", "steps"), [(10.0, 20), (10.1, 21), (10.4, 21), (0.3, 1)])
def test_a_line_is_judged_in_even_steps_of_half_a_metre_at_most(length, steps):
    line = LineString([(EAST, NORTH), (EAST + length, NORTH)])
    level = Grid(np.full((40, 60), 100.0), EAST - 20, NORTH + 20, 1.0, UTM)
    edge, holds, blind = _judged(line, level, 0.04, 0.0)
    assert len(edge) == steps + 1 and np.diff(edge) == pytest.approx(length / steps)
    assert holds.all() and not blind.any()
