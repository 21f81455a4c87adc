"""The field split into plantable ground and the rest, with reasons."""

from dataclasses import replace

import numpy as np
import pytest
from builders import EAST, NORTH, UTM, plane, square_site
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, MultiPolygon, Point, Polygon, box, union_all

from geoagro.errors import LayoutError
from geoagro.ground.plantable import plantable_ground, steep_ground
from geoagro.values.design import GroundRule
from geoagro.values.grid import Grid
from geoagro.values.site import Exclusion, Site

REASONS = {"exclusion", "track", "setback", "too_steep", "no_elevation", "small_part"}


def area_by_reason(ground):
    return ground.unplanted.groupby("reason")["area_m2"].sum().to_dict()


def drawn(kind, area):
    return Exclusion(kind, kind, area if isinstance(area, MultiPolygon) else MultiPolygon([area]), 0.0)


def dome(limit_radius_m=20.0):
    """Slope grows outwards from the field's middle and passes 30 % at a radius."""
    terrain = plane()
    x, y = np.meshgrid(terrain.slope.x - EAST - 50, terrain.slope.y - NORTH - 50)
    return replace(terrain, slope=terrain.slope.with_values(0.30 * np.hypot(x, y) / limit_radius_m))


def test_a_square_less_its_setback():
    ground = plantable_ground(square_site(), plane(), GroundRule(setback_m=2.0))
    assert ground.plantable.area == pytest.approx(96.0**2)
    assert area_by_reason(ground) == {"setback": pytest.approx(100.0**2 - 96.0**2)}


def test_the_setback_is_kept_round_holes_too_and_is_round_at_corners():
    site = square_site()
    holed = replace(site, boundary=site.boundary - box(EAST + 40, NORTH + 40, EAST + 60, NORTH + 60))
    holed = replace(holed, boundary=MultiPolygon([holed.boundary]))
    ground = plantable_ground(holed, plane(), GroundRule(setback_m=2.0))
    around_hole = 4 * 20 * 2 + np.pi * 2**2
    assert area_by_reason(ground)["setback"] == pytest.approx(100.0**2 - 96.0**2 + around_hole, rel=1e-3)


def test_overlapping_reasons_count_once_in_their_order():
    road = drawn("track", box(EAST, NORTH + 48, EAST + 100, NORTH + 52))
    pond = drawn("exclusion", box(EAST + 40, NORTH + 40, EAST + 60, NORTH + 60))
    site = replace(square_site(), exclusions=(road, pond))
    areas = area_by_reason(plantable_ground(site, plane(), GroundRule(setback_m=1.0)))
    assert areas["exclusion"] == pytest.approx(400.0)
    assert areas["track"] == pytest.approx(4 * 100 - 4 * 20)
    assert areas["setback"] == pytest.approx(100.0**2 - 98.0**2 - 2 * 4 * 1)


def test_steep_ground_is_outlined_where_the_slope_passes_the_limit():
    ground = plantable_ground(square_site(), dome(), GroundRule(setback_m=0.0, max_slope_pct=30.0))
    assert ground.plantable.area == pytest.approx(np.pi * 20.0**2, rel=2e-3)
    assert area_by_reason(ground)["too_steep"] == pytest.approx(100.0**2 - np.pi * 20.0**2, rel=2e-3)


def test_steep_specks_and_gentle_islands_follow_their_surroundings():
    values = np.full((60, 60), 0.1)
    values[10:13, 10:13] = 0.9
    values[30:50, 30:50] = 0.9
    values[38:41, 38:41] = 0.1
    outline = steep_ground(Grid(values, 0.0, 60.0, 1.0, None), 0.5)
    assert outline.geom_type == "Polygon" and not outline.interiors
    assert outline.area == pytest.approx(400, rel=0.02)


def test_ground_without_elevation_is_left_out_and_named():
    terrain = plane()
    values = terrain.slope.values.copy()
    values[:, :30] = np.nan
    ground = plantable_ground(
        square_site(), replace(terrain, slope=terrain.slope.with_values(values)), GroundRule(setback_m=0.0)
    )
    assert area_by_reason(ground) == {"no_elevation": pytest.approx(20 * 100.0)}


def test_parts_too_small_to_plant_are_named():
    lane = drawn("track", box(EAST + 95, NORTH, EAST + 97, NORTH + 100))
    site = replace(square_site(), exclusions=(lane,))
    ground = plantable_ground(site, plane(), GroundRule(setback_m=0.0, min_part_m2=400.0))
    assert area_by_reason(ground) == {"track": pytest.approx(200.0), "small_part": pytest.approx(300.0)}
    assert len(ground.plantable.geoms) == 1


def test_nothing_left_says_what_took_the_ground_and_how_to_get_it_back():
    with pytest.raises(LayoutError, match=r"too_steep 9604 m², setback 396 m².*ground\.max_slope_pct"):
        plantable_ground(square_site(), plane(slope=0.7), GroundRule(setback_m=1.0))


coordinate = st.floats(-10, 110, allow_nan=False)


@st.composite
def sites(draw):
    drawn_points = draw(st.lists(st.tuples(coordinate, coordinate), min_size=5, max_size=9))
    spread = [(EAST + x, NORTH + y) for x, y in drawn_points]
    hull = union_all([Point(*p).buffer(12.0, quad_segs=3) for p in spread] + [LineString(spread).buffer(6.0)])
    boundary = hull if isinstance(hull, MultiPolygon) else MultiPolygon([hull])
    pieces = []
    for kind in draw(st.lists(st.sampled_from(["exclusion", "track"]), max_size=3)):
        x, y, r = draw(coordinate), draw(coordinate), draw(st.floats(1, 15))
        pieces.append(drawn(kind, Point(EAST + x, NORTH + y).buffer(r)))
    return Site("any", boundary, tuple(pieces), (), UTM)


@settings(max_examples=25, deadline=None)
@given(site=sites(), setback=st.floats(0, 4), steepest=st.floats(5, 60))
def test_plantable_and_unplanted_make_up_the_boundary_without_overlap(site, setback, steepest):
    rule = GroundRule(setback_m=setback, max_slope_pct=steepest)
    try:
        ground = plantable_ground(site, dome(), rule)
    except LayoutError:
        return
    pieces = [ground.plantable, *ground.unplanted.geometry]
    total = sum(p.area for p in pieces)
    assert total == pytest.approx(site.boundary.area, rel=1e-6)
    assert union_all(pieces).area == pytest.approx(total, rel=1e-6)
    assert set(ground.unplanted["reason"]) <= REASONS
    assert all(isinstance(p, Polygon) and p.is_valid for p in ground.unplanted.geometry)
    assert ground.plantable.is_valid
