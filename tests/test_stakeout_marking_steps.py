"""Walks, receivers, procedures, names and plots: each step by hand."""

from itertools import permutations, product

import numpy as np
import pandas as pd
import pytest
import shapely
import shapely.affinity
from shapely import LineString, MultiPolygon, box

from geoagro.errors import LayoutError
from geoagro.stakeout.labels import KnownRow, _free_label, _free_name, _kept_names, mark_names
from geoagro.stakeout.marks import _bearing, _first_of_each, _near, _not_round, _why_short
from geoagro.stakeout.order import (
    Order,
    _move_rows,
    _turn_stretch,
    back_and_forth,
    best_order,
    between,
    lower_bound,
    nearest_next,
    one_way,
)
from geoagro.stakeout.places import Place, bends, extent_along, merged, row_ends, turns
from geoagro.stakeout.plots import _grid, _longest_side, _on_grid, _scattered
from geoagro.stakeout.procedure import (
    LEVEL_SD_M,
    PEG_SD_M,
    TAPE_SD_M,
    _base_row_steps,
    _base_rows,
    _between,
    _between_steps,
    _corners,
    _depths,
    _kept,
    _key_sd,
    _two_from,
    base_row_sd,
    levellings,
    most_between,
    slope_across,
    way_of,
)
from geoagro.stakeout.receivers import CLASSES, advice, rule_for, sigma_of
from geoagro.stakeout.records.procedure import Findable
from geoagro.stakeout.walk import _filled, _hours, _start, _without_repeats
from geoagro.stakeout.ways import Ways, corners
from geoagro.values.site import Exclusion
from geoagro.values.stakeout import TAPE, StakeRule

NAN = float("nan")


# --- walking -----------------------------------------------------------------------------------------------------


def lengths(points):
    return np.hypot(*(points[:, None] - points[None]).transpose(2, 0, 1))


def test_ways_between_rows_are_added_up_from_the_start_on():
    """Three rows from west to east, 1 m apart to the north; the walk begins at the south-west corner."""
    ends = np.array([[0, 0], [10, 0], [0, 1], [10, 1], [0, 2], [10, 2], [0, 0]], dtype=float)
    length = lengths(ends)
    assert between(one_way(3), length) == pytest.approx(2 * np.hypot(10, 1))
    there_and_back = back_and_forth(3, length)
    assert there_and_back.turned.tolist() == [0, 1, 0] and between(there_and_back, length) == 2.0
    assert there_and_back.places().tolist() == [-1, 0, 1, 3, 2, 4, 5]
    assert nearest_next(3, length).rows.tolist() == [0, 1, 2] and nearest_next(3, length, 5).turned.tolist() == [
        1,
        0,
        1,
    ]
    assert nearest_next(3, length, 5).rows.tolist() == [2, 1, 0]
    assert lower_bound(3, length) <= 2.0 and lower_bound(3, length) > 0.9
    assert between(Order(np.array([2, 0]), np.array([1, 0])), length) == pytest.approx(length[6, 5] + length[4, 0])


def random_walk(seed, rows=6):
    chance = np.random.default_rng(seed)
    length = lengths(chance.uniform(0, 100, (2 * rows + 1, 2)))
    return Order(chance.permutation(rows), chance.integers(0, 2, rows)), length


@pytest.mark.parametrize("seed", range(4))
def test_the_stretch_that_is_turned_round_is_the_one_that_saves_most(seed):
    order, length = random_walk(seed)
    n, now = len(order.rows), between(order, length)

    def turned(i, j):
        rows, turns = order.rows.copy(), order.turned.copy()
        rows[i : j + 1], turns[i : j + 1] = rows[i : j + 1][::-1], 1 - turns[i : j + 1][::-1]
        return between(Order(rows, turns), length)

    for window in (2, n):
        best = min(turned(i, j) for i in range(n) for j in range(i, min(i + window, n)))
        found = _turn_stretch(order, length, window)
        assert (found is None) == (best >= now - 1e-6)
        assert found is None or between(found, length) == pytest.approx(best)


@pytest.mark.parametrize("seed", range(4))
def test_the_rows_that_are_moved_are_those_that_save_most(seed):
    order, length = random_walk(seed)
    n, now = len(order.rows), between(order, length)

    def moved(i, count, at, turn):
        pairs = list(zip(order.rows.tolist(), order.turned.tolist(), strict=True))
        piece, rest = pairs[i : i + count], pairs[:i] + pairs[i + count :]
        piece = [(row, 1 - turns) for row, turns in piece[::-1]] if turn else piece
        rows, turns = zip(*(rest[:at] + piece + rest[at:]), strict=True)
        return between(Order(np.array(rows), np.array(turns)), length)

    moves = [
        (i, c, at, t)
        for c in (1, 2, 3)
        for i in range(n - c + 1)
        for at in range(n - c + 1)
        if at != i
        for t in (False, True)
    ]
    best = min(moved(*move) for move in moves)
    found = _move_rows(order, length, n)
    assert (found is None) == (best >= now - 1e-6)
    assert found is None or between(found, length) == pytest.approx(best)
    assert sorted(found.rows.tolist() if found else range(n)) == list(range(n))


def test_no_order_goes_below_the_bound():
    """All orders of four rows tried; where rows lie end to end the bound is what must be walked."""
    for seed in range(3):
        _, length = random_walk(seed, 4)
        orders = (
            Order(np.array(rows), np.array(turns))
            for rows in permutations(range(4))
            for turns in product((0, 1), repeat=4)
        )
        least = min(between(order, length) for order in orders)
        assert 0.5 * least < lower_bound(4, length) <= least + 1e-9
        assert between(best_order(4, length), length) == pytest.approx(least)
    line = np.array([[1, 0], [2, 0], [3, 0], [4, 0], [5, 0], [6, 0], [0, 0]], dtype=float)  # gaps of a metre
    assert between(best_order(3, lengths(line)), lengths(line)) == 3.0 and 2.0 <= lower_bound(3, lengths(line)) <= 3.0


def test_rows_fill_days_as_they_fit():
    own, step, reach = np.array([2.0, 2.0, 2.0, 2.0]), np.array([0.0, 0.5, 0.5, 0.5]), np.array([1.0, 1.0, 0.2, 1.0])
    assert _filled(own, step, reach, 5.5) == [2, 2]  # 1 + 2 + 0.5 + 2, then 0.2 + 2 + 0.5 + 2
    assert _filled(own, step, reach, 5.4) == [1, 1, 2]  # 1 + 2, 1 + 2, and 0.2 + 2 + 0.5 + 2
    assert _filled(own, step, reach, 1.0) == [1, 1, 1, 1]
    rule = StakeRule(walking_kmh=3.0, minutes_per_stake=2.0)
    assert _hours(np.array([1500.0]), np.array([45]), rule).tolist() == [2.0]
    ends = np.array([[0.0, 9.0], [2.0, 2.0], [5.0, 0.0]])
    assert _start(ends, "auto").tolist() == [2.0, 2.0] and _start(ends, (7.0, 8.0)).tolist() == [7.0, 8.0]
    assert _without_repeats(np.array([[0.0, 0.0], [0.0, 0.0], [1.0, 0.0]])).tolist() == [[0.0, 0.0], [1.0, 0.0]]


def test_a_way_round_a_pond_touches_its_corners():
    free = box(0, 0, 30, 20).difference(box(10, 5, 20, 20))
    ways = Ways(np.array([[5.0, 15.0], [25.0, 15.0], [5.0, 1.0]]), free)
    round_ = 2 * np.hypot(5.5, 9.5) + 9.0  # the pond's ground is taken half a metre narrower on each side
    assert ways.length[0, 1] == ways.length[1, 0] == pytest.approx(round_, abs=0.3)
    assert ways.length[0, 2] == 14.0 and ways.way(0, 2).tolist() == [[5.0, 15.0], [5.0, 1.0]]
    assert ways.walked(0, 1) == pytest.approx(ways.length[0, 1]) and len(ways.way(0, 1)) == 4
    assert sorted(map(tuple, corners(free))) == [(10.0, 5.0), (20.0, 5.0)]


# --- receivers ---------------------------------------------------------------------------------------------------


def test_receivers_err_as_their_sources_say():
    """Radius of 95 % (4.9 m phone, 2 m with correction) by chi-square, mean error 7 to 13 m under trees, RMS of data sheets."""
    sigma = {code: one.sigma_m for code, one in CLASSES.items()}
    assert 4.9 / sigma["phone"] == 2.0 / sigma["sbas"] == pytest.approx(np.sqrt(-2 * np.log(0.05)), rel=1e-4)
    assert 7 < sigma["phone_under_trees"] * np.sqrt(np.pi / 2) < 13
    assert sigma["phone_under_trees"] * np.sqrt(np.pi / 2) == pytest.approx(10.0, rel=1e-3)
    assert sigma["dgnss"] * np.sqrt(2) == pytest.approx(0.40, rel=1e-4)
    assert sigma["rtk"] * np.sqrt(2) == pytest.approx(0.013, rel=1e-4)  # 8 mm and 5 mm for 5 km
    assert sigma_of(StakeRule(receiver="rtk")) == sigma["rtk"] and sigma_of(StakeRule(accuracy_m=0.7)) == 0.7


def test_advice_follows_the_error_against_the_limit():
    texts = [str(advice(p95, 1.0, "4")) for p95 in (0.5, 0.51, 1.0, 1.01, 2.01, 3.01, 5.0, 5.01)]
    assert texts[0] == "Set every stake with it." and texts[1] == texts[2] and "check the distance" in texts[1]
    assert [t.split()[1] + " " + t.split()[2] for t in texts[3:7]] == [
        "every second",
        "every third",
        "every fourth",
        "every fifth",
    ]
    assert "Mark row 4 first" in texts[7]


def test_tolerance_and_minutes_follow_from_what_sets_the_stakes():
    rule = StakeRule()
    assert rule_for(rule, 0.8, 2.0, "points").tolerance_m == 0.2  # a quarter of what stakes are off
    assert rule_for(rule, 0.8, 2.0, "level_and_tape").tolerance_m == 0.25  # a quarter of half the limit
    assert rule_for(rule, 0.01, 2.0, "points").tolerance_m == rule.tolerance_m == 0.05
    assert rule_for(StakeRule(tolerance_m=0.11, minutes_per_stake=9.0), 0.8, 2.0, "points").tolerance_m == 0.11
    minutes = [
        rule_for(rule, 0.8, 2.0, way).minutes_per_stake
        for way in ("points", "points_and_tape", "level_and_tape", "pegs_and_tape")
    ]
    assert minutes[0] < minutes[1] <= minutes[3] < minutes[2] <= 6.0
    assert rule_for(StakeRule(minutes_per_stake=9.0), 0.8, 2.0, "points").minutes_per_stake == 9.0


# --- the procedure of marking ------------------------------------------------------------------------------------


def test_rows_between_two_base_rows_keep_the_promise_and_one_more_breaks_it():
    for promise, key_sd in ((0.225, 0.0), (0.225, 0.1), (0.5, 0.2)):
        n = most_between(promise, key_sd)
        assert _kept(key_sd, n) <= promise + 1e-9 < _kept(key_sd, n + 1)
    assert most_between(0.1, 0.5) == 1
    assert _kept(0.2, 4) == pytest.approx(1.96 * np.sqrt(4 * 0.03**2 / 4 + 0.02))
    assert base_row_sd(0.1) == pytest.approx(np.hypot(0.1, 0.05)) and base_row_sd(0.1, 4) == pytest.approx(
        np.hypot(0.05, 0.05)
    )
    # 1 cm of height on a slope of 3 % is a third of a metre; taping at 1 in 3,000 over 50 m, twice, with setting the peg
    assert pytest.approx(1 / 3) == LEVEL_SD_M / 0.03 and 50 / 3000 * np.sqrt(2) <= PEG_SD_M < 0.06
    assert 4.5 / 3000 < TAPE_SD_M < 0.04
    assert levellings(0.001, 0.1) == 5 and levellings(10.0, 0.3) == 1


def test_the_way_of_marking_follows_from_error_limit_and_slope():
    assert [way_of(e, 1.0, 0.1) for e in (1.0, 1.01, 5.0, 5.01)] == [
        "points",
        "points_and_tape",
        "points_and_tape",
        "level_and_tape",
    ]
    assert [way_of(9.0, 1.0, s) for s in (0.03, 0.029)] == ["level_and_tape", "pegs_and_tape"]
    assert [_between(way, 3.2, 1.0, 0.0) for way in ("points", "points_and_tape")] == [0, 4]
    assert _between("points_and_tape", 1.1, 1.0, 0.0) == 2 and _between("pegs_and_tape", 9.0, 1.0, 0.1) == most_between(
        0.5, 0.1
    )
    assert _key_sd("points", 3.0, 0.1, 1) == 0.0 and _key_sd("pegs_and_tape", 3.0, 0.1, 1) == PEG_SD_M
    assert _key_sd("points_and_tape", 1.96 * np.sqrt(2), 0.1, 1) == pytest.approx(
        1.0
    )  # spacings err by two rows' errors
    assert _key_sd("level_and_tape", 9.0, 0.1, 4) == base_row_sd(0.1, 4)
    tapes = pd.DataFrame({"rise_m": [0.4, -0.8, 1.2, 5.0, NAN], "level_m": [4.0, 4.0, 4.0, 0.0, 4.0]})
    assert slope_across(tapes) == pytest.approx(0.2) and slope_across(tapes.iloc[4:]) == 0.0


def test_base_rows_are_the_longest_of_their_depth_at_even_distances_and_the_last():
    tapes = pd.DataFrame({"row": [1, 2, 2, 3, 5, 7], "to_row": [2, 3, 4, 5, 6, 8]})
    first, second = _depths(tapes, [1, 2, 3, 4, 5, 6, 7, 8])
    assert first == {1: 0, 2: 1, 3: 2, 4: 2, 5: 3, 6: 4} and second == {7: 0, 8: 1}
    marks = pd.DataFrame({"row": [1, 2, 3, 4, 5, 6], "station_m": [9.0, 9.0, 8.0, 12.0, 9.0, 9.0]})
    assert (
        _base_rows(marks, first, 2) == [1, 4, 6]
        and _base_rows(marks, first, 3) == [1, 5, 6]
        and _base_rows(marks, first, 9) == [1, 6]
    )
    even = marks.assign(station_m=9.0)
    assert _base_rows(even, first, 2) == [1, 3, 6]


def test_corners_that_turn_by_thirty_degrees_are_findable():
    def ring(turn):
        far = 100 * np.exp(1j * np.radians(turn))
        return shapely.Polygon([(-100, 0), (0, 0), (far.real, far.imag), (0, 90)]).exterior

    assert len(_corners(ring(31.0))) == 4 and len(_corners(ring(-29.0))) == 3
    assert len(_corners(box(0, 0, 50, 50).exterior)) == 4
    thin = shapely.Polygon([(0, 0), (50, 0), (50, 1.5), (51, 1.5), (51, 50), (0, 50)]).exterior  # a step of a metre
    assert len(_corners(thin)) == 4


def findable(*xy):
    return tuple(Findable(f"C{k}", x, y, "corner") for k, (x, y) in enumerate(xy, 1))


def test_pegs_are_measured_from_two_corners_at_a_fair_angle():
    near, far, behind = (10.0, 0.0), (0.0, 40.0), (-30.0, 1.0)
    chosen = _two_from(findable(near, far, behind), 0.0, 0.0)
    assert [(p.name, m) for p, m in chosen] == [("C1", 10.0), ("C2", 40.0)]  # the one behind is nearer but in line
    for degrees, fair in ((24.0, False), (26.0, True), (154.0, True), (156.0, False)):
        other = (50 * np.cos(np.radians(degrees)), 50 * np.sin(np.radians(degrees)))
        assert len(_two_from(findable(near, other), 0.0, 0.0)) == (2 if fair else 1)
    assert _two_from((), 0.0, 0.0) == []


def test_steps_say_how_far_to_measure_and_what_must_close():
    mine = pd.DataFrame({"x": [0.0, 200.0], "y": [0.0, 0.0], "stake": ["3-000", "3-200"]})
    lines = _base_row_steps(mine, "3", findable((10.0, 0.0), (0.0, 101.0)), "pegs_and_tape")
    assert [line[0] for line in lines] == ["peg", "peg", "check", "peg", "peg", "check", "row"]
    assert lines[0][4] == 10.0 and "That is far" not in str(lines[0][-1]) and "That is far" in str(lines[1][-1])
    assert lines[2][5] == pytest.approx(1.96 * 0.05)
    level = _base_row_steps(mine, "3", findable((10.0, 0.0)), "level_and_tape", times=2)
    assert [line[0] for line in level] == ["peg", "row"] and "level it 2 times" in str(level[1][-1])
    assert "times" not in str(_base_row_steps(mine, "3", (), "level_and_tape")[-1][-1])
    tape, check = _between_steps("3", "7", 4, 0.1)
    assert "number of tapes: 4" in str(tape[-1]) and check[5] == pytest.approx(1.96 * np.sqrt(4 * 0.03**2 + 0.02))


def test_points_that_matter_for_stakes_are_told_apart_and_priced():
    rule = StakeRule(step_m=1.0, max_spacing_m=8.0, min_spacing_m=2.0)
    cost = _not_round(np.array([0.0, 5.0, 8.0, 40.0, 3.0]), rule)
    assert cost[3] == cost[0] == 0.0 < cost[1] < cost[4] and cost[2] == pytest.approx(cost[1])
    kept = _first_of_each(np.array([0.0, 0.0004, 1.0, 1.0005, 2.0]), np.array([2, 0, 1, 2, 2]))
    assert kept.tolist() == [1, 2, 4]
    known = np.array([10.0, 20.0])
    assert _near(np.array([9.71, 9.69, 15.0, 20.29, 20.31, 0.0]), known).tolist() == [
        True,
        False,
        False,
        True,
        False,
        False,
    ]
    assert not _near(known, np.empty(0)).any()
    table = pd.DataFrame({"kind": ["row_end", "bed_end", TAPE, "row_end"], "tape_m": [NAN, 1.98, 1.5, 1.99]})
    why = _why_short(table, rule)
    assert why[0] == why[3] == "" and why[2] == "curve" and " beside " in why[1]
    line = LineString([(0, 0), (10, 0), (10, 10)])
    assert _bearing(line, np.array([5.0, 10.0, 15.0, 20.0])).tolist() == pytest.approx([90.0, 45.0, 0.0, 0.0])


def test_places_are_ends_bends_and_beds_of_a_row():
    corner = LineString([(0, 0), (20, 0), (20, 20)])
    assert bends(corner, 60.0).tolist() == pytest.approx([20.0]) and bends(corner, 91.0).size == 0
    at, turn = turns(corner)
    assert at.tolist() == [20.0] and turn.tolist() == pytest.approx([np.pi / 2])
    assert bends(LineString([(0, 0), (3, 0)]), 60.0).size == 0
    low, high = extent_along(np.array([corner, corner]), np.array([box(3, -1, 7, 1), box(19, 4, 21, 9)]))
    assert (low.tolist(), high.tolist()) == ([3.0, 24.0], [7.0, 29.0])
    pond = Exclusion("pond", "exclusion", MultiPolygon([box(22, -2, 30, 2)]), 0.0)
    ends = row_ends(np.array([LineString([(0, 0), (20, 0)])], dtype=object), (pond,), near_m=2.0)[0]
    assert [(p.station, p.kind, p.notes) for p in ends] == [(0.0, "row_end", ()), (20.0, "exclusion_edge", ("pond",))]
    given = [
        Place(0.0, "row_end"),
        Place(0.5, "bed_end", ("x",)),
        Place(0.6, "gap", ("y",)),
        Place(1.2, "bed_end", ("z",)),
    ]
    near = [(p.station, p.kind, p.notes) for p in merged(given, 0.5)]
    assert near == [
        (0.0, "row_end", ()),
        (0.6, "gap", ("y", "x")),
        (1.2, "bed_end", ("z",)),
    ]  # x goes to the nearer one
    begins = merged([Place(0.0, "row_end"), Place(0.5, "gap", ("bed begins",))], 0.5)
    assert [(p.station, p.notes) for p in begins] == [(0.0, ())]


# --- names and plots ---------------------------------------------------------------------------------------------


def test_names_are_whole_metres_or_as_many_decimals_as_they_need():
    assert _free_name("12", 35.7, set()) == "12-035" and _free_name("12", 35.7, {"12-035"}) == "12-035.7"
    assert _free_name("12", 35.72, {"12-035", "12-035.7"}) == "12-035.72" and _free_name("3", -4.2, set()) == "3-N004"
    assert _free_name("3", -1e-9, set()) == "3-000"
    assert [_free_label("4", "3b", {"3"}), _free_label("4", "3b", {"4", "3a"}), _free_label("4", "", {"4"})] == [
        "4",
        "3b",
        "0a",
    ]
    known = KnownRow("5", 0.0, np.array([10.0, 11.5]), ("5-010", "5-011"))
    assert _kept_names(known, np.array([10.8, 11.0, 12.6])) == {1: "5-011", 0: "5-010"}
    assert mark_names(known, np.array([9.0, 12.5, 12.51])) == ["5-010", "5-011", "5-012"]


def test_plots_lie_on_a_grid_along_the_longest_side_or_apart_by_chance():
    lean = shapely.affinity.rotate(box(0, 0, 60, 20), 30, origin=(0, 0))
    assert np.degrees(_longest_side(lean)) % 180 == pytest.approx(30.0)
    grid = _grid(box(0, 0, 60, 20), 5.0, 0.0, np.array([0.5, 0.5]))
    assert len(grid) == 12 * 4 and set(np.round(np.diff(np.unique(grid[:, 0])), 6)) == {5.0}
    turned = _grid(lean, 5.0, np.radians(30.0), np.array([0.25, 0.75]))
    assert len(turned) == 48 and shapely.contains_xy(lean, turned[:, 0], turned[:, 1]).all()
    chance = np.random.default_rng(1)
    apart = _scattered(box(0, 0, 30, 30), 12, 2.0, chance)
    away = np.hypot(*(apart[:, None] - apart[None]).transpose(2, 0, 1)) + 99 * np.eye(12)
    assert len(apart) == 12 and 4.0 <= away.min() < 8.0
    with pytest.raises(LayoutError, match="only about"):
        _scattered(box(0, 0, 5, 5), 12, 2.0, chance)
    assert len(_on_grid(box(0, 0, 60, 20), 10, 2.0, chance)) >= 10
    with pytest.raises(LayoutError, match="fit side by side"):
        _on_grid(box(0, 0, 10, 10), 30, 2.0, chance)


def test_rows_too_short_for_the_window_have_no_bend_and_a_single_earlier_stake_is_found():
    assert len(bends(LineString([(0, 0), (2, 0), (2, 2)]), 30.0)) == 0  # 4 m, as long as the window
    assert bends(LineString([(0, 0), (4, 0), (4, 4)]), 30.0).tolist() == [4.0]
    assert _near(np.array([0.0, 9.8, 10.29, 10.4]), np.array([10.0])).tolist() == [False, True, True, False]
