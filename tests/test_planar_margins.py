"""Margins of outlines with very many vertices are those of the plain buffer."""

import numpy as np
import pytest
import shapely

from geoagro.planar.margins import FEW, _heaps, _strip, grown, grown_each, margin_inside


def jittery(vertices, holes=0):
    rng = np.random.default_rng(3)
    angle = np.linspace(0, 2 * np.pi, vertices, endpoint=False)
    radius = 100 + rng.normal(0, 0.2, vertices)
    outline = np.column_stack([radius * np.cos(angle), radius * np.sin(angle)])
    return shapely.MultiPolygon([shapely.Polygon(outline, [outline * 0.2] if holes else [])])


@pytest.mark.parametrize("holes", [0, 1])
@pytest.mark.parametrize("width", [0.5, 5.0])
def test_many_vertices_give_the_same_margins_as_few(holes, width):
    area = jittery(FEW + 100, holes)
    inside = margin_inside(area, width, quad_segs=16)
    plain = area.difference(area.buffer(-width, quad_segs=16))
    assert inside.symmetric_difference(plain).area < 0.002 * plain.area
    wide = area.buffer(width, quad_segs=16)
    assert grown(area, width).symmetric_difference(wide).area < 0.002 * wide.area


def test_few_vertices_take_the_plain_buffer():
    area = jittery(200)
    assert margin_inside(area, 2.0, quad_segs=16).equals(area.difference(area.buffer(-2.0, quad_segs=16)))
    assert grown(area, 2.0).equals(area.buffer(2.0, quad_segs=16))


def test_work_grows_with_the_vertices_and_not_with_their_square():
    assert 500 < margin_inside(jittery(15_000), 1.0, quad_segs=16).area < 1100  # a metre along 628 m that jitter


def test_an_outline_that_passes_the_same_ground_many_times_has_the_margins_of_the_plain_buffer():
    area = jittery(FEW + 100)
    rings = [shapely.get_coordinates(area)]
    hulls = _heaps(rings, 2.0, most=len(rings[0]))
    assert hulls is not None
    assert _heaps(rings, 0.01, most=len(rings[0])) is None  # pieces are fewer
    wide = area.buffer(20.0, quad_segs=16)
    assert grown(area, 20.0).symmetric_difference(wide).area < 0.003 * wide.difference(area).area


@pytest.mark.parametrize("count", [40, FEW + 100])
def test_lines_points_and_polygons_grow_each_by_its_own_width(count):
    x = np.linspace(0, 200, count)
    line = shapely.LineString(np.c_[x, 3 * np.sin(x / 5)])
    shapes = np.array([line, shapely.MultiPoint(line.coords), jittery(40), shapely.Point(3, 4)], dtype=object)
    widths = np.array([2.0, 2.0, 0.0, 5.0])
    for got, shape, width in zip(grown_each(shapes, widths), shapes, widths, strict=True):
        wanted = shape.buffer(width, quad_segs=16) if width else shape
        assert got.symmetric_difference(wanted).area <= 0.003 * wanted.area


@pytest.mark.parametrize("corners", range(7, 14))
def test_every_edge_has_its_margin_however_the_outline_is_cut(corners):
    turn = np.linspace(0, 2 * np.pi, corners, endpoint=False)
    area = shapely.Polygon(50 * np.c_[np.cos(turn), np.sin(turn)])
    strip = _strip(area, 0.5, 16)
    edges = shapely.linestrings(np.stack([area.exterior.coords[:-1], area.exterior.coords[1:]], axis=1))
    assert shapely.covered_by(edges, strip.buffer(1e-6)).all()
