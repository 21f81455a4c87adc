"""Straight rows: bearing, place, clipping and the grade limit."""

import numpy as np
import pytest
import shapely
from builders import EAST, NORTH, UTM, plane, square_ground, square_site
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, MultiPolygon, Polygon, box
from shapely.affinity import rotate, translate

from geoagro.errors import LayoutError
from geoagro.rows.clipping import CUT_MARGIN
from geoagro.rows.layout import lay_rows
from geoagro.rows.quality import CHORD_M as JUDGED_M
from geoagro.rows.quality import chord_grade
from geoagro.rows.sampling import sample_rows
from geoagro.rows.straight import (
    CHORD_M,
    _edges,
    _first_place,
    _planted,
    _share_that_holds,
    _side_bearings,
    _slopes,
    best_bearing,
    main_bearing,
    straight_rows,
)
from geoagro.values.design import RowRule
from geoagro.values.grid import Grid

FIELD = MultiPolygon([box(EAST, NORTH, EAST + 200, NORTH + 90)])


def turned(area, degrees):
    return rotate(area, -degrees, origin=(EAST, NORTH))  # clockwise, as bearings count


def total(lines):
    return sum(line.length for line in lines)


def bearing_of(line):
    (x0, y0), (x1, y1) = line.coords
    return np.degrees(np.arctan2(x1 - x0, y1 - y0)) % 180


def apart(a, b):
    return abs((a - b + 90) % 180 - 90)


@pytest.mark.parametrize("turn", [0.0, 37.0, 90.0, 143.3])
def test_the_best_bearing_of_a_rectangle_is_its_longest_side_and_it_is_planted_in_full(turn):
    field = turned(FIELD, turn)
    assert apart(best_bearing(field, spacing_m=4.5, min_length_m=20.0), 90 + turn) < 0.01
    rows = straight_rows(field, spacing_m=4.5, min_length_m=20.0).kept
    assert len(rows) == 20  # 90 m / 4.5 m
    np.testing.assert_allclose([row.length for row in rows], 200.0, atol=1e-3)


@settings(max_examples=15, deadline=None)
@given(bearing=st.floats(0, 359.9), spacing=st.floats(2.0, 12.0))
def test_rows_keep_the_bearing_and_stand_one_spacing_apart(bearing, spacing):
    rows = straight_rows(FIELD, spacing_m=spacing, min_length_m=20.0, bearing_deg=bearing).kept
    assert max(apart(bearing_of(row), bearing) for row in rows) < 1e-6
    assert all(FIELD.buffer(1e-6).contains(row) for row in rows)
    a = np.radians(bearing)
    across = np.array([np.dot(row.coords[0], (-np.cos(a), np.sin(a))) for row in rows])
    np.testing.assert_allclose(np.diff(across), spacing, atol=1e-6)


def test_the_automatic_bearing_plants_as_much_as_any_tried_one_by_one():
    field = turned(FIELD, 20) - box(EAST + 60, NORTH - 60, EAST + 200, NORTH - 20)
    field = MultiPolygon([field]) if field.geom_type == "Polygon" else field
    auto = total(straight_rows(field, spacing_m=4.5, min_length_m=20.0).kept)
    others = [
        total(straight_rows(field, spacing_m=4.5, min_length_m=20.0, bearing_deg=b).kept) for b in range(0, 180, 5)
    ]
    assert auto >= 0.98 * max(others)  # of about 45 rows one fits or not by luck


def test_pieces_below_the_minimum_length_are_set_aside_with_their_reason():
    lines = straight_rows(
        MultiPolygon([shapely.Polygon([(0, 0), (90, 0), (0, 90)])]), spacing_m=4.5, min_length_m=30.0, bearing_deg=90
    )
    assert min(row.length for row in lines.kept) >= 30
    assert {reason for reason, _ in lines.cut} == {"short_row"}
    assert max(line.length for _, line in lines.cut) < 30


def test_a_hole_splits_the_rows():
    field = MultiPolygon([box(0, 0, 100, 45) - box(40, 20, 60, 26)])
    rows = straight_rows(field, spacing_m=4.5, min_length_m=20.0, bearing_deg=90).kept
    assert sorted(round(row.length) for row in rows)[:2] == [40, 40]
    assert not any(row.intersects(box(40.01, 20.01, 59.99, 25.99)) for row in rows)


def test_rows_move_with_the_field():
    here = straight_rows(turned(FIELD, 12), spacing_m=4.5, min_length_m=20.0).kept
    there = straight_rows(translate(turned(FIELD, 12), 1234.5, -678.25), spacing_m=4.5, min_length_m=20.0).kept
    moved = shapely.union_all([translate(row, 1234.5, -678.25) for row in here])
    assert moved.hausdorff_distance(shapely.union_all(there)) < 1e-3


def test_on_a_plane_rows_are_cut_exactly_when_their_grade_passes_the_limit():
    # a row at the angle a to the contour of a plane of slope s climbs s * sin(a); cuts are made at CUT_MARGIN of the limit
    field, heights = square_site().boundary, plane(slope=0.10).heights
    climbs = 10 * np.sin(np.radians(20.0))
    for angle, limit, cut in (
        (20.0, climbs / CUT_MARGIN + 0.01, False),
        (20.0, climbs / CUT_MARGIN - 0.01, True),
        (90.0, 9.9, True),
    ):
        lines = straight_rows(
            field,
            spacing_m=4.5,
            min_length_m=20.0,
            bearing_deg=90 - angle,
            surface=heights,
            max_grade_pct=limit,
        )
        assert bool(lines.kept) != cut
        assert ("grade_limit" in {reason for reason, _ in lines.cut}) == cut


def test_no_10_m_of_a_kept_row_is_steeper_than_the_limit_and_nothing_is_lost():
    grid = plane().heights
    x, y = np.meshgrid(grid.x - EAST, grid.y - NORTH)
    waves = grid.with_values(1.2 * np.sin(x / 17) * np.cos(y / 23))
    lines = straight_rows(
        square_site().boundary, spacing_m=4.5, min_length_m=15.0, bearing_deg=90, surface=waves, max_grade_pct=4.0
    )
    assert lines.kept and "grade_limit" in {reason for reason, _ in lines.cut}
    for row in lines.kept:
        s = np.arange(0, row.length - 10, 0.25)
        a, b = (shapely.get_coordinates(row.interpolate(s + k)) for k in (0, 10))
        grade = np.abs(waves.sample(*a.T) - waves.sample(*b.T)) / 10
        assert grade.max(initial=0) < 0.0405  # chords between the sampled ones may pass by 1 %
    assert total(lines.kept) + total([line for _, line in lines.cut]) == pytest.approx(
        23 * 100.0, abs=0.01
    )  # 100 = 22 * 4.5 + 1


def test_rows_on_ground_without_heights_are_cut_and_say_so():
    grid = plane().heights
    half = Grid(np.where(grid.x[None, :] < EAST + 50, np.nan, grid.values), grid.west, grid.north, 1.0, UTM)
    lines = straight_rows(
        square_site().boundary, spacing_m=4.5, min_length_m=20.0, bearing_deg=90, surface=half, max_grade_pct=4.0
    )
    assert {reason for reason, _ in lines.cut} == {"no_elevation"}
    assert min(row.bounds[0] for row in lines.kept) > EAST + 49


def test_a_spacing_of_0_is_refused():
    with pytest.raises(LayoutError, match="must be above 0"):
        straight_rows(FIELD, spacing_m=0.0, min_length_m=20.0)


def test_lines_are_two_dimensional_and_the_input_is_untouched():
    before = shapely.to_wkb(FIELD)
    rows = straight_rows(FIELD, spacing_m=4.5, min_length_m=20.0).kept
    assert all(isinstance(row, LineString) and not row.has_z for row in rows)
    assert shapely.to_wkb(FIELD) == before


def test_the_bearing_turns_away_from_the_longest_side_where_that_is_too_steep():
    # the field is longest up the slope of 10 %, so at 4 % only bearings within asin(0.4) of the contour hold
    field = MultiPolygon([box(EAST, NORTH, EAST + 60, NORTH + 100)])
    heights = plane(slope=0.10).heights
    rule = {"spacing_m": 4.5, "min_length_m": 20.0}
    assert apart(best_bearing(field, **rule), 0) < 0.01
    assert apart(best_bearing(field, **rule, surface=heights, max_grade_pct=4.0), 90) <= np.degrees(np.arcsin(0.4))
    assert apart(best_bearing(field, **rule, surface=heights, max_grade_pct=12.0), 0) < 0.01
    lines = straight_rows(field, **rule, surface=heights, max_grade_pct=4.0)
    assert sum(line.length for line in lines.kept) * 4.5 > 0.9 * field.area


@pytest.mark.parametrize("side_deg", [40, 140])
def test_the_bearing_keeps_the_margin_that_rows_are_cut_with(side_deg):
    # on a round field every bearing plants alike, and the one nearest to its longest side lies just at the limit
    turn = np.radians(side_deg - 90 + np.arange(2.0, 362.0, 4.0))
    field = MultiPolygon([Polygon(np.column_stack([EAST + 50 + 45 * np.sin(turn), NORTH + 50 + 45 * np.cos(turn)]))])
    ground = plane(slope=0.286).heights
    lines = straight_rows(field, spacing_m=2.5, min_length_m=10.0, surface=ground, max_grade_pct=4.0)
    assert sum(line.length for line in lines.kept) * 2.5 > 0.9 * field.area


@pytest.mark.parametrize("limit", [1.0, 3.0])
def test_on_bumpy_ground_no_row_passes_the_limit_when_judged_like_any_layout(limit):
    n = 120
    grid = Grid(np.zeros((n, n)), EAST - 10, NORTH + 110, 1.0, UTM)
    x, y = np.meshgrid(grid.x - EAST, grid.y - NORTH)
    heights = grid.with_values(0.02 * y + 0.6 * np.sin(x / 7) * np.cos(y / 9))
    lines = straight_rows(square_site().boundary, spacing_m=4.5, min_length_m=8.0, surface=heights, max_grade_pct=limit)
    assert lines.kept
    grade = chord_grade(lines.kept, sample_rows(lines.kept, 2.0), heights)
    assert grade.max() * 100 <= limit


def test_rows_too_steep_at_their_bearing_are_refused_with_what_would_help():
    rule = RowRule(method="straight", bearing_deg=0.0)
    with pytest.raises(LayoutError, match=r"max_grade_pct, or give another rows\.bearing_deg\.$") as refused:
        lay_rows(square_ground(), plane(slope=0.10), rule)
    assert "turn_radius" not in str(refused.value)


def test_straight_rows_start_at_a_drawn_line_when_asked_to():
    line = LineString([(EAST + 10, NORTH + 13), (EAST + 80, NORTH + 33)])
    rule = RowRule(method="straight", bearing_deg="guide", spacing_m=4.5, max_grade_pct=50)
    rows = lay_rows(square_ground(), plane(), rule, guides=[line]).frame.geometry
    assert rows.distance(line.interpolate(0.3, normalized=True)).min() < 1e-6
    assert rows.distance(line.interpolate(0.9, normalized=True)).min() < 1e-6


@pytest.mark.parametrize("bearing", [2.0, 37.0, 91.0, 151.5])
@pytest.mark.parametrize("least_m", [0.0, 9.0])
def test_what_each_place_of_the_first_row_plants_is_what_cutting_its_rows_one_by_one_gives(bearing, least_m):
    area = MultiPolygon(
        [
            Polygon([(0, 0), (43, 4), (38, 31), (20, 22), (3, 29)], [[(10, 8), (19, 8), (17, 15)]]),
            Polygon([(50, 0), (71, 0), (60, 17)]),
        ]
    )
    spacing = 4.0
    (sin, cos), far = (f(np.radians(bearing)) for f in (np.sin, np.cos)), 200.0
    expected = np.zeros(16)
    for k in range(-16 * 25, 16 * 25):
        left = k * spacing / 16 * np.array([-cos, sin])
        row = LineString([left - far * np.array([sin, cos]), left + far * np.array([sin, cos])])
        length = shapely.length(shapely.get_parts(row.intersection(area)))
        expected[k % 16] += length[length >= least_m].sum()
    assert _planted(_edges(area), bearing, spacing, least_m) == pytest.approx(expected)


def test_of_places_that_plant_alike_the_one_farthest_from_both_edges_is_taken():
    t = np.array([-10.0, 10.9])  # rows 4 m apart: with the first at .45 m, margins of 2.45 m on both sides
    first = _first_place(np.full(16, 100.0), t, 4.0)
    assert first == pytest.approx(0.5)
    better = np.full(16, 100.0)
    better[5] = 100.1
    assert _first_place(better, t, 4.0) == pytest.approx(5 * 4 / 16)
    better[5] = 100.00001  # a rounding
    assert _first_place(better, t, 4.0) == pytest.approx(0.5)


def test_lines_run_at_the_mean_of_their_lengths_both_ways_alike():
    east, back = LineString([(0, 0), (30, 0)]), LineString([(10, 5), (0, 5)])
    assert main_bearing([east, back]) == pytest.approx(90)
    assert main_bearing([LineString([(0, 0), (1, 1)]), LineString([(5, 5), (5 - 2, 5 + 2)])]) == pytest.approx(135)
    assert main_bearing([LineString([(0, 0), (0, 9), (1, 9)])]) == pytest.approx(0, abs=1e-6)
    bent = main_bearing([LineString([(0, 0), (0, 5), (5 * 3**0.5 / 2, 7.5)])])  # as far north as at 60 degrees
    assert bent == pytest.approx(30)


def test_sides_are_told_longest_first_and_wiggles_are_none():
    wiggle = [(x, 0.3 * (k % 2)) for k, x in enumerate(np.linspace(0, 60, 31))]
    field = MultiPolygon([Polygon([*wiggle, (60, 25), (0, 25)])])
    sides = _side_bearings(field, 4.0)
    assert sides[:2] % 180 == pytest.approx([90, 90], abs=1)
    assert sides[2:] % 180 == pytest.approx([0, 0], abs=1)
    turn = (_side_bearings(MultiPolygon([Polygon([(0, 0), (30, 30), (28, 32), (-2, 2)])]), 4.0)) % 180
    assert turn.tolist() == pytest.approx([45, 45, 135, 135])


def test_places_hold_the_grade_where_the_row_s_share_of_the_slope_is_below_the_limit():
    grid = Grid(np.zeros((60, 80)), -10.0, 50.0, 1.0, UTM)
    surface = grid.with_values(100 + 0.06 * grid.x[None, :] - 0.08 * grid.y[:, None])
    field = MultiPolygon([box(0, 0, 60, 40)])
    slopes = _slopes(field, surface)
    assert slopes == pytest.approx(np.tile([0.06, -0.08], (len(slopes), 1)))
    assert len(slopes) == pytest.approx(60 * 40, rel=0.05)  # one a cell
    # the ground falls to the north-west by north and is level square to that: at 53.13 degrees
    level = np.degrees(np.arctan2(0.08, 0.06))
    bearings = np.array([level, 90.0, 0.0, level + 90])
    assert _share_that_holds(slopes, bearings, 0.07).tolist() == [1, 1, 0, 0]
    assert _share_that_holds(slopes, bearings, 0.101).tolist() == [1, 1, 1, 1]
    assert _share_that_holds(slopes[:0], bearings, 0.07).tolist() == [1] * 4
    half = np.array([[0.0, 0.1], [0.1, 0.0], [0.0, 0.02], [0.02, 0.0]])
    assert _share_that_holds(half, np.array([0.0]), 0.05).tolist() == [0.75]
    large = Grid(np.zeros((400, 400)), 0.0, 400.0, 1.0, UTM)
    assert len(_slopes(MultiPolygon([box(10, 10, 390, 390)]), large)) <= 4100


def test_rows_are_cut_over_the_length_that_they_are_judged_on():
    assert CHORD_M == JUDGED_M
