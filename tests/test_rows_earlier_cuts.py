"""Ground that was cut and stays empty keeps its reason, however often rows are mended."""

import numpy as np
import pytest
import shapely
from builders import UTM
from landforms import EAST, NORTH, all_of, broken, plane, rolling, square, surface
from shapely import LineString

from geoagro.ground.leftover import ground_without_rows
from geoagro.rows.candidates import cut_to_limits, mended
from geoagro.rows.earlier_cuts import SHORTEST_M, with_earlier_cuts
from geoagro.rows.numbering import number_rows
from geoagro.rows.task import Task
from geoagro.values.design import RowRule
from geoagro.values.rows import Lines

D = 4.5


def level(y, west=0.0, east=40.0):
    return LineString([(EAST + west, NORTH + y), (EAST + east, NORTH + y)])


def asked(shape):
    ground = surface(shape)
    return Task(all_of(square()).plantable, ground, ground, RowRule(max_grade_pct=4, preferred_grade_pct=2))


def together(kept, cut, earlier):
    return with_earlier_cuts(Lines(kept, cut), [earlier], spacing_m=D)


def test_a_piece_that_nothing_took_up_stays_cut():
    done = together([level(0)], [("short_row", level(9))], [("grade_limit", level(20))])
    assert done.kept == [level(0)]
    assert done.cut == [("short_row", level(9)), ("grade_limit", level(20))]


def test_a_piece_that_a_row_serves_now_is_cut_no_longer():
    assert together([level(2)], [], [("grade_limit", level(0))]).cut == []


def test_a_piece_that_a_row_serves_in_part_keeps_the_rest():
    row = level(0, 10, 20)
    left = together([row], [], [("grade_limit", level(0))]).cut
    assert [reason for reason, _ in left] == ["grade_limit"] * 2
    assert [piece.distance(row) for _, piece in left] == pytest.approx([D / 2] * 2)
    assert sum(piece.length for _, piece in left) == pytest.approx(40 - 10 - D)


def test_a_newer_cut_at_the_same_place_takes_over():
    newer = [("short_row", level(1))]
    assert together([level(50)], newer, [("grade_limit", level(0))]).cut == newer


@pytest.mark.parametrize("why", ["spacing_limit", "turning_cost"])
def test_ground_too_steep_for_a_row_stays_so_where_one_drawn_there_was_given_up(why):
    newer = [(why, level(1))]
    assert together([level(50)], newer, [("grade_limit", level(0))]).cut == [*newer, ("grade_limit", level(0))]
    assert together([level(50)], newer, [("short_row", level(0))]).cut == newer


def test_crumbs_are_left_out():
    almost = level(0, 0, 40 - D / 2 - SHORTEST_M / 2)
    assert together([almost], [], [("grade_limit", level(0))]).cut == []


def test_with_nothing_held_everything_stays_cut():
    earlier = [("grade_limit", level(0))]
    assert together([], [], earlier).cut == earlier
    assert together([], [], []).cut == []


def bank(x, y):
    """A bank 4 m high that runs slantwise over the plane: too steep to cross, too short to bend along."""
    return plane(x, y) + 2 * np.tanh((x + 0.3 * y) / 4)


@pytest.mark.parametrize("shape", [bank, broken, rolling])
def test_after_mending_every_empty_place_that_was_cut_before_has_a_reason(shape):
    task = asked(shape)
    found = cut_to_limits([level(y, -60, 60) for y in np.arange(-58, 60, D)], task)
    assert found.held.cut
    for _ in range(2):
        better = mended(found, task, 2)
        now = better.settled(D)
        told = [*now.kept, *(piece for _, piece in now.cut)]
        before = shapely.union_all([piece for _, piece in found.settled(D).cut])
        untold = before.difference(shapely.union_all(shapely.buffer(told, D / 2 + 0.02)))
        assert max(shapely.length(shapely.get_parts(untold)), default=0.0) <= SHORTEST_M
        found = better


def test_after_mending_the_account_of_a_bank_names_the_grade():
    task = asked(bank)
    found = cut_to_limits([level(y, -60, 60) for y in np.arange(-58, 60, D)], task)
    rows = number_rows(mended(found, task, 2).settled(D), heights=task.judged, spacing_m=D, crs=UTM)
    left = ground_without_rows(all_of(square()), rows.frame.geometry, rows.cut, spacing_m=D, tolerance=0.1)
    slope = square().intersection(shapely.LineString([(EAST + 13.5, NORTH - 45), (EAST - 13.5, NORTH + 45)]).buffer(3))
    on_it = left.clip(slope)
    area = on_it.geometry.area.groupby(on_it["reason"]).sum()
    assert area["grade_limit"] > 0.8 * area.sum() > 0


@pytest.mark.parametrize("seed", range(4))
def test_what_is_left_is_what_lies_outside_buffers_of_all_that_is_held(seed):
    rng = np.random.default_rng(seed)
    rows = [level(y, west, west + 25) for y, west in zip(np.arange(0, 60, D), rng.uniform(-20, 20, 14), strict=False)]
    pieces = [level(y, west, west + size) for y, west, size in rng.uniform([0, -20, 0.3], [60, 40, 12], (60, 3))]
    left = together(rows, [], [("grade_limit", piece) for piece in pieces]).cut
    served = shapely.union_all(shapely.buffer(np.array(rows, dtype=object), D / 2, quad_segs=256))
    expected = shapely.get_parts(shapely.difference(np.array(pieces, dtype=object), served))
    expected = expected[shapely.length(expected) >= SHORTEST_M]
    assert len(left) == len(expected) > 5
    assert sum(p.length for _, p in left) == pytest.approx(shapely.length(expected).sum(), abs=0.05)


def test_rows_whose_ends_only_touch_the_edge_of_a_pieces_reach_take_nothing_of_it():
    for turn in np.linspace(0.01, 3.1, 200):
        along, across = np.array([np.cos(turn), np.sin(turn)]), np.array([-np.sin(turn), np.cos(turn)])
        foot = np.array([EAST, NORTH]) + 5 * along + D / 2 * across
        piece, row = LineString([(EAST, NORTH), (EAST, NORTH) + 10 * along]), LineString([foot, foot + 30 * across])
        left = together([row], [], [("grade_limit", piece)]).cut
        assert sum(part.length for _, part in left) == pytest.approx(10, abs=1e-3)
