import numpy as np
import pytest
import shapely
from bed_builders import all_of, assert_sound, rows_of
from builders import square_ground, straight_rows
from shapely import LineString, MultiPolygon, Point, box

from geoagro.beds.layout import lay_beds
from geoagro.beds.room import bed_findings
from geoagro.errors import LayoutError
from geoagro.values.design import BedRule, RowRule


def lines(*coordinates):
    return [LineString(c) for c in coordinates]


def beds_across(beds, cut):
    """How many beds a line crosses."""
    return int(shapely.length(shapely.intersection(beds.beds.geometry.to_numpy(), cut)).astype(bool).sum())


def between(beds, x, low, high):
    return beds_across(beds, LineString([(x, low), (x, high)]))


def test_rows_at_4_5_m_carry_two_beds_between_them():
    # common practice, no source
    rows, ground = straight_rows(), square_ground()
    beds = lay_beds(rows, ground.plantable, BedRule())
    assert len(beds.tree_beds) == 22
    assert len(beds.beds) == 44 + 1  # below the last row, where no row faces, two fit into 3.25 m
    assert beds.tree_beds.area.sum() == pytest.approx(22 * 100.0)
    assert beds.beds.area.tolist() == pytest.approx([100.0] * 45)
    assert beds.beds.facing_row.tolist()[:4] == [0, 2, 1, 3]
    assert beds.paths.area.sum() == pytest.approx(10_000 - 22 * 300.0 - 100)
    assert_sound(ground, rows, beds)


def test_bed_edges_stand_at_fixed_distances_from_their_row():
    rows = straight_rows()
    beds = lay_beds(rows, square_ground().plantable, BedRule(bed_width_m=0.8, path_width_m=0.4)).beds.query(
        "order == 1"
    )
    south, north = beds.bounds.miny.to_numpy(), beds.bounds.maxy.to_numpy()
    row = rows.frame.bounds.miny.to_numpy()[beds.row - 1]
    up = (beds.side == "up").to_numpy()
    assert np.where(up, south - row, row - north) == pytest.approx(0.9)
    assert np.where(up, north - row, row - south) == pytest.approx(1.7)


@pytest.mark.parametrize("spacing", [3.2, 4.05, 4.5, 4.95, 6.0, 7.7, 12.0])
@pytest.mark.parametrize("widths", [(1.0, 1.0, 0.3), (1.2, 0.75, 0.4), (0.6, 1.5, 0.5)])
def test_alley_carries_the_whole_beds_of_the_closed_form(spacing, widths):
    tree, bed, path = widths
    rows = rows_of(lines(*([(0, -k * spacing), (40, -k * spacing)] for k in range(3))), spacing)
    rule = BedRule(tree_bed_width_m=tree, bed_width_m=bed, path_width_m=path)
    ground = all_of(box(0, -3 * spacing, 40, spacing))
    beds = lay_beds(rows, ground.plantable, rule)
    expected = int((spacing - tree - path) / (bed + path) + 1e-9)
    assert between(beds, 20, -spacing, 0) == between(beds, 20, -2 * spacing, -spacing) == expected
    # dealt to both rows, the odd one to the row above
    alley = beds.beds[beds.beds.facing_row > 0]
    assert (alley.side == "down").sum() - (alley.side == "up").sum() == 2 * (expected % 2)
    assert_sound(ground, rows, beds, path_m=path)


def test_two_beds_still_fit_at_nine_tenths_of_the_spacing_and_one_no_more_at_less():
    for distance, expected in ((0.9 * 4.5, 2), (3.88, 1)):
        rows = rows_of(lines([(0, distance), (50, distance)], [(0, 0), (50, 0)]))
        beds = lay_beds(rows, all_of(box(0, -5, 50, 10)).plantable, BedRule())
        assert between(beds, 25, 0, distance) == expected


def arcs(radii, start=0.1, stop=1.4):
    angle = np.linspace(start, stop, 2000)
    return [LineString(np.column_stack([r * np.cos(angle), r * np.sin(angle)])) for r in radii]


def test_beds_on_arcs_are_annular_and_hold_their_width_to_a_centimetre():
    radii = [60.0, 55.5, 51.0, 46.5, 12.0]
    rows, ground = rows_of(arcs(radii)), all_of(box(-10, -10, 80, 80))
    beds = lay_beds(rows, ground.plantable, BedRule())
    first = beds.beds.query("order == 1")
    assert len(first) == 10
    for _, bed in first.iterrows():
        radius = radii[bed.row - 1]  # counter-clockwise: left is inward
        near, far = (radius - 0.8, radius - 1.8) if bed.side == "up" else (radius + 0.8, radius + 1.8)
        closed_form = abs(far**2 - near**2) / 2 * 1.3
        # the first and last chord of the tightest row lean by 1 degree against its arc, and so do the bed's ends
        assert bed.geometry.area == pytest.approx(closed_form, rel=1e-3 if radius > 40 else 4e-3)
        angle = np.linspace(0.11, 1.39, 400)
        ends = np.stack([np.column_stack([r * np.cos(angle), r * np.sin(angle)]) for r in (5.0, 75.0)], axis=1)
        across = shapely.intersection(bed.geometry, shapely.linestrings(ends))
        assert shapely.length(across) == pytest.approx(1.0, abs=0.01)
        reach = np.hypot(*shapely.get_coordinates(across).T)
        assert reach.min() == pytest.approx(min(near, far), abs=0.01)
        assert reach.max() == pytest.approx(max(near, far), abs=0.01)
    assert_sound(ground, rows, beds)


def test_a_wedge_gains_beds_as_it_opens():
    d, length = 4.5, 300.0
    rows = rows_of(lines([(0, 0.8 * d), (length, 1.3 * d)], [(0, 0), (length, 0)]))
    ground = all_of(box(0, -4, length, 12))
    beds = lay_beds(rows, ground.plantable, BedRule())
    counts = []
    for x in np.arange(2.5, length, 5.0):
        distance = 0.8 * d + 0.5 * d * x / length
        fits = (distance - 1.3) / 1.3
        if abs(fits - round(fits)) > 0.03:
            counts.append(int(fits))
            assert between(beds, x, 0, distance) == counts[-1]
    assert set(counts) == {1, 2, 3}
    assert_sound(ground, rows, beds)


def test_beds_fill_the_alley_past_the_end_of_a_point_row():
    rows = rows_of(lines([(0, 9), (100, 9)], [(0, 4.5), (50, 4.5)], [(0, 0), (100, 0)]))
    ground = all_of(box(0, -3, 100, 12))
    beds = lay_beds(rows, ground.plantable, BedRule())
    assert [between(beds, x, 0, 9) for x in (10, 30, 48)] == [4, 4, 4]
    assert [between(beds, x, 0, 9) for x in (60, 80, 95)] == [5, 5, 5]  # (9 - 1.3) / 1.3 = 5.9
    past = beds.beds[(beds.beds.row != 2) & (beds.beds.order > 1)]
    assert past.distance(rows.frame.geometry[1]).min() >= 0.8 - 0.011
    assert_sound(ground, rows, beds)


def test_open_side_is_laid_as_far_as_the_next_row_would_stand():
    rows = rows_of(lines([(0, 0), (60, 0)]), 6.0)
    beds = lay_beds(rows, all_of(box(0, -20, 60, 20)).plantable, BedRule()).beds
    assert sorted(beds.bed) == ["R001-D1", "R001-D2", "R001-D3", "R001-U1", "R001-U2", "R001-U3"]
    assert beds.bounds.maxy.max() <= 6.0 - 0.5 - 0.3  # a tree bed and a path would still fit
    assert (beds.facing_row == 0).all()


def test_beds_end_where_their_full_width_leaves_the_field():
    rows = rows_of(lines(*([(0.0 + y, y), (60.0 + y, y)] for y in (9.0, 4.5, 0.0))))
    ground = all_of(shapely.Polygon([(-3, -3), (57, -3), (72, 12), (12, 12)]))
    beds = lay_beds(rows, ground.plantable, BedRule())
    assert_sound(ground, rows, beds)
    # the edge runs at 45 degrees: a bed's acute corner lies as far back as its far edge is from the row
    assert beds.beds.length_m.to_numpy() == pytest.approx(60.0 - 1.8, abs=0.04)


def test_a_post_interrupts_the_bed_and_leaves_no_bed_across_it():
    rows = rows_of(lines([(0, 0), (40, 0)]))
    field = box(0, -3, 40, 3).difference(Point(20.3, 1.3).buffer(0.15))
    ground = all_of(field)
    beds = lay_beds(rows, ground.plantable, BedRule())
    assert beds.beds.bed.tolist() == ["R001-U1", "R001-U1b", "R001-D1"]
    assert beds.beds.length_m.sum() == pytest.approx(80 - 0.3, abs=0.08)
    assert_sound(ground, rows, beds)


def test_short_pieces_are_left_out():
    rows = rows_of(lines([(0, 0), (40, 0)]))
    field = box(0, -3, 40, 3).difference(box(2.5, 1, 6, 2)).difference(box(9.5, 1, 12, 2))
    for shortest, expected in ((2.4, 4), (3.0, 3), (4.0, 2)):
        beds = lay_beds(rows, all_of(field).plantable, BedRule(min_bed_length_m=shortest)).beds
        assert len(beds) == expected


def test_closed_row_has_beds_on_both_sides_opened_by_a_path():
    angle = np.linspace(0, 2 * np.pi, 400)
    ring = np.column_stack([15 * np.cos(angle), 15 * np.sin(angle)])
    ring[-1] = ring[0]
    rows, ground = rows_of([LineString(ring)]), all_of(box(-25, -25, 25, 25))
    beds = lay_beds(rows, ground.plantable, BedRule())
    assert beds.beds.query("order == 1").length_m.tolist() == pytest.approx(
        [2 * np.pi * r * (1 - 0.3 / (2 * np.pi * 15)) for r in (13.7, 16.3)], rel=1e-3
    )
    assert beds.tree_beds.area.sum() == pytest.approx(2 * np.pi * 15, rel=1e-3)
    assert_sound(ground, rows, beds)


def test_inner_side_of_a_bend_tighter_than_the_bed_carries_none_there():
    bend = LineString([(0, 0), (30, 0), (30.7, 0.3), (31, 1), (30.7, 1.7), (30, 2), (0, 2)])
    rows, ground = rows_of([bend]), all_of(box(-5, -10, 40, 12))
    beds = lay_beds(rows, ground.plantable, BedRule())
    assert (beds.beds.side == "down").all()  # the hairpin's inside is 2 m wide
    assert_sound(ground, rows, beds)


def test_close_vertices_do_not_slit_a_bed():
    # a bend of 9 degrees in 4 cm: sharp for the line, nothing for a bed
    bend = LineString([(0, 0), (20, 0), (20.03, 0.005), (40, 3.2)])
    beds = lay_beds(rows_of([bend]), all_of(box(-5, -10, 45, 15)).plantable, BedRule()).beds
    assert beds.bed.tolist() == ["R001-U1", "R001-U2", "R001-D1", "R001-D2"]


def test_rows_too_close_for_a_bed_have_a_path_between():
    rows = rows_of(lines([(0, 5), (30, 5)], [(0, 2.5), (30, 2.5)]), 2.5)
    ground = all_of(box(0, 0, 30, 7.5))
    beds = lay_beds(rows, ground.plantable, BedRule())
    assert len(beds.beds) == 0
    between_rows = beds.paths[(beds.paths.row == 1) & beds.paths.path.str.contains("D")]
    assert between_rows.width_m.to_numpy() == pytest.approx([1.5], abs=0.01)
    assert_sound(ground, rows, beds)


def test_axis_runs_along_the_middle_the_same_way_as_the_row():
    rows = rows_of([*arcs([40.0]), arcs([44.5])[0].reverse()])
    beds = lay_beds(rows, all_of(box(-10, -10, 60, 60)).plantable, BedRule()).beds
    for _, bed in beds.iterrows():
        row = rows.frame.geometry[bed.row - 1]
        first, last = (row.project(Point(bed.axis.coords[k])) for k in (0, -1))
        assert first < last
        assert shapely.hausdorff_distance(bed.axis, bed.geometry.boundary) < 0.8
        assert bed.axis.length == pytest.approx(bed.length_m)


def test_tree_beds_that_would_meet_are_refused():
    with pytest.raises(LayoutError, match=r"tree_bed_width_m is 4\.2 m"):
        lay_beds(straight_rows(), square_ground().plantable, BedRule(tree_bed_width_m=4.2))


def test_no_rows_give_no_beds():
    beds = lay_beds(rows_of([]), MultiPolygon([box(0, 0, 1, 1)]), BedRule())
    assert len(beds.tree_beds) == len(beds.beds) == len(beds.paths) == 0


def test_progress_is_told_and_rises():
    told = []
    lay_beds(straight_rows(), square_ground().plantable, BedRule(), progress=lambda what, share: told.append(share))
    assert told == sorted(told)
    assert told[0] == 0.0
    assert told[-1] == 1.0


def test_a_tree_bed_that_the_edge_would_cut_moves_where_there_is_room():
    rows = rows_of([LineString([(0, 0.3), (30, 0.3)])])
    ground = all_of(box(0, 0, 30, 1.7))  # no bed fits above the row
    beds = lay_beds(rows, ground.plantable, BedRule())
    assert beds.tree_beds.area.sum() == pytest.approx(30 * 1.0, abs=0.01)
    assert beds.tree_beds.geometry[0].buffer(-0.09).covers(rows.frame.geometry[0].interpolate(15))
    assert_sound(ground, rows, beds)


def test_a_tree_bed_moves_as_far_as_the_narrowest_path_to_the_next_bed_and_the_rest_is_told():
    rows = rows_of([LineString([(0, 0.3), (30, 0.3)])])
    ground = all_of(box(0, 0, 30, 2.4))
    rule = BedRule(narrowest_path_m=0.2)  # tree bed to 0.8, path to 1.1, bed to 2.1
    beds = lay_beds(rows, ground.plantable, rule)
    assert beds.tree_beds.area.sum() == pytest.approx(30 * 0.9, abs=0.1)
    assert beds.tree_beds.distance(beds.beds.union_all()).min() >= 0.2 - 0.021
    told = [f.text for f in bed_findings(beds, rule, RowRule())]
    assert any("narrower in places" in text for text in told)


def test_no_strip_is_smaller_than_a_tenth_of_a_square_metre_and_rings_run_one_way():
    rows = rows_of(lines([(0, 5), (30, 5)], [(0, 9.2), (17, 9.4)], [(3, 14), (30, 13.2)]))
    ground = all_of(box(0, 0, 30, 20).difference(box(11.3, 5.4, 11.6, 5.6)))
    beds = lay_beds(rows, ground.plantable, BedRule())
    for layer in (beds.tree_beds, beds.beds, beds.paths):
        assert layer.area.min() >= 0.1
        assert shapely.is_ccw(shapely.get_exterior_ring(layer.geometry.to_numpy())).all()
    assert_sound(ground, rows, beds)


def test_a_path_in_the_middle_of_an_alley_is_one_polygon_with_its_whole_width():
    rows = rows_of(lines([(0, 10), (30, 10)], [(0, 5), (30, 5)]), 5.0)
    beds = lay_beds(rows, all_of(box(0, 0, 30, 15)).plantable, BedRule())
    between = beds.paths[beds.paths.within(box(0, 5, 30, 10))]
    assert sorted(between.width_m.round(3)) == pytest.approx([0.3, 0.3, 5 - 1 - 2 * 1.3], abs=0.002)
