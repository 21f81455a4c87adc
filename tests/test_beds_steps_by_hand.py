"""Steps of laying beds, each on one or two rows where the answer can be worked by hand."""

from types import SimpleNamespace

import numpy as np
import pytest
import shapely
from bed_builders import all_of, rows_of
from shapely import LineString, box

from geoagro.beds import paths
from geoagro.beds.alleys import alleys, side_of
from geoagro.beds.fit import Pieces, _own_side, _room, _spare, bed_pieces, beside_bed, join_pieces
from geoagro.beds.layout import _middle, _worthwhile, lay_beds
from geoagro.beds.paths import _joined, _less, _Paths
from geoagro.beds.shares import _before_centre, _last_bed
from geoagro.beds.tree_beds import _move, _moved
from geoagro.beds.widths import Widths
from geoagro.beds.zoned import BedZone, _grounds, _rows_on, _share_of, lay_zoned_beds
from geoagro.planar.meeting import meeting
from geoagro.planar.polylines import Polylines
from geoagro.planar.strips import Stretches, corners_between, ribbon_length
from geoagro.values.design import BedRule

WIDTHS = Widths(tree=1.0, bed=1.0, path=0.3)
"""Beds lie from .8 to 1.8 and from 2.1 to 3.1 m beside their row; an alley of 4.5 m carries two."""
UP, DOWN = 1, -1


def level(*heights, length=30.0):
    return np.array([LineString([(0, y), (length, y)]) for y in heights], dtype=object)


def prepared(lines, *, spacing_m=4.5, ground=None, widths=WIDTHS):
    return alleys(np.asarray(lines, dtype=object), all_of(ground or box(-50, -50, 90, 90)).plantable, widths, spacing_m)


def cells(line, begin, end):
    return Stretches(np.array([line]), np.array([begin]), np.array([end]))


# --- room beside a row -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("line", "sign", "apart_m", "spare"),
    [
        # the first bed reaches to 1.8; the row with the lower number asks .5 + .3 m beyond, the other 1.8 + .3; 1 cm is given
        (0, DOWN, 3.5, 1.7 - 0.8 + 0.01),
        (1, UP, 3.5, 1.7 - 2.1 + 0.01),
        (0, DOWN, 3.9, 2.1 - 0.8 + 0.01),
        (1, UP, 3.9, 0.01),
        (1, UP, 3.94, 0.05),
        (1, UP, 4.0, np.inf),  # nothing within 2.1 m and 5 cm of comfort
        (0, UP, 3.5, np.inf),  # no row on that side
    ],
)
def test_room_to_spare_is_what_a_bed_leaves_beyond_its_path_or_the_next_beds(line, sign, apart_m, spare):
    ground = prepared(level(apart_m, 0.0))
    found = _spare(ground, cells(line, 10.0, 11.0), np.array([1 - line]), sign, 1)
    assert found[0] == pytest.approx(spare)


def test_the_second_bed_is_measured_from_its_own_far_edge():
    """At 3.1 m; row 0 asks 1.8 + .3 beyond, row 1 3.1 + .3: 6 m apart leave .8 and -.49 m; a spacing of 6 m carries three."""
    ground = prepared(level(6.0, 0.0), spacing_m=6.0)
    far = [
        _spare(ground, cells(line, 5.0, 6.0), np.array([1 - line]), sign, 2)[0] for line, sign in ((0, DOWN), (1, UP))
    ]
    assert far == pytest.approx([2.9 - 2.1 + 0.01, 2.9 - 3.4 + 0.01])


def test_a_pinched_path_counts_for_the_beds_that_the_spacing_carries_and_no_more():
    """Path .3, pinched .2, at 4.5 m: the first two beds ask for .2 in the middle, a third for .3."""
    pinched = Widths(1.0, 1.0, 0.3, 0.2)
    ground = prepared(level(3.8, 0.0), widths=pinched)
    found = [
        _spare(ground, cells(line, 5.0, 6.0), np.array([1 - line]), sign, 1)[0] for line, sign in ((0, DOWN), (1, UP))
    ]
    assert found == pytest.approx([2.0 - 0.7 + 0.01, 2.0 - 2.0 + 0.01])
    strip = corners_between(
        ground.lines, cells(1, 5.0, 6.0), 0.5, 3.1
    )  # the second of its side is the fourth of the alley
    assert _room(ground, np.array([1]), 2, strip) == pytest.approx([0.7 - (3.1 + 0.3) + 0.01])


def test_where_no_row_faces_a_bed_is_laid_only_as_far_as_one_could():
    ground = prepared(level(0.0))
    spares = [_spare(ground, cells(0, 5.0, 6.0), np.array([-1]), UP, order)[0] for order in (1, 2, 3)]
    assert spares == [np.inf, np.inf, -np.inf]  # 4.5 m carry two
    facing = _spare(ground, cells(0, 5.0, 6.0), np.array([0]), UP, 3)
    assert facing[0] == np.inf


def test_no_bed_lies_where_the_ground_ends_before_its_far_edge():
    for edge, spare in ((1.8, np.inf), (1.79, -np.inf)):
        ground = prepared(level(0.0), ground=box(-1, -9, 31, edge))
        assert _spare(ground, cells(0, 5.0, 6.0), np.array([-1]), UP, 1)[0] == spare


@pytest.mark.parametrize(("apart_m", "clear"), [(3.85, False), (3.95, True), (8.0, True)])
def test_a_bed_stays_where_no_other_part_of_its_row_is_nearer(apart_m, clear):
    """Half a path beyond the edge lies at 1.95 m: legs of a hairpin must stand 3.9 m apart."""
    hairpin = LineString([(0, 0), (40, 0), (40, apart_m), (0, apart_m)])
    ground = prepared([hairpin])
    assert _own_side(ground, cells(0, 10.0, 11.0), UP, 1)[0] == clear
    assert _own_side(ground, cells(0, 10.0, 11.0), DOWN, 1)[0]


@pytest.mark.parametrize(("radius", "clear"), [(1.8, False), (1.9, False), (2.0, True)])
def test_the_inner_side_of_a_bend_tighter_than_the_bed_carries_none(radius, clear):
    turn = np.linspace(0, np.pi / 2, 60)
    bend = LineString(np.column_stack([radius * np.sin(turn), -radius * np.cos(turn)]))  # turns left
    lines = Polylines.read([bend])
    ground = SimpleNamespace(
        widths=WIDTHS,
        lines=lines,
        rows=SimpleNamespace(quads_apart=lambda edges, *_: np.full((len(edges), 3), np.inf)),
    )
    middle = lines.lengths[0] / 2
    assert _own_side(ground, cells(0, middle, middle + 0.02), UP, 1)[0] == clear
    assert _own_side(ground, cells(0, middle, middle + 0.02), DOWN, 1)[0]


def test_a_bed_round_a_closed_row_is_opened_by_a_path_at_its_end():
    turn = np.linspace(0, 2 * np.pi, 121)
    ring = LineString([*zip(20 * np.cos(turn[:-1]), 20 * np.sin(turn[:-1]), strict=True), (20.0, 0.0)])
    ground = prepared([ring])
    long = float(ground.lines.lengths[0])
    for end, spare in ((long - 0.31, np.inf), (long - 0.29, -np.inf)):
        assert _spare(ground, cells(0, end - 0.5, end), np.array([-1]), UP, 1)[0] == spare


# --- stretches that carry a bed ----------------------------------------------------------------------------------


def test_a_bed_ends_at_a_sixty_fourth_of_a_cell_before_its_ground_does():
    """Ground from 3.4 to 20.37: of the cells 3-4 and 20-21 38 / 64 and 23 / 64 carry it."""
    ground = prepared(level(0.0), ground=box(3.4, -9, 20.37, 9))
    found = bed_pieces(ground, side_of(ground, UP, 1.0), 1)
    assert found.stretch.begin.tolist() == [4 - 38 / 64]
    assert found.stretch.end.tolist() == [20 + 23 / 64]
    assert (found.stretch.line.tolist(), found.sign.tolist(), found.order.tolist()) == ([0], [1], [1])
    assert (found.facing.tolist(), found.comfortable.tolist()) == ([-1], [True])


def test_a_bed_that_fits_to_the_rows_ends_ends_there_and_one_cut_in_two_comes_in_two_pieces():
    ground = prepared(level(0.0), ground=box(-1, -9, 31, 9).difference(box(9.5, 1.0, 12.25, 1.5)))
    found = bed_pieces(ground, side_of(ground, UP, 1.0), 1)
    assert found.stretch.begin.tolist() == [0.0, 12.25]
    assert found.stretch.end.tolist() == [9.5, 30.0]


@pytest.mark.parametrize(("apart_m", "comfortable"), [(3.93, False), (3.945, True)])
def test_five_centimetres_to_spare_make_a_bed_worth_laying_though_it_is_short(apart_m, comfortable):
    """The row with the higher number has distance - 3.89 m to spare."""
    ground = prepared(level(apart_m, 0.0))
    found = bed_pieces(ground, side_of(ground, UP, 1.0), 1)
    mine = found.stretch.line == 1
    assert found.comfortable[mine].tolist() == [comfortable]
    assert found.facing[mine].tolist() == [0]


def test_a_bed_of_a_single_cell_is_a_bed_too():
    ground = prepared(level(0.0), ground=box(9.75, -9, 11.25, 9))
    found = bed_pieces(ground, side_of(ground, UP, 1.0), 1)
    assert (found.stretch.begin.tolist(), found.stretch.end.tolist()) == ([9.75], [11.25])
    assert found.comfortable.tolist() == [True]


def piece(length, *, comfortable=False, sign=1, order=1, begin=0.0, line=0):
    one = [np.array([v]) for v in (sign, order, -1, comfortable)]
    return Pieces(cells(line, begin, begin + length), *one)


@pytest.mark.parametrize(
    ("length", "comfortable", "laid"),
    [(2.99, True, 0), (3.0, True, 1), (3.0, False, 0), (5.99, False, 0), (6.0, False, 1)],
)
def test_a_bed_is_laid_from_its_shortest_length_on_and_twice_that_where_it_only_just_fits(length, comfortable, laid):
    ground = prepared(level(0.0))
    assert len(_worthwhile(ground, piece(length, comfortable=comfortable), 3.0).stretch) == laid


def test_the_middle_of_a_bed_lies_half_its_width_beyond_its_near_edge():
    both = join_pieces([piece(9.0), piece(9.0, sign=-1, order=2)])
    assert _middle(WIDTHS, both).tolist() == pytest.approx([1.3, -2.6])


def test_places_beside_a_bed_are_told_row_by_row_with_room_at_its_ends():
    lines = Polylines.read(level(0.0, 5.0, length=10.0))
    mine = Stretches(np.array([0, 0, 1]), np.array([2.0, 8.0, 1.0]), np.array([4.0, 10.0, 3.0]))
    line = np.array([0, 0, 0, 0, 0, 0, 1, 1, 1, 1])
    at = np.array([0.0, 2.0, 4.0, 4.1, 7.9, 10.0, 0.0, 1.0, 3.0, 3.1])
    found = beside_bed(lines, mine, line, at)
    assert found.tolist() == [False, True, True, False, False, True, False, True, True, False]
    roomy = beside_bed(lines, mine, line, at, more_m=1.5)
    assert roomy.tolist() == [False, True, True, True, True, True, True, True, True, True]
    assert not beside_bed(lines, mine.take(np.zeros(3, dtype=bool)), line, at).any()
    last_of_the_first_row = beside_bed(lines, mine.take(np.array([2])), np.array([0]), np.array([10.0]), more_m=1.5)
    assert not last_of_the_first_row[0]  # a bed at the start of the next row is not beside it


# --- paths -------------------------------------------------------------------------------------------------------


def joined(*parts, side=None):
    found = _joined(_Paths(np.array(parts, dtype=object), np.arange(len(parts)) if side is None else np.array(side)))
    return found.shapes, found.side


@pytest.mark.parametrize(
    ("other", "count"),
    [
        (box(1, 0, 2, 1), 1),
        (box(1, 0.6, 2, 2), 1),
        (box(1, 0.9, 2, 2), 2),  # a door of 10 cm joins nothing
        (box(1, 1, 2, 2), 2),
    ],
)
def test_paths_are_joined_where_they_touch_wide_enough_to_walk_through(other, count):
    parts, _ = joined(box(0, 0, 1, 1), other)
    assert len(parts) == count


def test_a_joined_path_keeps_the_first_side_of_its_parts():
    parts, side = joined(box(1, 0, 2, 1), box(5, 0, 6, 1), box(0, 0, 1, 1), side=[7, 4, 3])
    assert dict(zip(shapely.area(parts).round(3).tolist(), side.tolist(), strict=True)) == {2.0: 3, 1.0: 4}


@pytest.mark.parametrize(("gap", "sides"), [(5e-5, [0, 0]), (3e-4, [0, 1])])
def test_parts_less_than_a_tenth_of_a_millimetre_apart_belong_to_one_side(gap, sides):
    assert joined(box(0, 0, 1, 1), box(1 + gap, 0, 2, 1))[1].tolist() == sides


def less(shares, beds, told):
    """Shares less the beds and those before them."""
    shares, taken = (np.array(some, dtype=object) for some in (shares, [*beds, *shares]))
    index, other = meeting(shares, taken, deep_m=4.0)
    before = other - len(beds) < index
    return _less(shares, (index[before], other[before]), taken, lambda what, share: told.append(share))


def test_ground_goes_to_the_first_share_and_none_of_it_is_bed():
    bed, one, other = box(0, 0, 4, 1), box(0, 0, 4, 3), box(0, 2, 4, 5)
    told = []
    found = less([one, other], [bed], told)
    assert shapely.area(found) == pytest.approx([8.0, 8.0])
    assert found[1].bounds == (0, 3, 4, 5)
    assert told == [0.6]


def test_shares_taken_a_few_at_a_time_are_the_same_and_tell_how_far_they_are(monkeypatch):
    monkeypatch.setattr(paths, "_CHUNK", 2)
    told = []
    # each lies over a metre of the next
    found = less([box(2 * k, 0, 2 * k + 3, 4) for k in range(5)], [box(0, 0, 11, 1)], told)
    assert shapely.area(found) == pytest.approx([9, 6, 6, 6, 6])
    assert told == pytest.approx([0.6, 0.6 + 0.4 * 2 / 5, 0.6 + 0.4 * 4 / 5])


def test_the_outermost_bed_is_known_at_each_break_and_just_past_its_ends():
    ground = prepared(level(0.0, length=10.0))
    side = side_of(ground, UP, 1.0)
    beds = join_pieces([piece(3.0, begin=2.0), piece(0.7, begin=3.5, order=2), piece(9.0, sign=-1, order=3)])
    assert _last_bed(ground, side, beds).tolist() == [0, 0, 1, 2, 2, 2, 0, 0, 0, 0, 0]


def test_normals_of_a_bend_meet_at_its_centre_and_five_hundredths_of_room_are_kept():
    turn = np.linspace(0, 1.5, 301)
    bend = LineString(np.column_stack([10 * np.sin(turn), -10 * np.cos(turn)]))  # turns left round the origin
    lines = Polylines.read([bend, LineString([(50, 0), (60, 0)])])
    line, station = lines.breaks(1.0)
    left, right = (
        _before_centre(SimpleNamespace(lines=lines), SimpleNamespace(sign=sign, line=line, station=station))
        for sign in (UP, DOWN)
    )
    assert left[line == 0][1:-1] == pytest.approx(9.5, rel=1e-3)
    assert left[line == 0][[0, -1]] == pytest.approx(
        19.0, rel=1e-3
    )  # an end has the normal of its piece, half a turn less
    assert np.isinf(left[line == 1]).all() and np.isinf(right).all()


def test_the_length_of_a_wide_strip_is_its_longer_side():
    assert ribbon_length(np.array([box(0, 0, 3, 12), box(0, 0, 5, 5)])).tolist() == pytest.approx([12.0, 5.0])


# --- zones -------------------------------------------------------------------------------------------------------

FIELD = all_of(box(0, -5, 40, 15)).plantable


def test_rows_hold_the_ground_that_is_nearer_to_them_than_to_any_other():
    rows = rows_of(level(10.0, 4.0, 0.0, length=40.0))
    assert _share_of(frozenset({1}), rows, FIELD).intersection(FIELD).area == pytest.approx(40 * 8, rel=2e-3)
    middle = _share_of(frozenset({2}), rows, FIELD).intersection(FIELD)
    assert middle.area == pytest.approx(40 * 5, rel=2e-3)
    assert middle.bounds[1::2] == pytest.approx((2.0, 7.0), abs=0.02)


def test_ground_goes_to_the_first_zone_that_holds_it_and_the_rest_to_none():
    rows = rows_of(level(10.0, 0.0, length=40.0))
    zones = [
        BedZone("a", BedRule(), 4.5, box(0, -5, 10, 15)),
        BedZone("b", BedRule(), 4.5, box(5, -5, 20, 15)),
        BedZone("c", BedRule(), 4.5, None, frozenset({1})),
    ]
    assert [ground.area for ground in _grounds(rows, FIELD, zones)] == pytest.approx([200, 200, 200, 200], rel=2e-3)


def test_pieces_of_rows_longer_than_a_centimetre_belong_to_the_zones_ground():
    rows = rows_of(level(10.0, 0.0, length=40.0))
    ground = all_of(box(0, -5, 10, 15) | box(30, -5, 39.995, 5) | box(39.992, 5, 41, 15)).plantable
    found = _rows_on(ground, BedZone("a", BedRule(), 6.0), rows)
    assert found.frame["row"].tolist() == [1, 2, 2]
    assert found.frame.geometry.length.tolist() == pytest.approx([10, 10, 9.995])
    assert found.spacing_m == 6.0
    assert _rows_on(ground, BedZone("a", BedRule(), 6.0, None, frozenset({1})), rows).frame["row"].tolist() == [1]


def test_along_the_edge_between_two_zones_each_leaves_half_of_its_path():
    """Paths .3 and .5 m wide: beds end .15 and .25 m from the edge, found to a sixty-fourth of a step of .5 m."""
    rows = rows_of(level(0.0, length=40.0))
    wide = BedRule(path_width_m=0.5)
    beds = lay_zoned_beds(rows, FIELD, BedRule(), [BedZone("wide", wide, 4.5, box(0, -5, 20, 15))]).beds
    west = beds.total_bounds[0]
    inside = beds.bounds["maxx"] < 20
    assert beds.bounds["maxx"][inside].max() == pytest.approx(19.75, abs=0.02)
    assert beds.bounds["minx"][~inside].min() == pytest.approx(20.15, abs=0.02)
    assert west == pytest.approx(0.0) and beds.total_bounds[2] == pytest.approx(40.0)  # not along the field's own edge


def test_parts_tell_ground_beds_and_rule_of_each_zone():
    rows = rows_of(level(0.0, length=40.0))
    own = BedRule(bed_width_m=0.5)
    laid = lay_zoned_beds(rows, FIELD, BedRule(), [BedZone("low", own, 3.0, box(0, -5, 10, 15))])
    assert [(part.name, part.ground_m2, part.spacing_m) for part in laid.parts] == [
        ("low", 200.0, 3.0),
        ("", 600.0, 4.5),
    ]
    x = laid.beds.bounds["minx"].to_numpy()
    sums = [laid.beds["area_m2"][x < 10].sum(), laid.beds["area_m2"][x >= 10].sum()]
    assert [part.beds_m2 for part in laid.parts] == pytest.approx(sums)


def test_room_counts_the_beds_beside_each_stretch_of_an_alley():
    """9 m apart at 4.5: (9 - 1.3) / 1.3 carries five; row 1 is dealt three, row 2 two; two sides of 30 m face."""
    laid = lay_beds(rows_of(level(9.0, 0.0)), all_of(box(-1, -9, 31, 18)).plantable, BedRule())
    room = laid.room
    assert room.length_m.sum() == pytest.approx(60.0)
    assert room.distance_m == pytest.approx(9.0)
    assert set(zip(room.is_first.tolist(), room.beds.tolist(), strict=True)) == {(True, 3), (False, 2)}


# --- tree beds ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("south", "north", "bed", "moves"),
    [
        (0.3, 9.0, False, 0.2),  # 20 cm are missing in the south: to the left
        (9.0, 0.3, False, -0.2),
        (0.05, 9.0, False, 0.4),  # half its width but 10 cm, so that the row stays inside
        (0.3, 0.6, False, 0.1),  # no farther than the ground goes on the other side
        (0.3, 0.4, False, 0.0),  # both sides are short
        (0.3, 9.0, True, 0.1),  # a bed from .8 m on: its path may narrow to .2, so .1 m of room is left
        (0.5, 0.5, False, 0.0),
        (2.0, 2.0, False, 0.0),
    ],
)
def test_a_tree_bed_moves_by_what_is_missing_as_far_as_there_is_room(south, north, bed, moves):
    pinched = Widths(1.0, 1.0, 0.3, 0.2)
    ground = prepared(level(0.0), ground=box(-1, -south, 31, north), widths=pinched)
    pieces = piece(30.0) if bed else join_pieces([])
    line, s = ground.lines.breaks(1.0)
    assert _move(ground, pieces, line, s) == pytest.approx(moves, abs=1e-5)


def test_a_tree_bed_keeps_the_path_to_a_bed_half_a_step_past_its_ends_too():
    """A bed from 10 to 20 m: within a metre of it the room of its path counts, farther off all the ground."""
    pinched = Widths(1.0, 1.0, 0.3, 0.2)
    ground = prepared(level(0.0), ground=box(-1, -0.3, 31, 9), widths=pinched)
    line, s = ground.lines.breaks(1.0)
    moved = _move(ground, piece(10.0, begin=10.0), line, s)
    expected = np.where((s >= 9) & (s <= 21), 0.1, 0.2)
    assert moved == pytest.approx(expected, abs=1e-5)


def test_beds_of_the_other_side_leave_a_tree_bed_its_room():
    ground = prepared(level(0.0), ground=box(-1, -0.3, 31, 9), widths=Widths(1.0, 1.0, 0.3, 0.2))
    line, s = ground.lines.breaks(1.0)
    assert _move(ground, piece(30.0, sign=-1), line, s) == pytest.approx(0.2, abs=1e-5)
    assert _move(ground, piece(30.0, order=2), line, s) == pytest.approx(0.2, abs=1e-5)


def test_only_rows_whose_bed_moves_by_over_a_centimetre_get_a_new_one():
    rows = level(0.0, 40.0)
    for south, count in ((0.485, 1), (0.495, 0)):
        ground = prepared(rows, ground=box(-1, -south, 31, 80))
        strips, number = _moved(ground, join_pieces([]), np.array([0]))
        assert (len(strips), number.tolist()) == (count, [0] * count)
    strip = _moved(prepared(rows, ground=box(-1, -0.3, 31, 80)), join_pieces([]), np.array([0]))[0][0]
    assert strip.bounds == pytest.approx((0, -0.3, 30, 0.7), abs=1e-4)


def test_ground_beside_a_bent_row_and_a_short_one_goes_to_the_nearer_of_them():
    """Counted on a grid of half a metre by the distance to each row."""
    rows = rows_of([LineString([(0, 2), (20, 12), (40, 2)]), LineString([(12, -3), (25, -3)])])
    mine = _share_of(frozenset({2}), rows, FIELD).intersection(FIELD)
    x, y = (v.ravel() for v in np.meshgrid(np.arange(0.25, 40, 0.5), np.arange(-4.75, 15, 0.5)))
    points = shapely.points(x, y)
    far, near = (shapely.distance(points, line) for line in rows.frame.geometry)
    assert mine.area == pytest.approx(np.count_nonzero(near < far) / 4, rel=0.01)
    held = shapely.contains_xy(mine, x, y)
    assert np.count_nonzero(held != (near < far)) < 0.01 * len(x)


def test_beds_of_zones_are_named_by_the_side_that_they_lie_on_and_counted_over_all_zones():
    rows = rows_of(level(5.0, 0.0, length=40.0), 5.0)
    laid = lay_zoned_beds(rows, FIELD, BedRule(), [BedZone("west", BedRule(), 5.0, box(0, -5, 20, 15))])
    letter = laid.beds["bed"].str.extract(r"^R\d+-([UD])")[0]
    assert (letter == laid.beds["side"].map({"up": "U", "down": "D"})).all()
    axis_y = np.array([axis.coords[0][1] for axis in laid.beds["axis"]])
    own_y = np.where(laid.beds["row"] == 1, 5.0, 0.0)
    assert ((axis_y > own_y) == (laid.beds["side"] == "up")).all()
    first = laid.beds[(laid.beds["row"] == 1) & (laid.beds["order"] == 1)]
    assert first["bed"].tolist() == ["R001-U1", "R001-U1b", "R001-D1", "R001-D1b"]  # up first, then along the row
    assert laid.tree_beds["bed"].tolist() == ["R001-T", "R001-Tb", "R002-T", "R002-Tb"]
    ways = laid.paths[laid.paths["width_m"] < 0.35]  # those between a tree bed and a bed
    letter = ways["path"].str.extract(r"-([UD])P\d+")[0]
    above = np.array([shape.centroid.y for shape in ways.geometry]) > np.where(ways["row"] == 1, 5.0, 0.0)
    assert len(ways) >= 8 and ((letter == "U") == above).all()
