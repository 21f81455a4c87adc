"""Rows run on, are joined and fill holes: along the contour, never too near to another row, never outside."""

import time
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
import shapely
from landforms import EAST, NORTH, all_of, broken, cone, gully, plane, rolling, saddle, square, surface, turned
from shapely import LineString, box

from geoagro.rows import contour
from geoagro.rows.candidates import cut_or_eased, cut_to_limits, mended, weighed
from geoagro.rows.contour import THOROUGH, USUAL, care_of, contour_rows
from geoagro.rows.fall import Fall
from geoagro.rows.mending import KEEP_OFF, RUN_ON_M, fill_holes, run_on
from geoagro.rows.quality import JUDGE_STEP_M
from geoagro.rows.slopes import Slopes
from geoagro.rows.stitching.fairing import fair_worth
from geoagro.rows.task import Task
from geoagro.values.design import RowRule
from geoagro.values.progress import silent

D = 4.5
SLOPE = 0.08
PLANE = Slopes.of(surface(plane))
WIDE = square(200.0)


def line(*xy):
    return LineString([(EAST + x, NORTH + y) for x, y in xy])


def level(y, west=-45.0, east=45.0):
    """A row on the contour of the plane, which rises to the north."""
    return line((west, y), (east, y))


def grow(rows, ground=PLANE, area=WIDE, *, radius_m=3.0, **given):
    return run_on(rows, ground, area, spacing_m=D, max_grade=0.04, radius_m=radius_m, **given)


def fill(rows, ground=PLANE, area=None):
    return fill_holes(rows, ground, square() if area is None else area, spacing_m=D, min_length_m=20.0)


def test_a_row_cut_in_two_is_joined_to_the_row_it_was():
    (row,) = grow([level(0, east=-3), level(0, west=9)], area=square())
    assert row.hausdorff_distance(level(0)) < 1e-6
    assert row.length == pytest.approx(90, abs=1e-6)


def test_a_joined_row_can_be_joined_again_at_its_other_end():
    pieces = [level(0, -45, -20), level(0, -10, 10), level(0, 18, 45)]
    (row,) = grow(pieces, area=square())
    assert row.hausdorff_distance(level(0)) < 1e-6


def test_ends_that_do_not_face_each_other_are_not_joined():
    rows = grow([level(0, east=0), line((3, -1), (3, -40))], area=square())
    assert len(rows) == 2


def test_rows_side_by_side_are_not_joined():
    assert len(grow([level(0, east=0), level(D, west=-10)], area=square())) == 2


def test_a_row_runs_on_to_the_edge_and_no_farther():
    (row,) = grow([level(0, -10, 10)], area=box(EAST - 30, NORTH - 30, EAST + 30, NORTH + 30))
    assert row.bounds[0] >= EAST - 30
    assert row.bounds[2] <= EAST + 30
    assert row.length >= 58


def test_a_row_runs_on_by_so_much_at_the_most():
    (row,) = grow([level(0, -10, 10)])
    assert row.length == pytest.approx(20 + 2 * RUN_ON_M)


def test_on_a_cone_a_row_runs_on_round_the_circle_that_it_is_on():
    ground = Slopes.of(surface(cone, cell_m=0.5))
    t = np.radians(np.linspace(0, 60, 40))
    row = LineString(np.column_stack([EAST + 30 * np.cos(t), NORTH + 30 * np.sin(t)]))
    (longer,) = grow([row], ground)
    radius = np.hypot(*(shapely.get_coordinates(longer) - [EAST, NORTH]).T)
    assert longer.length == pytest.approx(row.length + 2 * RUN_ON_M, abs=0.1)
    assert np.abs(radius - 30).max() < 1.2  # steps of a metre along chords drift outward a little


def test_a_row_off_the_contour_turns_onto_it_no_tighter_than_it_may():
    slanted = line((0, -20), (10, -10))
    (row,) = grow([slanted], radius_m=5.0)
    xy = shapely.get_coordinates(row)
    heading = np.unwrap(np.arctan2(*np.diff(xy, axis=0).T[::-1]))
    assert np.abs(np.diff(heading)).max() <= 1.0 / 5.0 + 1e-6
    assert heading[-1] == pytest.approx(0, abs=0.01)


def test_with_a_wanted_fall_a_row_runs_on_at_that_grade():
    fall = Fall(0.01, shapely.Point(EAST + 5000, NORTH), PLANE)
    (row,) = grow([level(0, -10, 10)], fall=fall)
    xy = shapely.get_coordinates(row)
    east = xy[xy[:, 0] > EAST + 15]
    grade = SLOPE * np.diff(east[:, 1]) / np.hypot(*np.diff(east, axis=0).T)
    assert grade[-10:] == pytest.approx(-0.01, rel=0.05)


def test_a_row_stops_short_of_another_row():
    wall = line((20, -40), (20, 40))
    rows = grow([level(0, -40, 0), wall])
    assert rows[0].distance(rows[1]) >= KEEP_OFF * D - 1e-6
    assert rows[0].length > 40


def test_rings_do_not_run_on():
    t = np.linspace(0, 2 * np.pi, 50)
    xy = np.column_stack([EAST + 9 * np.cos(t), NORTH + 9 * np.sin(t)])
    xy[-1] = xy[0]
    ring = LineString(xy)
    assert grow([ring]) == [ring]


def test_a_hole_between_rows_is_filled_with_level_rows_that_keep_their_distance():
    rows = [level(y) for y in np.arange(-43, 45, D)]
    hole = [k for k in range(len(rows)) if abs(rows[k].centroid.y - NORTH) < 10]
    holed = [row for k, row in enumerate(rows) if k not in hole]
    found = fill(holed)
    assert len(found) == len(hole)
    for k, row in enumerate(found):
        assert np.ptp(shapely.get_coordinates(row)[:, 1]) < 0.01
        assert row.length > 85
        for other in [*holed, *found[:k]]:
            assert row.distance(other) >= KEEP_OFF * D - 1.0  # cells of a metre


@pytest.mark.parametrize("toward", ["outlet", "ridge"])
def test_with_a_wanted_fall_a_hole_is_filled_at_that_grade(toward):
    # toward the ridge: a relief that rises to the east by a metre in a metre
    east = Slopes.of(surface(lambda x, _: x))
    fall = Fall(0.01, shapely.Point(EAST + 50_000, NORTH) if toward == "outlet" else None, east)
    found = fill_holes([level(1000)], PLANE, square(), spacing_m=D, min_length_m=20.0, fall=fall)
    assert shapely.length(found).sum() * D > 0.8 * square().area
    for row in found:
        western, eastern = sorted([row.coords[0], row.coords[-1]])
        assert SLOPE * (eastern[1] - western[1]) / row.length == pytest.approx(-0.01, rel=0.02)


def test_ground_planted_in_full_has_no_hole():
    assert fill([level(y) for y in np.arange(-43, 45, D)]) == []


def test_a_hole_too_short_for_a_row_stays():
    rows = [level(y) for y in np.arange(-43, 45, D)]
    split = [
        part for row in rows for part in (level(row.centroid.y - NORTH, -45, -8), level(row.centroid.y - NORTH, 8, 45))
    ]
    assert fill(split) == []


def test_a_field_without_a_row_is_filled_from_nothing():
    found = fill([level(1000)])
    assert shapely.length(found).sum() * D > 0.8 * square().area


def task(**given):
    return Task(all_of(square()).plantable, surface(plane), surface(plane), RowRule(**given))


def test_mending_rows_with_a_gap_gives_the_whole_rows_back():
    at = np.arange(-43, 45, D)
    rows = [level(y, -60, 60) for y in at if abs(y) > 8] + [
        level(y, *part) for y in at if abs(y) <= 8 for part in ((-60, -4), (4, 60))
    ]
    found = cut_to_limits(rows, task())
    better = mended(found, task(), 4)
    assert better.share > found.share
    assert len(better.held.kept) == len(at)
    assert shapely.length(better.held.kept) == pytest.approx(90, abs=0.1)


def test_a_corner_is_eased_instead_of_cut_where_its_neighbours_have_room():
    bent = [line((-44, 12 * k - 10), (0, 12 * k), (44, 12 * k - 10)) for k in (-2, -1, 0, 1, 2)]
    sharp = [line((-44, y - 20), (0, y), (44, y - 20)) for y in (-20, 0, 20)]
    level_task = task(max_grade_pct=60, min_turn_radius_m=6)
    for rows in (bent, sharp):
        assert len(cut_or_eased(rows, level_task).held.kept) == len(rows)
        assert len(cut_to_limits(rows, level_task).held.kept) >= len(rows)


def judged_worth(shape, thorough):
    """Worth of the rows laid on some ground, on samples as fine as the judge's, waves counted."""
    field, ground, rule = square(), surface(shape), RowRule(thorough=thorough)
    task = Task(field, ground, ground, rule)
    rows = contour_rows(field, ground, ground, rule).kept
    return fair_worth(weighed(rows, cut_to_limits(rows, task).held, replace(task, step_m=JUDGE_STEP_M)), task)


def test_rows_that_are_looked_for_longer_are_worth_more():
    shapes = (broken, rolling, gully, saddle, turned(saddle, 45))
    worth = [[judged_worth(shape, thorough) for thorough in (False, "auto", True)] for shape in shapes]
    won = np.diff(worth, axis=1)
    assert (won > -1e-9).all()  # on one ground there may be nothing more to find
    others = [turned(shape, angle) for shape in shapes[:3] for angle in (30, 60)] + [turned(saddle, 20)]
    more = [judged_worth(shape, "auto") - judged_worth(shape, False) for shape in others]
    assert np.mean([*won[:, 0], *more]) > 0.005
    assert won[:, 1].mean() > 0.005


@pytest.mark.parametrize("thorough", [False, "auto", True])
def test_the_share_of_the_work_that_is_done_grows_to_one_and_goes_on_growing_in_a_long_search(thorough):
    field, ground, shares = square(), surface(broken), []
    rule = RowRule(thorough=thorough)
    contour_rows(field, ground, ground, rule, progress=lambda what, share: shares.append(share))
    assert all(0 <= a <= b <= 1 for a, b in pairwise(shares))
    assert shares[-1] == 1
    assert len(set(shares)) > (40 if thorough is True else 1)


def test_a_long_search_tells_sets_apart_as_finely_as_the_judge_and_ends_with_no_less_than_the_usual_one():
    ground = surface(broken)
    task = Task(square(70.0), ground, ground, RowRule(thorough=True))
    (usual, longer), _ = contour._searched(task, THOROUGH, silent)
    assert usual.best.view.samples.weight.max() > JUDGE_STEP_M
    assert longer.best.view.samples.weight.max() <= JUDGE_STEP_M
    finely = replace(task, step_m=JUDGE_STEP_M)
    assert longer.best.worth >= weighed(usual.best.rows, usual.best.held, finely).worth


@pytest.mark.parametrize("size_m", [90.0, 500.0])
def test_left_open_every_field_is_given_the_same_care(size_m):
    ground = surface(plane, size_m=size_m, cell_m=5.0)
    task = Task(square(size_m), ground, ground, RowRule())
    assert care_of(task) == USUAL


def test_a_short_look_is_quicker():
    field, ground = square(), surface(broken)
    took = {}
    for thorough in (False, True):
        start = time.process_time()
        contour_rows(field, ground, ground, RowRule(thorough=thorough))
        took[thorough] = time.process_time() - start
    assert took[False] < took[True] / 2


def test_where_straight_rows_hold_nearly_all_the_ground_no_others_are_looked_for(monkeypatch):
    monkeypatch.setattr(contour, "_looked_for", lambda *_: pytest.fail("rows were looked for"))
    gentle = surface(lambda x, y: 0.01 * y + 0.1 * np.sin(x / 20))
    rows = contour_rows(square(), gentle, gentle, RowRule()).kept
    assert shapely.length(rows).sum() * D == pytest.approx(square().area, rel=0.06)
    with pytest.raises(pytest.fail.Exception):
        contour_rows(square(), gentle, gentle, RowRule(), guides=[level(0)])
