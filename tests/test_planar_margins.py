"""Margins of outlines with very many vertices are those of the plain buffer."""

import numpy as np
import pytest
import shapely

from geoagro.planar.margins import FEW, grown, margin_inside


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
