"""Margins of outlines with very many vertices, step by step."""

import numpy as np
import pytest
import shapely

from geoagro.planar.margins import FEW, _dense, _heaps, _pieces, grown, grown_each, margin_inside, near_outline


def ring(corners):
    """A wavy ring with so many coordinates, the closing one among them."""
    turn = np.linspace(0, 2 * np.pi, corners)
    reach = 30 + np.sin(40 * turn)
    xy = np.column_stack([reach * np.cos(turn), reach * np.sin(turn)])
    xy[-1] = xy[0]
    return shapely.MultiPolygon([shapely.Polygon(xy)])


@pytest.mark.parametrize(("corners", "plain"), [(FEW, True), (FEW + 1, False)])
def test_outlines_of_fifteen_hundred_coordinates_take_the_plain_buffer_and_larger_ones_do_not(corners, plain):
    assert FEW == 1500
    area = ring(corners)
    inside = area.difference(area.buffer(-1.0, quad_segs=16))
    assert margin_inside(area, 1.0, quad_segs=16).equals(inside) == plain
    assert near_outline(area, 1.0, quad_segs=16).equals(inside) == plain
    wide = area.buffer(1.0, quad_segs=16)
    assert grown(area, 1.0).equals(wide) == plain
    (one,) = grown_each(np.array([area], dtype=object), np.array([1.0]))
    assert one.equals(wide) == plain
    assert one.symmetric_difference(wide).area < 0.002 * area.length


def test_ground_near_an_outline_of_many_corners_lies_on_both_sides_of_it():
    area = ring(2000)
    near = near_outline(area, 1.0, quad_segs=16)
    assert near.area == pytest.approx(area.boundary.buffer(1.0, quad_segs=16).area, rel=2e-3)
    assert near.intersection(area).area == pytest.approx(margin_inside(area, 1.0, quad_segs=16).area, rel=1e-6)


def test_a_ring_is_cut_into_pieces_of_six_edges():
    xy = np.column_stack([np.arange(14.0), np.zeros(14)])
    pieces = _pieces([xy, xy[:7]])
    assert [len(piece.coords) - 1 for piece in pieces] == [6, 6, 1, 6]
    assert [piece.coords[0][0] for piece in pieces] == [0, 6, 12, 0]


def test_points_along_a_ring_are_no_farther_apart_than_a_step():
    xy = np.array([[0.0, 0.0], [3.0, 0.0], [3.0, 1.0]])
    assert _dense(xy, 1.0).tolist() == [[0, 0], [1, 0], [2, 0], [3, 0]]
    assert _dense(xy, 0.9).tolist() == [[0, 0], [0.75, 0], [1.5, 0], [2.25, 0], [3, 0], [3, 0.5]]


SQUARE = np.array([[0.0, 0.0], [10.0, 0.0], [10.0, 10.0], [0.0, 10.0], [0.0, 0.0]])
"""40 m long; on cells of 1 m it fills 40 of them."""


@pytest.mark.parametrize(("most", "heaps"), [(80, 40), (79, None)])
def test_cells_take_the_place_of_pieces_where_they_are_no_more_than_half_as_many_as_corners(most, heaps):
    found = _heaps([SQUARE], 1.0, most=most)
    assert (None if found is None else len(found)) == heaps
    if found is not None:
        assert shapely.union_all(found).bounds == (0, 0, 10, 10)
        assert shapely.area(found).max() == 0.0


def test_cells_are_not_even_counted_on_an_outline_longer_than_ten_steps_for_each_corner():
    lap = np.concatenate([SQUARE[:-1]] * 30)  # 1,190 m that pass the same 40 cells again and again
    assert len(_heaps([lap], 1.0, most=119)) == 40
    assert _heaps([lap], 1.0, most=118) is None


@pytest.mark.parametrize(("most", "heaps"), [(32, 16), (31, None)])
def test_cells_with_outline_all_round_them_add_nothing(most, heaps):
    """A path through the middles of 5 x 5 cells, forth and back: of the 25 the 9 inner ones are left out."""
    path = np.array([(x if y % 2 == 0 else 4 - x, y) for y in range(5) for x in range(5)], dtype=float) + 0.5
    found = _heaps([np.vstack([path, path[-1]])], 1.0, most=most)
    assert (None if found is None else len(found)) == heaps
    if found is not None:
        centres = shapely.get_coordinates(shapely.centroid(found))
        assert ((centres == 0.5) | (centres == 4.5)).any(axis=1).all()


def test_a_cell_holds_the_hull_of_all_outline_in_it():
    """Two corners of the path in one cell of 4 m: the hull is a line between them."""
    path = np.array([[0.0, 0.0], [1.0, 2.0], [0.0, 0.0]])
    (heap,) = _heaps([path], 4.0, most=20)
    assert heap.equals(shapely.LineString([(0, 0), (1, 2)]))


def test_shapes_without_outline_have_no_margin():
    assert grown(
        shapely.MultiPoint(np.column_stack([100.0 * np.arange(FEW + 1), np.zeros(FEW + 1)])), 1.0
    ).area == pytest.approx((FEW + 1) * shapely.Point(0, 0).buffer(1.0, quad_segs=16).area)
