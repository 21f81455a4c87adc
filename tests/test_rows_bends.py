"""Tight bends are drawn straighter where a few metres of row suffice, and left alone where they don't."""

import numpy as np
import pytest
import row_judge
import shapely
from hypothesis import given
from hypothesis import strategies as st
from landforms import EAST, NORTH
from shapely import LineString

from geoagro.rows.bends import REACH_M, ease_bends

RADIUS = 3.0


def line(*xy):
    return LineString([(EAST + x, NORTH + y) for x, y in xy])


def corner(half_angle_deg, leg_m=40.0):
    """A row that comes to a point, its legs at the half angle to the axis of the corner."""
    x, y = leg_m * np.sin(np.radians(half_angle_deg)), leg_m * np.cos(np.radians(half_angle_deg))
    return line((-x, -y), (0, 0), (x, -y))


def eased(rows, radius=RADIUS):
    bends = ease_bends(rows, radius)
    return bends.rows(np.ones(len(bends.centres), dtype=bool))


def tightest(row):
    return min(row_judge.radius(row, s) for s in np.arange(0, row.length, 0.25))


@pytest.mark.parametrize("half_angle", [30, 40, 50, 60])
def test_a_corner_is_rounded_to_the_radius_and_the_row_keeps_its_ends(half_angle):
    row = corner(half_angle)
    (done,) = eased([row])
    assert tightest(row) < RADIUS * 0.97 <= tightest(done)
    assert done.length < row.length
    assert shapely.get_coordinates(done)[[0, -1]] == pytest.approx(shapely.get_coordinates(row)[[0, -1]])


def test_only_the_row_near_the_bend_moves():
    row = corner(60)
    (done,) = eased([row])
    far = [p for p in shapely.points(shapely.get_coordinates(done)) if p.distance(shapely.Point(EAST, NORTH)) > 16]
    assert far
    assert max(row.distance(p) for p in far) < 1e-6


def test_a_rounded_corner_stays_within_its_legs_and_near_the_arc_that_touches_both():
    # closed form: the arc of radius r in a corner of half angle a passes r (1 / sin a - 1) from the point
    half = np.radians(60)
    (done,) = eased([corner(60)])
    off = done.distance(shapely.Point(EAST, NORTH))
    assert RADIUS * (1 / np.sin(half) - 1) * 0.8 < off < 3 * RADIUS * (1 / np.sin(half) - 1)
    hull = shapely.convex_hull(corner(60)).buffer(1e-6)
    assert hull.covers(done)


def test_a_hairpin_narrower_than_two_radii_is_left_as_it_was():
    t = np.linspace(0, np.pi, 30)
    hairpin = line((-2, -40), *zip(2 * -np.cos(t), 2 * np.sin(t), strict=True), (2, -40))
    bends = ease_bends([hairpin], RADIUS)
    assert len(bends.centres) == 0
    assert bends.rows(np.zeros(0, dtype=bool))[0] is hairpin


def test_rows_without_tight_bends_are_the_same_objects():
    t = np.linspace(0, 2 * np.pi, 100)
    rows = [line((-40, 0), (40, 0)), line(*zip(10 * np.cos(t), 10 * np.sin(t), strict=True))]
    done = eased(rows)
    assert all(a is b for a, b in zip(rows, done, strict=True))


def test_each_bend_can_be_taken_or_left():
    zigzag = line((-60, 0), (-20, 20), (20, -20), (60, 0))
    bends = ease_bends([zigzag], RADIUS)
    assert len(bends.centres) == 2
    (first,) = bends.rows(np.array([True, False]))
    assert first.distance(shapely.Point(EAST - 20, NORTH + 20)) > 0.1
    assert first.distance(shapely.Point(EAST + 20, NORTH - 20)) == pytest.approx(0, abs=0.3)
    assert bends.centres[0] == pytest.approx([EAST - 20, NORTH + 20], abs=3)


@given(st.lists(st.floats(-70, 70), min_size=2, max_size=5), st.floats(20, 40))
def test_what_is_eased_holds_the_radius_and_what_is_not_is_unchanged(turns_deg, leg_m):
    heading, xy = 0.0, [(0.0, 0.0)]
    for turn in [0.0, *turns_deg]:
        heading += np.radians(turn)
        xy.append((xy[-1][0] + leg_m * np.cos(heading), xy[-1][1] + leg_m * np.sin(heading)))
    row = line(*xy)
    (done,) = eased([row])
    assert done.hausdorff_distance(row) <= REACH_M[1]
    assert tightest(done) >= min(RADIUS * 0.95, tightest(row) - 1e-6)
