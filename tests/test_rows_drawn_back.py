"""Row ends are drawn back where their neighbours win more by it, what that wins is foretold, and what stays is left alone."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from landforms import EAST, NORTH, broken, laid_on, plane, square, surface
from shapely import LineString

from geoagro.planar.polylines import stretch
from geoagro.planar.segments import segments_of
from geoagro.rows import drawn_back as module
from geoagro.rows.candidates import cut_to_limits, drawn_back, weighed
from geoagro.rows.drawn_back import given_up
from geoagro.rows.quality import JUDGE_STEP_M, holds_spacing, run_length, view_rows
from geoagro.rows.task import Around, Task
from geoagro.values.design import RowRule
from geoagro.values.rows import Lines, RowWindow

D, SHORTEST_M = 4.5, 20.0
GROUND = surface(plane)
TASK = Task(square(200.0), GROUND, GROUND, RowRule(max_grade_pct=40, preferred_grade_pct=20))


def line(*xy):
    return LineString([(EAST + x, NORTH + y) for x, y in xy])


ALONG = line((-50, 0), (60, 0))
DRIFTING = line((-50, D), (0, D), (4, 1.24 * D), (28, 1.24 * D))
"""Its last 26 m are too far from the row below to hold the spacing, and too near for that one's side to be open."""


FAR = line((5000, 5000), (5001, 5000))


def gone(rows, task=TASK, step_m=JUDGE_STEP_M):
    view = view_rows([*task.around.kept, *rows], task.judged, D, near_m=0.0, step_m=step_m)
    return given_up(view, [*task.around.kept, *rows], task)[0]


def legal_m(view, rows):
    """Length of legal row at the samples of a view, as they would see these rows; none where a sample's own row is gone."""
    samples, ok = view.samples, np.ones(len(view.samples), dtype=bool)
    for side in (1, -1):
        way = side * np.column_stack([-samples.ty, samples.tx])
        met = segments_of(rows).first_hit(samples.xy, way, 0.0, 2.5 * D, standing=samples.standing(3 * D))
        ok &= holds_spacing(met.distance, spacing_m=D, tolerance=0.1)
    ok &= shapely.distance(shapely.points(samples.xy), np.array(rows, dtype=object)[samples.row]) < 1e-3
    return run_length(ok, samples, SHORTEST_M)


def test_an_end_gives_up_the_stretch_in_which_it_and_its_neighbour_break_the_spacing():
    back = gone([ALONG, DRIFTING])
    assert back[1, 1] == pytest.approx(26.5, abs=1.5)
    assert np.count_nonzero(back) == 1


def test_an_end_beside_a_neighbour_at_the_right_distance_stays():
    assert not gone([ALONG, line((-50, D), (28, D))]).any()


def test_an_end_stays_where_the_neighbour_would_see_another_row_out_of_tolerance_behind_it():
    behind = line((-50, 2 * D), (0, 2 * D), (4, 1.5 * D + 1.24 * D / 4), (60, 1.5 * D + 1.24 * D / 4))
    across = shapely.affinity.scale(behind, 1, 0.8, origin=(EAST, NORTH))
    assert gone([ALONG, DRIFTING])[1, 1] > gone([ALONG, DRIFTING, across])[1, 1]


def test_a_row_that_stays_a_ring_and_an_end_on_a_guide_are_left_alone():
    kept = replace(TASK, around=Around(kept=(DRIFTING,)))
    assert not gone([ALONG], kept)[0].any()
    guided = replace(TASK, guides=(DRIFTING,))
    assert not gone([ALONG, DRIFTING], guided)[1].any()
    joined = replace(TASK, around=Around(edge=shapely.Point(DRIFTING.coords[-1]).buffer(1).boundary))
    assert not gone([ALONG, DRIFTING], joined)[1].any()


def test_with_beds_asked_for_less_is_given_up():
    short = line((-50, D), (0, D), (4, 1.24 * D), (8, 1.24 * D), (12, D), (50, D))
    plain, beds = TASK, replace(TASK, window=RowWindow(need_m=4.0, aim_m=D))
    assert module.price_given_up(beds) > module.price_given_up(plain)
    assert gone([ALONG, short], beds).sum() <= gone([ALONG, short], plain).sum()


@st.composite
def rows_that_drift(draw):
    """Rows side by side whose ends lie and drift anywhere, of whole metres length."""
    rows = []
    for number in range(draw(st.integers(2, 5))):
        west, east = draw(st.integers(-60, -25)), draw(st.integers(15, 60))
        off = draw(st.sampled_from([0.0, 0.0, 0.2, 0.3, 0.45])) * D
        y, bend = number * D, draw(st.integers(-20, 10))
        rows.append(line((west, y), (bend, y), (bend + 3, y + off), (east, y + off)))
    return [stretch(row, 0, np.floor(row.length)) for row in rows]


@settings(max_examples=150, deadline=None)
@given(rows_that_drift())
def test_what_an_end_wins_is_what_measuring_the_shorter_row_anew_gives(rows):
    view = view_rows(rows, None, D, near_m=0.0, step_m=1.0)
    told = {}

    def keep(win_m, xy):
        told["win"] = win_m
        return np.flatnonzero(win_m > module.LEAST_WIN_M)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(module, "_apart", keep)
        back, _ = given_up(view, rows, TASK)
    wins = iter(told["win"][told["win"] > module.LEAST_WIN_M]) if told else iter(())
    for row, last in zip(*np.nonzero(back), strict=True):
        gone_m, whole = back[row, last], rows[row]
        left, fewer = list(rows), gone_m > whole.length - 1e-6
        assert fewer or whole.length - gone_m >= SHORTEST_M - 1e-6
        left[row] = (
            FAR if fewer else stretch(whole, 0 if last else gone_m, whole.length - gone_m if last else whole.length)
        )
        won = legal_m(view, left) - legal_m(view, rows) + TASK.turning_cost_m * fewer - module.GIVEN_UP * gone_m
        assert next(wins) == pytest.approx(won, abs=1e-6)


@pytest.fixture(scope="module")
def laid():
    """Rows on broken ground as cuts leave them, not drawn back yet."""
    ground = surface(broken, size_m=90.0)
    task = Task(square(90.0), ground, ground, RowRule())
    return cut_to_limits(laid_on(broken).kept, task), task


def test_drawing_back_never_loses_more_than_the_length_is_held_to_cost_and_what_is_given_up_is_told(laid):
    found, task = laid
    shorter = drawn_back(cut_to_limits([stretch(row, 0, row.length) for row in found.held.kept], task), task)
    before, after = (sum(row.length for row in one.held.kept) for one in (found, shorter))
    cost = module.GIVEN_UP * (before - after) * D / task.plantable.area
    assert shorter.worth - found.worth >= cost - 1e-9
    told = sum(piece.length for _, piece in shorter.settled(D).cut) - sum(piece.length for _, piece in found.held.cut)
    assert told <= before - after + 1e-6


def test_rows_drawn_back_hold_all_limits(laid):
    found, task = laid
    rows = [ALONG, DRIFTING]
    wide = replace(TASK, plantable=square(200.0))
    shorter = drawn_back(weighed(rows, Lines(rows, []), wide), wide)
    assert len(shorter.held.kept) == 2
    assert sum(row.length for row in shorter.held.kept) < ALONG.length + DRIFTING.length - 20
    assert [reason for reason, _ in shorter.held.cut] == ["spacing_limit"]
    for one, ground in ((shorter, wide), (drawn_back(found, task), task)):
        again = cut_to_limits(list(one.held.kept), ground)
        assert not again.held.cut
        assert sum(row.length for row in again.held.kept) == pytest.approx(sum(row.length for row in one.held.kept))
