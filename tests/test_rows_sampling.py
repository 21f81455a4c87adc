"""Samples, level lines and chains: the forms that rows take on their way."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from landforms import EAST, NORTH, all_of, square, surface
from shapely import LineString, MultiPolygon, Point, box

from geoagro.planar.polylines import Polylines
from geoagro.planar.segments import segments_of
from geoagro.rows.chains import chains_of
from geoagro.rows.clipping import clipped
from geoagro.rows.lattice import build_lattice
from geoagro.rows.level_lines import level_lines
from geoagro.rows.sampling import cast, nearest_other, sample_rows

few = settings(max_examples=25, deadline=None)


@st.composite
def rows_of(draw, most=4):
    """Rows of 2 to 8 vertices, each at least 20 cm from the one before."""
    out = []
    for _ in range(draw(st.integers(1, most))):
        x = np.cumsum(draw(st.lists(st.floats(0.2, 12), min_size=2, max_size=8)))
        y = draw(st.lists(st.floats(-15, 15), min_size=len(x), max_size=len(x)))
        out.append(LineString(np.column_stack([EAST + x, NORTH + np.asarray(y)])))
    return out


@few
@given(rows=rows_of(), step=st.floats(0.3, 5))
def test_samples_lie_on_their_row_in_order_and_their_weights_add_up_to_its_length(rows, step):
    s = sample_rows(rows, step)
    assert s.weight.max() <= step + 1e-6
    for k, row in enumerate(rows):
        mine = s.row == k
        assert s.weight[mine].sum() == pytest.approx(row.length)
        assert ((s.station[mine] > 0) & (s.station[mine] < row.length)).all()
        np.testing.assert_allclose(np.diff(s.station[mine]), s.weight[mine][0], rtol=1e-6)
        assert shapely.distance(shapely.points(s.x[mine], s.y[mine]), row).max() < 1e-6
    assert (np.diff(s.row) >= 0).all()
    np.testing.assert_allclose(s.row_length, shapely.length(rows))


@few
@given(rows=rows_of(), step=st.floats(0.3, 5))
def test_tangents_have_length_one_and_point_forward(rows, step):
    s = sample_rows(rows, step)
    np.testing.assert_allclose(np.hypot(s.tx, s.ty), 1.0, atol=1e-9)
    assert (s.tx > 0).all()  # these rows run eastward throughout


@few
@given(rows=rows_of(), step=st.floats(0.3, 5))
def test_a_reversed_row_has_the_same_samples_the_other_way_round(rows, step):
    there = sample_rows(rows[:1], step)
    back = sample_rows([rows[0].reverse()], step)
    np.testing.assert_allclose(there.x, back.x[::-1], atol=1e-5)
    np.testing.assert_allclose(there.tx, -back.tx[::-1], atol=1e-4)


@few
@given(rows=rows_of(), data=st.data())
def test_positions_are_those_of_the_row(rows, data):
    row = np.array(data.draw(st.lists(st.integers(0, len(rows) - 1), min_size=1, max_size=5)))
    share = np.array(data.draw(st.lists(st.floats(0, 1), min_size=len(row), max_size=len(row))))
    station = share * shapely.length(rows)[row]
    x, y = Polylines.read(rows).at(row, station).T
    for k in range(len(row)):
        assert rows[row[k]].interpolate(station[k]).distance(Point(x[k], y[k])) < 1e-9


@few
@given(rows=rows_of())
def test_pieces_are_the_rows_again(rows):
    s = segments_of(rows)
    long = np.hypot(*(s.end - s.start).T)
    assert long.sum() == pytest.approx(shapely.length(rows).sum())
    for k, row in enumerate(rows):
        mine = s.line == k
        assert mine.sum() == len(row.coords) - 1
        np.testing.assert_allclose(s.station[mine], np.concatenate([[0], np.cumsum(long[mine])[:-1]]), atol=1e-6)


@few
@given(rows=rows_of(), reach=st.floats(1, 20))
def test_what_a_ray_meets_is_no_nearer_than_the_nearest_row_and_lies_where_it_says(rows, reach):
    s, pieces = sample_rows(rows, 1.0), segments_of(rows)
    near = nearest_other(s, pieces, within_m=reach, own_gap_m=1e9)
    for side in (1, -1):
        hits = cast(s, pieces, side=side, reach_m=reach, own_gap_m=1e9)
        met = np.isfinite(hits.distance)
        assert (hits.line[~met] == -1).all()
        assert (hits.line[met] != s.row[met]).all()
        assert (hits.distance[met] >= near[met] - 1e-6).all()
        x, y = Polylines.read(rows).at(hits.line[met], hits.station[met]).T
        away = np.hypot(x - s.x[met], y - s.y[met])
        np.testing.assert_allclose(away, hits.distance[met], atol=1e-5)


def test_no_rows_no_samples():
    assert len(sample_rows([], 2.0)) == 0


def test_the_gradient_of_a_linear_function_is_exact_on_every_triangle():
    lattice = build_lattice(square(40).buffer(5), surface(lambda x, y: 100 + 0.03 * x + 0.04 * y), 2.3)
    x, y = lattice.node_xy.T
    gradient = lattice.gradient_of(0.7 * (x - EAST) - 0.2 * (y - NORTH))
    np.testing.assert_allclose(gradient, np.tile([0.7, -0.2], (len(gradient), 1)), atol=1e-9)
    np.testing.assert_allclose(lattice.bending @ (0.7 * x - 0.2 * y), 0, atol=1e-6)
    np.testing.assert_allclose(lattice.slope, 0.05, atol=1e-12)
    np.testing.assert_allclose(lattice.uphill, np.tile([0.6, 0.8], (len(gradient), 1)), atol=1e-9)


def test_the_lattice_covers_the_domain_and_leaves_out_what_is_outside():
    domain = square(52).difference(box(EAST - 8, NORTH - 8, EAST + 8, NORTH + 8))
    lattice = build_lattice(domain, surface(lambda x, y: 100 + 0 * x), 2.0)
    assert lattice.nodes == len(lattice.node_xy) == np.isfinite(lattice.image(np.zeros(lattice.nodes))).sum()
    assert len(lattice.centre) * 2.0**2 / 2 == pytest.approx(domain.area, rel=0.05)  # two triangles a cell
    assert shapely.distance(shapely.points(lattice.centre), domain).max() < 2.0


@settings(max_examples=12, deadline=None)
@given(bearing=st.floats(0, 360), spacing=st.floats(3, 9), phase=st.floats(0, 0.99))
def test_level_lines_of_a_plane_are_straight_and_one_spacing_apart(bearing, spacing, phase):
    lattice = build_lattice(square(60), surface(lambda x, y: 100 + 0 * x, size_m=60), 2.0)
    a = np.radians(bearing)
    up = np.array([np.sin(a), np.cos(a)])
    phi = (lattice.node_xy - [EAST, NORTH]) @ up
    lines = level_lines(lattice, phi, spacing, phase)
    at = [(shapely.get_coordinates(line) - [EAST, NORTH]) @ up for line in lines]
    assert max(np.ptp(v) for v in at) < 1e-6
    place = np.array([v.mean() for v in at]) / spacing - phase
    np.testing.assert_allclose(place, np.round(place), atol=1e-6)
    steps = np.unique(np.round(place).astype(int))
    assert (np.diff(steps) == 1).all()  # none is missing
    assert (np.diff(place) > -1e-6).all()  # from the lowest up
    # every part of the domain that isn't in the corners has its line: length x spacing is about the area
    assert sum(line.length for line in lines) * spacing == pytest.approx(60 * 60, rel=0.25)


def test_clipping_keeps_the_parts_inside_in_order_and_joins_a_ring_cut_at_its_seam():
    t = np.linspace(0, 2 * np.pi, 200)
    ring = LineString(np.column_stack([EAST + 20 * np.cos(t), NORTH + 20 * np.sin(t)]))
    right = MultiPolygon([box(EAST, NORTH - 30, EAST + 30, NORTH + 30)])  # the seam lies inside
    (half,) = clipped([ring], right)
    assert half.length == pytest.approx(ring.length / 2, rel=1e-3)
    lines = [LineString([(EAST - 50, NORTH + y), (EAST + 50, NORTH + y)]) for y in (-10.0, 0.0, 10.0)]
    two = all_of(square(40)).plantable.difference(box(EAST - 5, NORTH - 50, EAST + 1, NORTH + 50))
    parts = clipped(lines, two)
    assert [round(p.length) for p in parts] == [15, 19] * 3
    assert [p.coords[0][1] - NORTH for p in parts] == [-10, -10, 0, 0, 10, 10]
    assert len(clipped(lines, two, 16.0)) == 3
    assert clipped([], two) == []


@few
@given(rows=rows_of(), step=st.floats(0.2, 2))
def test_chains_keep_the_ends_space_their_nodes_evenly_and_lie_on_the_row(rows, step):
    c = chains_of(rows, step)
    unmoved = c.moved(np.zeros(len(c.row)))
    for k, (row, again) in enumerate(zip(rows, unmoved, strict=True)):
        mine = c.row == k
        assert mine.sum() == c.count[k] >= 3
        assert c.step[k] * (c.count[k] - 1) == pytest.approx(row.length)
        assert again.coords[0] == pytest.approx(row.coords[0], abs=1e-9)
        assert again.coords[-1] == pytest.approx(row.coords[-1], abs=1e-6)
        assert shapely.distance(shapely.points(c.xy[mine]), row).max() < 1e-6
        assert again.hausdorff_distance(row) <= c.step[k] / 2 + 1e-6  # it may cut a corner between two nodes
    np.testing.assert_allclose(np.hypot(*c.normal.T), 1.0, atol=1e-9)


@few
@given(shift=st.floats(-2, 2), bearing=st.floats(0, 360))
def test_a_straight_chain_moves_to_its_left(shift, bearing):
    a = np.radians(bearing)
    along, left = np.array([np.cos(a), np.sin(a)]), np.array([-np.sin(a), np.cos(a)])
    start = np.array([EAST, NORTH])
    c = chains_of([LineString([start, start + 30 * along])], 2.0)
    (row,) = c.moved(np.full(len(c.row), shift))
    assert row.coords[0] == pytest.approx(start + shift * left, abs=1e-6)
    assert row.length == pytest.approx(30)


def test_a_ring_stays_closed_when_its_nodes_move():
    t = np.linspace(0, 2 * np.pi, 300)
    xy = np.column_stack([EAST + 20 * np.cos(t), NORTH + 20 * np.sin(t)])
    xy[-1] = xy[0]
    c = chains_of([LineString(xy)], 1.0)
    (inner,) = c.moved(np.full(len(c.row), 2.0)[c.unknown])
    assert inner.is_closed
    assert inner.is_simple
    radii = np.hypot(*(shapely.get_coordinates(inner) - [EAST, NORTH]).T)
    np.testing.assert_allclose(radii, 18.0, atol=0.01)  # counter-clockwise: left is inward, at the seam as elsewhere
    assert c.is_inner.sum() == c.count[0] - 1
