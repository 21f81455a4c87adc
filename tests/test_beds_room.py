"""What alleys carry, in sums worked out by hand."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from bed_builders import all_of, rows_of
from shapely import LineString, box

from geoagro.beds.alleys import FACING_REACH, SHORTEST_STEP_M, alleys, carries_beds, side_of
from geoagro.beds.fit import _commonest
from geoagro.beds.layout import lay_beds
from geoagro.beds.room import _clipped, _lengths, _trials, bed_findings, beds_lost_m2
from geoagro.beds.widths import Widths
from geoagro.planar.strips import ribbon_length
from geoagro.values.beds import AlleyRoom, BedPart, Beds
from geoagro.values.design import BedRule, RowRule

RULE = BedRule(tree_bed_width_m=1.0, bed_width_m=1.1, path_width_m=0.35)
WIDTHS = Widths(tree=1.0, bed=1.1, path=0.35, pinched=0.35)


def room_at(distance_m):
    """100 m of alley between two rows, told from both sides."""
    return AlleyRoom(np.array([100.0, 100.0]), np.full(2, distance_m), np.array([True, False]), np.array([1, 0]))


@pytest.mark.parametrize(
    ("distance_m", "path", "narrowest", "bed", "tree"),
    [
        # two beds need 1.00 + 3 * .35 + 2 * 1.10 = 4.25 m, or 1 cm less; each width is tried 5 cm narrower
        (4.25, 0.0, 0.0, -10.0, 0.0),  # both fit: narrower beds lose 5 cm of each
        (4.20, 110.0, 110.0, 100.0, 110.0),  # 5 cm are missing: any of the four helps; the beds become 1.05 m wide
        (4.15, 110.0, 0.0, 100.0, 0.0),  # 10 cm: three paths or two beds
        (4.10, 110.0, 0.0, -5.0, 0.0),  # 15 cm: three paths; the one bed there is narrowed for nothing
        (4.05, 0.0, 0.0, -5.0, 0.0),
        (2.75, 110.0, 110.0, 105.0, 110.0),  # the first bed needs 2.80 m
    ],
)
def test_what_narrower_widths_win_back_is_the_area_of_the_beds_that_fit_then(distance_m, path, narrowest, bed, tree):
    trials = _trials(room_at(distance_m), WIDTHS, 2)
    assert [won for _, won in trials] == pytest.approx([path, narrowest, bed, tree])
    assert [text.split(":")[1].split(" ")[1] for text, _ in trials] == ["0.30", "0.30", "1.05", "0.95"]


def test_alleys_with_at_least_so_many_beds_are_counted_from_the_row_that_was_dealt_them():
    # 10 m with three beds (2 + 1), 20 m with two (1 + 1), 30 m with one (1 + 0), 40 m with none, from both sides
    length = np.array([10.0, 20, 30, 40] * 2)
    room = AlleyRoom(length, np.full(8, 5.0), np.repeat([True, False], 4), np.array([2, 1, 1, 0, 1, 1, 0, 0]))
    assert _lengths(room, 3) == pytest.approx([100, 60, 30, 10])
    assert _lengths(room, 1) == pytest.approx([100, 60])


def test_what_alleys_lack_is_the_area_of_the_beds_that_the_spacing_carries_and_nothing_where_it_carries_none():
    # of 100 m of alley 60 m hold one bed or more, 30 two, 10 three, each 1.1 m wide; 2.6 m carry none
    length = np.array([10.0, 20, 30, 40] * 2)
    dealt = AlleyRoom(length, np.full(8, 5.0), np.repeat([True, False], 4), np.array([2, 1, 1, 0, 1, 1, 0, 0]))
    part = BedPart("", 1000.0, 500.0, RULE, 5.7, dealt)
    beds = SimpleNamespace(parts=(part, replace(part, spacing_m=2.6)))
    assert beds_lost_m2(beds, RULE, 5.7) == pytest.approx((40 + 70 + 90) * 1.1)


def test_room_tells_each_side_of_each_alley_with_its_distance_and_beds():
    lines = [LineString([(0, -6.0 * k), (50, -6.0 * k)]) for k in range(3)]
    room = lay_beds(rows_of(lines, 6.0), all_of(box(0, -20, 50, 8)).plantable, BedRule()).room
    assert room.length_m.sum() == pytest.approx(4 * 50)
    assert room.distance_m == pytest.approx(6.0)
    assert room.length_m[room.is_first].sum() == pytest.approx(100)
    # three beds between two rows: two beside the first row, one beside the other
    assert set(room.beds[room.is_first]) == {2} and set(room.beds[~room.is_first]) == {1}


@pytest.mark.parametrize(
    ("spacing_m", "tolerance", "level", "told"),
    [
        (2.6, 0.1, "warning", "A bed between two rows needs 2.80 m, above the row spacing of 2.6 m, so hardly any"),
        (2.6, 0.05, "warning", "Set rows.spacing_m to 2.8,"),
        (4.5, 0.27, "note", "3 beds between two rows need 5.70 m, above the row spacing of 4.5 m, so only wide places"),
        (4.5, 0.25, "note", None),  # 5.625 m are the widest that rows may stand
    ],
)
def test_the_next_bed_is_told_of_where_rows_may_stand_so_wide(spacing_m, tolerance, level, told):
    lines = [LineString([(0, -spacing_m * k), (40, -spacing_m * k)]) for k in range(2)]
    beds = lay_beds(rows_of(lines, spacing_m), all_of(box(0, -6, 40, 6)).plantable, RULE)
    found = bed_findings(beds, RULE, RowRule(spacing_m=spacing_m, spacing_tolerance_pct=100 * tolerance))
    above = [f for f in found if "above the row spacing" in f.text]
    assert [f.level for f in above] == ([level] if told else [])
    assert not told or told in above[0].text


def test_tree_beds_that_the_edge_cuts_by_more_than_a_hundredth_are_told_worst_first():
    trees = pd.DataFrame(
        {"bed": list("abcdefg"), "length_m": [50.0, 50, 50, 50, 50, 2, 2], "width_m": 1.0}
        | {"area_m2": [50.0, 49.6, 49.4, 45.0, 48.0, 1.96, 1.94]}
    )
    (found,) = _clipped(SimpleNamespace(tree_beds=trees))
    # c, d, e lack more than .5 m², g more than .05 m²; b and f don't
    assert found.text.startswith("4 tree beds are narrower in places")
    assert "(8 m²; most at d, e, c)" in found.text
    assert _clipped(SimpleNamespace(tree_beds=trees[:2])) == []


@pytest.mark.parametrize("away", [0.05, 0.3, 0.45])
@pytest.mark.parametrize("north", [False, True])
def test_a_tree_bed_moves_by_what_is_missing_on_either_side_and_keeps_the_row_10_cm_inside(away, north):
    lines = [LineString([(0, 1.7 - away if north else away), (30, 1.7 - away if north else away)])]
    beds = lay_beds(rows_of(lines), all_of(box(0, 0, 30, 1.7)).plantable, BedRule())
    assert beds.tree_beds.area.sum() == pytest.approx(30 * min(1.0, away + 0.9), abs=0.01)


def sides(distance_m, spacing_m=4.5, ground=None):
    """Two level rows of 30 m, the first one in the north, and how the first looks down on the other."""
    lines = np.array([LineString([(0, distance_m), (30, distance_m)]), LineString([(0, 0), (30, 0)])])
    area = all_of(ground or box(-1, -20, 31, 20 + distance_m)).plantable
    laid = alleys(lines, area, WIDTHS, spacing_m)
    return side_of(laid, 1, 1.0), side_of(laid, -1, 1.0)


def test_rows_face_each_other_across_one_alley_and_no_farther():
    reach = FACING_REACH * 4.5
    assert 2 * 4.5 < reach < 3 * 4.5  # past a row that ends, and never past a row that stands
    up, down = sides(4.2)
    first = down.cells.line == 0
    assert set(down.facing[first]) == {1} and set(down.facing[~first]) == {-1}
    assert set(up.facing[up.cells.line == 1]) == {0} and set(up.facing[up.cells.line == 0]) == {-1}
    assert down.across[first] == pytest.approx(4.2) and np.isinf(down.across[~first]).all()
    assert down.middle[down.line == 0] == pytest.approx(2.1)
    assert (down.cells.end - down.cells.begin).max() <= 1.0 + 1e-9
    assert (sides(reach - 0.1)[1].facing >= 0).any()
    assert (sides(reach + 0.1)[1].facing < 0).all()


def test_where_the_ground_ends_first_no_row_faces():
    notched = box(-1, -20, 31, 30).difference(box(10, 1, 14, 2))
    _, down = sides(4.2, ground=notched)
    first = down.cells.line == 0
    middle = (down.cells.begin + down.cells.end)[first] / 2
    open_ = down.facing[first] == -1
    assert (open_ == ((middle > 9) & (middle < 15))).all()


def test_a_row_shorter_than_a_step_carries_no_beds():
    short, long = (LineString([(0, 0), (length, 0)]) for length in (SHORTEST_STEP_M, SHORTEST_STEP_M + 0.01))
    assert carries_beds(np.array([short, long])).tolist() == [False, True]


def test_the_commonest_value_of_a_run_is_taken_and_of_equals_the_smallest():
    run = np.array([0, 0, 0, 1, 1, 3])
    assert _commonest(run, np.array([7, 2, 7, 5, 4, 9]), 5).tolist() == [7, 4, -1, 9, -1]


def test_the_length_of_a_strip_is_exact_for_rectangles():
    shapes = np.array([box(0, 0, 20, 0.3), box(0, 0, 1, 8), box(0, 0, 2, 2)])
    assert ribbon_length(shapes) == pytest.approx([20, 8, 2])


def test_paths_are_named_from_the_row_outward_upslope_first():
    lines = [LineString([(0, 10), (30, 10)]), LineString([(0, 5), (30, 5)])]
    rows = rows_of(lines, 5.0)
    paths = lay_beds(rows, all_of(box(0, 0, 30, 15)).plantable, BedRule()).paths
    side = paths["path"].str.extract(r"R(\d+)-([UD])P(\d+)")
    assert (side[0].astype(int) == paths["row"]).all()
    away = [paths.geometry[k].distance(lines[row - 1]) for k, row in enumerate(paths["row"])]
    keys = [(row, letter == "D", int(number)) for row, letter, number in side.to_numpy()]
    assert keys == sorted(keys)
    for _, part in paths.assign(away=away, letter=side[1], number=side[2].astype(int)).groupby(["row", "letter"]):
        assert part["number"].tolist() == list(range(1, len(part) + 1))
        assert part["away"].is_monotonic_increasing
    # tree bed .5, path to .8, bed to 1.8; the middle of an alley is 5 - 3.6 m wide
    width = dict(zip(paths["path"], paths["width_m"], strict=True))
    assert [width[name] for name in ("R001-UP1", "R001-DP1", "R001-DP2", "R002-UP1")] == pytest.approx(
        [0.3, 0.3, 1.4, 0.3], abs=2e-3
    )


def test_a_row_serves_the_ground_half_a_spacing_out_and_a_tenth_more():
    lines = [LineString([(0, 0), (30, 0)])]
    beds = lay_beds(rows_of(lines, 3.0), all_of(box(0, -9, 30, 9)).plantable, RULE)
    assert isinstance(beds, Beds)
    # one bed on each side to .85 + 1.1 = 1.95 m, then a path and less than half of one more: .35 + .725 m
    ground = np.concatenate([layer.geometry for layer in (beds.tree_beds, beds.beds, beds.paths)])
    assert sum(shape.area for shape in ground) == pytest.approx(2 * 30 * (1.95 + 0.35 + 0.725), rel=1e-3)
