"""Steps of nudging rows in a zone, each on rows where the answer can be worked by hand."""

import numpy as np
import pytest
import shapely
from shapely import LineString, box

from geoagro.rows.stitching import smoothing
from geoagro.rows.stitching.smoothing import AROUND_M, STEP_M, _cut, _moved, _parts, smoothed


def cut(row, area):
    shapely.prepare(area)
    return _cut(np.array([row], dtype=object), area)[0]


def test_a_row_is_cut_at_the_last_vertex_that_is_seen_on_both_sides():
    row = LineString([(x, 0.0) for x in range(0, 21, 2)])
    found = cut(row, box(5, -1, 13, 1))
    assert found.seen == [False, True, False]
    assert [part[[0, -1], 0].tolist() for part in found.parts] == [[0, 6], [6, 12], [12, 20]]


def test_where_vertices_are_far_apart_there_are_more():
    found = cut(LineString([(0, 0), (100, 0)]), box(40, -1, 60, 1))
    assert found.seen == [False, True, False]
    first, last = found.parts[1][[0, -1], 0]
    assert 40 <= first <= 40 + STEP_M and 60 - STEP_M <= last <= 60
    assert (found.parts[0][-1] == found.parts[1][0]).all() and (found.parts[1][-1] == found.parts[2][0]).all()


@pytest.mark.parametrize(
    ("area", "seen"),
    [(box(-1, -1, 21, 1), [True]), (box(-1, 5, 21, 6), [False]), (box(-1, -1, 5, 1), [True, False])],
)
def test_a_row_that_lies_inside_or_beside_or_comes_out_once_has_as_many_parts(area, seen):
    assert cut(LineString([(x, 0.0) for x in range(0, 21, 2)]), area).seen == seen


def test_one_vertex_inside_is_no_part():
    found = _parts(np.array([[0.0, 0], [2, 0], [4, 0]]), np.array([False, True, False]))
    assert found.seen == [False]
    assert len(found.parts[0]) == 3


def ring(count=24, radius=10.0):
    turn = np.linspace(0, 2 * np.pi, count + 1)
    return LineString([*zip(radius * np.cos(turn[:-1]), radius * np.sin(turn[:-1]), strict=True), (radius, 0.0)])


def test_a_ring_begins_outside_so_that_what_is_seen_is_in_one_part():
    found = cut(ring(), box(0, -20, 20, 20))
    assert found.seen.count(True) == 1
    mine = found.parts[found.seen.index(True)]
    assert mine[:, 0].min() >= 0 and mine[:, 0].max() == pytest.approx(10.0)
    whole = np.concatenate([found.parts[0], *(part[1:] for part in found.parts[1:])])
    assert (whole[0] == whole[-1]).all()
    assert len(whole) == 25
    assert LineString(whole).length == pytest.approx(ring().length)


def test_a_ring_that_is_seen_whole_stays_one():
    found = cut(ring(), box(-20, -20, 20, 20))
    assert found.seen == [True]
    new = LineString(shapely.get_coordinates(ring(radius=11.0)))
    assert (_moved(found.parts[0], new) == shapely.get_coordinates(new)).all()


def test_a_nudged_part_keeps_the_ends_that_it_had():
    part = np.array([[0.0, 0], [2, 0], [4, 0]])
    found = _moved(part, LineString([(0, 1), (1, 1), (3, 1), (4, 1)]))
    assert found.tolist() == [[0, 0], [1, 1], [3, 1], [4, 0]]


def test_parts_come_back_to_the_rows_that_they_are_of(monkeypatch):
    """Nudged by a metre to the north, wherever they are seen."""
    zone = box(20, -5, 30, 20)
    rows = [LineString([(x, y) for x in range(-60, 121, 3)]) for y in (0.0, 10.0, 200.0)]

    def lifted(some, _task, _rounds, *, movable, firm):
        assert movable is zone
        assert firm == 2.0
        return [shapely.transform(row, lambda xy: xy + np.array([0.0, 1.0])) for row in some]

    monkeypatch.setattr(smoothing, "nudged", lifted)
    found = smoothed(rows, zone, None, 1, firm=2.0)
    assert found[2] is rows[2]
    for before, after in zip(rows[:2], found[:2], strict=True):
        xy, was = shapely.get_coordinates(after), shapely.get_coordinates(before)
        up = xy[:, 1] - was[:, 1]
        assert (xy[:, 0] == was[:, 0]).all() and set(up.tolist()) == {0.0, 1.0}
        moved = xy[up == 1.0, 0]
        assert moved.min() >= 20 - AROUND_M and moved.max() <= 30 + AROUND_M
        assert moved.min() <= 20 - AROUND_M / 2 and moved.max() >= 30 + AROUND_M / 2


def test_where_no_row_is_near_nothing_is_nudged(monkeypatch):
    monkeypatch.setattr(smoothing, "nudged", None)
    row = LineString([(0, 0), (50, 0)])
    assert smoothed([row], box(0, 100, 10, 110), None, 1) == [row]
