import builders
import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import MultiPolygon, box
from shapely.affinity import rotate

from geoagro.planar.cells import integrate_over_cells
from geoagro.reports.areas import ground_areas, slope_factor

WHOLE = {"west": 0.0, "north": 7.0, "cell_m": 1.0}


@settings(max_examples=40, deadline=None)
@given(
    x=st.floats(-3, 9), y=st.floats(-3, 9), size=st.floats(0.01, 8), angle=st.floats(0, 90), hole=st.floats(0.1, 0.9)
)
def test_weights_of_one_give_the_plan_area_wherever_the_polygon_lies(x, y, size, angle, hole):
    ring = box(x, y, x + size, y + 2 * size).difference(box(x, y, x + size * hole, y + size * hole).buffer(-size / 50))
    shape = rotate(ring, angle)
    got = integrate_over_cells([shape], np.ones((7, 5)), **WHOLE)
    assert got[0] == pytest.approx(shape.area, rel=1e-9, abs=1e-9)


def test_each_cell_counts_with_the_area_that_the_polygon_covers_of_it():
    rng = np.random.default_rng(7)
    weights = rng.uniform(1, 3, (7, 5))
    shape = rotate(box(0.4, 0.7, 4.2, 6.1), 33).difference(box(2, 3, 2.5, 3.3))
    clipped = shape.intersection(box(0, 0, 5, 7))
    by_hand = sum(
        weights[r, c] * clipped.intersection(box(c, 6 - r, c + 1, 7 - r)).area for r in range(7) for c in range(5)
    )
    assert integrate_over_cells([clipped], weights, **WHOLE)[0] == pytest.approx(by_hand, rel=1e-12)


def test_parts_add_up_to_their_whole_and_empty_polygons_count_nothing():
    weights = np.random.default_rng(1).uniform(1, 2, (7, 5))
    left, right = box(0.3, 0.3, 2.7, 6.0), box(2.7, 0.3, 4.6, 6.0)
    parts = integrate_over_cells([left, right, MultiPolygon()], weights, **WHOLE)
    whole = integrate_over_cells([shapely.union(left, right)], weights, **WHOLE)
    assert parts[2] == 0
    assert parts.sum() == pytest.approx(whole[0], rel=1e-12)


# Kleinn 2002 (slope correction) prints 104.4 % for 30 %; the others are sqrt(1 + s^2), the closed form
@pytest.mark.parametrize(("slope", "factor"), [(0.0, 1.0), (0.30, 1.0440), (0.10, 1.0050), (0.50, 1.1180)])
def test_a_tilted_plane_has_its_closed_form_area(slope, factor):
    terrain = builders.plane(slope=slope)
    shape = rotate(builders.square_site().boundary, 17).buffer(-13.3)
    areas, known = ground_areas([shape], terrain.slope)
    assert areas[0] == pytest.approx(shape.area * np.sqrt(1 + slope**2), rel=1e-12)
    assert areas[0] / shape.area == pytest.approx(factor, abs=5e-5)
    assert known[0] == pytest.approx(1.0)


def test_cells_without_slope_take_the_nearest_and_the_share_that_is_known_is_told():
    terrain = builders.plane(slope=0.3)
    values = terrain.slope.values.copy()
    values[:12] = np.nan  # 10 m margin and the two northern metres of the field
    slope = terrain.slope.with_values(values)
    field = builders.square_site().boundary
    north = box(builders.EAST, builders.NORTH + 90, builders.EAST + 100, builders.NORTH + 100)
    beyond = box(builders.EAST, builders.NORTH - 20, builders.EAST + 100, builders.NORTH)
    areas, known = ground_areas([field, north, beyond], slope)
    assert areas == pytest.approx(np.array([10_000, 1000, 2000]) * slope_factor(np.array(0.3)))
    assert known.tolist() == pytest.approx([0.98, 0.8, 0.5])


def test_no_slope_at_all_gives_no_sloping_area():
    terrain = builders.plane()
    areas, known = ground_areas(
        [builders.square_site().boundary], terrain.slope.with_values(terrain.slope.values * np.nan)
    )
    assert np.isnan(areas).all()
    assert known.tolist() == [0.0]
