"""Sets of rows mended anew in small places: what may change, what stays, and that it only ever gains."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from landforms import EAST, NORTH, all_of, broken, square, surface
from shapely import LineString, Point

from geoagro.rows.candidates import cut_to_limits, nudged, run_on_and_filled
from geoagro.rows.fall import Fall
from geoagro.rows.slopes import Slopes
from geoagro.rows.stitching import anew
from geoagro.rows.stitching.anew import _losses, _mended_somewhere, _middles, _Way, mended_in_places
from geoagro.rows.stitching.place_by_place import AROUND_M
from geoagro.rows.task import Task, legal_runs
from geoagro.values.design import RowRule

D = 4.5
WAYS = [_Way(12.0, 12, 1.0, None), _Way(16.0, 12, 2.0, 0.7), _Way(30.0, 24, 0.5, 0.95)]


def levels(offset=0.0):
    x = np.array([-60.0, 60.0])
    return [LineString(np.column_stack([EAST + x, NORTH + y + 0 * x])) for y in np.arange(-58.0 + offset, 60.0, D)]


def asked(shape=broken, **rule):
    ground = surface(shape)
    rule = RowRule(**{"max_grade_pct": 4, "preferred_grade_pct": 2} | rule)
    return Task(all_of(square()).plantable, ground, ground, rule)


@pytest.fixture(scope="module")
def task():
    return asked()


@pytest.fixture(scope="module")
def start(task):
    return cut_to_limits(nudged(levels(1.0), task, 6), task)


def wkb(found):
    return [row.wkb for row in found.held.kept]


@pytest.fixture
def short_turns(monkeypatch):
    monkeypatch.setattr(anew, "TURNS", 15)


def test_mending_in_places_wins_ends_by_itself_and_is_the_same_every_time(task, start, short_turns):
    turns = []
    better = mended_in_places(start, task, turns.append)
    assert better.worth > start.worth + anew.LEAST_WORTH
    assert turns == list(range(1, len(turns) + 1))
    assert len(turns) % 15 == 0
    assert wkb(mended_in_places(start, task)) == wkb(better)


def test_what_was_mended_in_places_holds_all_limits(task, start, short_turns):
    better = mended_in_places(start, task)
    again = cut_to_limits(better.held.kept, task)
    assert sum(row.length for row in again.held.kept) == pytest.approx(
        sum(row.length for row in better.held.kept), rel=1e-4
    )
    assert min(row.length for row in better.held.kept) >= task.rule.min_row_length_m


@pytest.mark.parametrize("way", WAYS)
def test_no_turn_ends_with_less_and_rows_far_from_its_places_stay_to_the_last_digit(task, start, way, monkeypatch):
    middle = np.array([[EAST + 20.0, NORTH - 10.0]])
    monkeypatch.setattr(anew, "_middles", lambda *_: middle)
    found = _mended_somewhere(start, task, way, np.random.default_rng(0))
    assert found.worth >= start.worth
    # ends that are drawn back or run on may do so outside of a place, in sight of what changed
    reach_m = way.radius_m + AROUND_M + 40
    far = [row.wkb for row in start.held.kept if row.distance(Point(middle[0])) > reach_m]
    assert set(far) <= set(wkb(found))


def test_nothing_is_looked_for_where_nothing_is_lost_and_no_rows_are_no_failure(task):
    flat = asked(lambda x, y: 0 * x, turning_cost_m=0)
    whole = cut_to_limits(levels(), flat)
    assert len(_losses(whole, flat)[0]) == 0
    assert wkb(_mended_somewhere(whole, flat, WAYS[0], np.random.default_rng(0))) == wkb(whole)
    none = cut_to_limits([], task)
    assert mended_in_places(none, task) is none


def test_what_is_lost_is_row_that_breaks_a_limit_and_ends_inside_the_ground(task, start):
    spots, lost_m = _losses(start, task)
    samples = start.view.samples
    illegal_m = samples.weight[~legal_runs(start.view, task)].sum()
    edge = task.plantable.boundary
    tips = [Point(xy) for row in start.held.kept for xy in (row.coords[0], row.coords[-1])]
    inside = sum(tip.distance(edge) > D for tip in tips)
    assert inside > 0
    assert lost_m.sum() == pytest.approx(illegal_m + inside * task.rule.turning_cost_m / 2)
    assert (lost_m > 0).all()
    assert spots.shape == (len(lost_m), 2)


@pytest.mark.parametrize("radius_m", anew.RADII_M)
def test_places_of_a_turn_lie_apart_and_near_what_is_lost(task, start, radius_m):
    spots, _ = _losses(start, task)
    for seed in range(5):
        middles = _middles(start, task, radius_m, np.random.default_rng(seed))
        assert len(middles) > 0
        apart = np.hypot(*(middles[:, None] - middles[None]).transpose(2, 0, 1)) + np.diag(
            np.full(len(middles), np.inf)
        )
        assert apart.min() > 2 * radius_m + AROUND_M
        near = np.hypot(*(middles[:, None] - spots[None]).transpose(2, 0, 1)).min(axis=1)
        assert (near < 4 * radius_m).all()


def test_rows_run_on_and_holes_get_rows_within_a_zone_only(task, start):
    zone = Point(EAST, NORTH).buffer(30)
    drawn = run_on_and_filled(start.held.kept, task, within=zone)
    new = shapely.union_all(drawn).difference(shapely.union_all(start.held.kept).buffer(1e-6))
    assert new.length > 1
    assert new.difference(zone.buffer(1.5 * D + 1)).length < 1e-6  # ends that face each other are joined from so far
    outside = run_on_and_filled(start.held.kept, task, within=Point(EAST + 500, NORTH).buffer(30))
    assert [row.wkb for row in outside] == wkb(start)


def test_a_wanted_fall_that_is_missed_counts_as_lost(task, start):
    falling = replace(task, fall=Fall(0.01, Point(EAST + 400, NORTH), Slopes.of(task.smooth)))
    found = cut_to_limits(nudged(levels(1.0), falling, 6), falling)
    level = _losses(found, task)[1].sum()
    missed_m = found.missed * task.plantable.area / D
    assert missed_m > 1
    assert _losses(found, falling)[1].sum() == pytest.approx(level + missed_m, rel=1e-6)
