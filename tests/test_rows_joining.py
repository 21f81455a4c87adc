"""Ends that face each other are joined where a row may run between them, and nowhere else."""

import numpy as np
import pytest
import row_judge
import shapely
from hypothesis import given
from hypothesis import strategies as st
from landforms import EAST, NORTH, plane, square, surface
from shapely import LineString, MultiPolygon, box

from geoagro.rows.joining import join_facing, possible_joins
from geoagro.rows.task import Task
from geoagro.values.design import RowRule

D = 4.5
GROUND = surface(plane)  # rises to the north
RULE = RowRule(spacing_m=D, spacing_tolerance_pct=10, max_grade_pct=4.0, min_row_length_m=20.0, min_turn_radius_m=3.0)


def task(area=None, rule=RULE):
    return Task(square() if area is None else area, GROUND, GROUND, rule)


def level(y, west=-45.0, east=45.0):
    return LineString([(EAST + west, NORTH + y), (EAST + east, NORTH + y)])


def join(rows, **given):
    return join_facing(rows, task(**given))


def test_a_row_with_a_gap_becomes_one_row():
    (row,) = join([level(0, east=-4), level(0, west=6)])
    assert row.hausdorff_distance(level(0)) < 1e-5


def test_a_joined_row_is_joined_again_at_its_other_end():
    (row,) = join([level(0, -45, -20), level(0, -12, 10), level(0, 18, 45)])
    assert row.length == pytest.approx(90, abs=1e-5)


def test_ends_a_little_off_are_joined_by_a_curve_that_holds_every_limit():
    (row,) = join([level(0, east=-6), level(0.3, west=6)])
    height = plane
    steepest = max(row_judge.grade(row, s, height) for s in np.arange(0, row.length, 0.5))
    assert steepest <= 0.04
    assert min(row_judge.radius(row, s) for s in np.arange(0, row.length, 0.5)) >= RULE.min_turn_radius_m


@pytest.mark.parametrize(
    "rows",
    [
        [level(0, east=-10), level(0, west=10)],  # too far
        [level(0, east=-5), level(0, west=5), level(3.9)],  # another row too near
        [level(0, east=0), level(D, west=0)],  # side by side
        [level(0, east=0), LineString([(EAST + 3, NORTH - 1), (EAST + 3, NORTH - 40)])],  # not facing
    ],
)
def test_what_no_row_may_cross_stays_open(rows):
    assert len(join(rows)) == len(rows)


def test_no_row_is_joined_across_itself():
    hooked = [(3, 40), (3, -6), (-9, -6), (-9, 0), (-2, 0)]
    rows = [LineString([(EAST + x, NORTH + y) for x, y in hooked]), level(0, west=8)]
    wide = RowRule(spacing_m=20.0, max_grade_pct=40.0, preferred_grade_pct=20.0, min_turn_radius_m=0.0)
    assert all(row.is_simple for row in join(rows, rule=wide))


def test_a_gap_that_only_a_steep_curve_crosses_stays_open():
    rows = [level(0, east=-5), level(2, west=5)]
    assert len(join(rows)) == 1
    assert len(join(rows, rule=RULE.model_copy(update={"max_grade_pct": 1.0}))) == 2


def test_no_row_runs_through_kept_ground():
    hole = box(EAST - 1, NORTH - 1, EAST + 1, NORTH + 1)
    assert (
        len(join([level(0, east=-5), level(0, west=5)], area=MultiPolygon([square().geoms[0].difference(hole)]))) == 2
    )


@given(seed=st.integers(0, 1000))
def test_joined_rows_keep_their_distance_and_what_was_there(seed):
    rng = np.random.default_rng(seed)
    rows = []
    for k in range(-3, 4):
        gap, middle = rng.uniform(3, 16), rng.uniform(-15, 15)
        shift = rng.uniform(-0.3, 0.3)
        rows += [level(k * D, -45, middle - gap / 2), level(k * D + shift, middle + gap / 2, 45)]
    done = join(rows)
    assert shapely.union_all(done).buffer(3.0).covers(shapely.union_all(rows))
    assert len(possible_joins(done, task())) in range(4)  # the rest would lose legal row
    near = [a.distance(b) for k, a in enumerate(done) for b in done[k + 1 :]]
    was = [a.distance(b) for k, a in enumerate(rows) for b in rows[k + 1 :]]
    assert min(near) >= min(0.9 * D, *was) - 1e-6
