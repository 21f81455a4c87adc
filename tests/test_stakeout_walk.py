"""The walk: against all orders by brute force, closed forms, and what a walker may not do."""

from itertools import permutations, product

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, box
from stakeout_builders import EAST, NORTH, StakeRule, arc_rows, marks_along, pond, rows_from

from geoagro.stakeout.order import Order, best_order, between, lower_bound
from geoagro.stakeout.walk import plan_walk
from geoagro.stakeout.ways import Ways

FIELD = box(EAST - 5, NORTH - 5, EAST + 105, NORTH + 105)


def lengths(places):
    return np.hypot(*(places[:, None] - places[None]).transpose(2, 0, 1))


def level_rows(count, length=60.0, step=4.5):
    return rows_from(
        [LineString([(EAST, NORTH + 50 - step * k), (EAST + length, NORTH + 50 - step * k)]) for k in range(count)]
    )


def walk_of(rows, free=FIELD, exclusions=(), **rule):
    chosen = StakeRule(**rule)
    return plan_walk(marks_along(rows, exclusions=exclusions, **rule), free, chosen)


@settings(max_examples=12, deadline=None)
@given(seed=st.integers(0, 10_000))
def test_the_order_is_near_the_best_of_all_orders_and_above_the_bound(seed):
    rows = 4
    length = lengths(np.random.default_rng(seed).uniform(0, 100, (2 * rows + 1, 2)))
    best = min(
        between(Order(np.array(order), np.array(turned)), length)
        for order in permutations(range(rows))
        for turned in product((0, 1), repeat=rows)
    )
    found = best_order(rows, length)
    assert sorted(found.rows) == list(range(rows))
    assert lower_bound(rows, length) <= best + 1e-9
    assert best - 1e-9 <= between(found, length) <= 1.1 * best


def test_equal_rows_are_walked_back_and_forth():
    walk = walk_of(level_rows(8))
    assert walk.between_m["planned"] == pytest.approx(7 * 4.5)
    assert walk.between_m["bound"] == pytest.approx(7 * 4.5)
    assert walk.between_m["one_way"] > 7 * 60
    assert walk.along_rows_m == pytest.approx(8 * 60)
    assert walk.parts["distance_m"].sum() == pytest.approx(7 * 4.5 + 8 * 60)


def test_every_mark_is_passed_once_and_in_line_along_its_row():
    walk = walk_of(arc_rows(9))
    marks = walk.marks
    assert sorted(marks["walk"]) == list(range(1, len(marks) + 1))
    for _, mine in marks.groupby("row"):
        assert set(np.diff(mine["walk"])) in ({1}, {-1})


def test_the_planned_walk_is_no_longer_than_back_and_forth():
    walk = walk_of(arc_rows(20))
    assert walk.between_m["bound"] <= walk.between_m["planned"] <= walk.between_m["back_and_forth"]


def test_a_pond_is_walked_around():
    water = pond(40, 30, size_m=15).area
    free = FIELD.difference(water)
    ways = Ways(np.array([[EAST + 30, NORTH + 37], [EAST + 60, NORTH + 37], [EAST + 30, NORTH + 90]]), free)
    way = LineString(ways.way(0, 1))
    around = np.hypot(10, 7) + 15 + np.hypot(5, 7)
    assert ways.length[0, 1] == pytest.approx(around, abs=1.5)  # corners are cut by up to half a metre
    assert way.length == pytest.approx(ways.length[0, 1])
    assert way.intersection(water.buffer(-0.6)).is_empty
    assert ways.length[0, 2] == pytest.approx(53)


def test_the_walk_keeps_out_of_the_pond():
    water = pond(30, 34, size_m=10)
    left = [LineString([(EAST, NORTH + y), (EAST + 29, NORTH + y)]) for y in (44, 40, 36)]
    right = [LineString([(EAST + 41, NORTH + y), (EAST + 80, NORTH + y)]) for y in (44, 40, 36)]
    walk = walk_of(rows_from([*left, *right]), free=FIELD.difference(water.area), exclusions=(water,))
    assert shapely.intersection(walk.parts.geometry.to_numpy(), water.area.buffer(-0.6)).tolist()[0].is_empty


def test_a_walk_begins_where_the_user_says():
    walk = walk_of(level_rows(3), walk_from=(EAST + 60, NORTH + 41))
    first = walk.marks.loc[walk.marks["walk"] == 1].iloc[0]
    assert (first["x"], first["y"]) == pytest.approx((EAST + 60, NORTH + 41))


def test_work_is_split_into_days_that_fit_and_are_even():
    walk = walk_of(level_rows(20), marking_hours_per_day=0.5, minutes_per_stake=2.0, walking_kmh=3.0)
    hours = walk.parts["hours"]
    assert hours.max() <= 0.5
    assert len(hours) == np.ceil(hours.sum() / 0.5)
    assert hours.max() - hours.min() < 0.2  # rows of some 9 minutes aren't cut
    assert walk.parts["stakes"].sum() == len(walk.marks)
    assert walk.parts["day"].tolist() == list(range(1, len(hours) + 1))


def test_two_crews_share_the_work_on_one_day():
    walk = walk_of(level_rows(20), marking_crews=2)
    assert walk.parts["crew"].tolist() == [1, 2]
    assert walk.parts["day"].tolist() == [1, 1]
    assert walk.parts["hours"].max() < 0.6 * walk.parts["hours"].sum()
    assert set(walk.marks.groupby("row")["day_trip"].nunique()) == {1}


def test_more_crews_than_rows_leave_some_without_work():
    walk = walk_of(level_rows(2), marking_crews=5)
    assert walk.parts["crew"].tolist() == [1, 2]
