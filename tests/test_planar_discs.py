"""Area under discs, held against closed forms and against polygons with many corners."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from geoagro.planar.discs import area_of_discs
from geoagro.reports.canopy import canopy_cover

CORNERS = 512  # per quarter: the polygon is less than 2e-6 of its area short


def polygons(xy, radii):
    """Give the area by overlays of polygons."""
    return shapely.union_all(shapely.buffer(shapely.points(xy), radii, quad_segs=CORNERS)).area


def test_two_discs_cover_their_areas_less_the_lens_between_them():
    # lens of circles of radii 2 and 1 whose middles are 2 apart (closed form of the circle-circle intersection)
    r, s, d = 2.0, 1.0, 2.0
    lens = r * r * np.arccos((d * d + r * r - s * s) / (2 * d * r)) + s * s * np.arccos(
        (d * d + s * s - r * r) / (2 * d * s)
    )
    lens -= 0.5 * np.sqrt((-d + s + r) * (d + s - r) * (d - s + r) * (d + s + r))
    found = area_of_discs(np.array([[500_000.0, 5_000_000.0], [500_002.0, 5_000_000.0]]), np.array([r, s]))
    assert found == pytest.approx(np.pi * 5 - lens, rel=1e-9)


def test_hidden_and_repeated_discs_add_nothing_and_one_round_a_gap_leaves_it():
    middle = np.array([[10.0, 10.0]])
    assert area_of_discs(np.repeat(middle, 3, axis=0), np.array([2.0, 1.0, 2.0])) == pytest.approx(4 * np.pi)
    assert area_of_discs(middle, np.zeros(1)) == 0.0 == area_of_discs(np.zeros((0, 2)), np.zeros(0))
    angle = np.arange(12) * np.pi / 6
    ring = np.column_stack([np.cos(angle), np.sin(angle)]) * 10
    radii = np.full(12, 3.0)
    assert area_of_discs(ring, radii) == pytest.approx(polygons(ring, radii), rel=5e-6)


@settings(deadline=None, max_examples=60)
@given(
    st.lists(
        st.tuples(st.floats(0, 30), st.floats(0, 30), st.sampled_from([0.0, 0.4, 1.0, 2.5, 6.0])),
        min_size=1,
        max_size=40,
    )
)
def test_any_discs_cover_what_polygons_with_many_corners_cover_in_any_order(discs):
    table = np.round(np.array(discs), 3)
    found = area_of_discs(table[:, :2], table[:, 2])
    assert found == pytest.approx(polygons(table[:, :2], table[:, 2]), rel=5e-6, abs=1e-6)
    assert area_of_discs(table[::-1, :2], table[::-1, 2]) == pytest.approx(found, rel=1e-9)


@settings(deadline=None, max_examples=40)
@given(st.lists(st.tuples(st.floats(-5, 45), st.floats(-5, 45), st.sampled_from([0.0, 1.0, 4.0, 9.0])), max_size=40))
def test_crowns_are_cut_at_the_edge_and_at_holes_of_a_field(crowns):
    table = np.round(np.array(crowns).reshape(-1, 3), 3)
    hole = shapely.box(20, 20, 28, 30)
    field = shapely.MultiPolygon([shapely.box(0, 0, 40, 35).difference(hole), shapely.box(23, 23, 25, 25)])
    expected = shapely.intersection(
        shapely.union_all(shapely.buffer(shapely.points(table[:, :2]), table[:, 2] / 2, quad_segs=CORNERS)), field
    ).area
    assert canopy_cover(table[:, :2], table[:, 2], field) == pytest.approx(expected, rel=2e-3, abs=0.06)
