"""Contour lines: closed forms and a second implementation."""

import numpy as np
import pytest
import shapely
from builders import EAST, NORTH, UTM, plane, square_site
from shapely import MultiPolygon, Point

from geoagro.errors import LayoutError
from geoagro.terrain.contours import auto_interval, contour_lines
from geoagro.values.grid import Grid
from geoagro.values.terrain import Terrain


def terrain_of(values, west, north, cell_m=1.0):
    grid = Grid(values, west, north, cell_m, UTM)
    return Terrain(grid, grid, grid, grid, 0.0, "built by a test")


def cone(slope=0.2, size=161, top=50.0):
    grid = Grid(np.zeros((size, size)), EAST - size / 2, NORTH + size / 2, 1.0, UTM)
    x, y = np.meshgrid(grid.x - EAST, grid.y - NORTH)
    return terrain_of(top - slope * np.hypot(x, y), grid.west, grid.north)


def test_contours_of_a_cone_are_circles_of_the_right_radius():
    terrain = cone()
    lines = contour_lines(terrain, MultiPolygon([Point(EAST, NORTH).buffer(70, quad_segs=64)]), 1.0)
    rings = lines[lines["elevation_m"].between(37.0, 47.0)]
    assert len(rings) == 11
    for height, line in zip(rings["elevation_m"], rings.geometry, strict=True):
        radius = np.hypot(*(shapely.get_coordinates(line) - [EAST, NORTH]).T)
        np.testing.assert_allclose(radius, (50 - height) / 0.2, atol=0.01)
        assert line.is_closed


def test_contours_of_a_plane_are_straight_reach_the_boundary_and_lie_at_cell_centres_heights():
    lines = contour_lines(plane(slope=0.10), square_site().boundary, 1.0)
    assert lines["elevation_m"].tolist() == sorted(lines["elevation_m"])
    inner = lines[lines["elevation_m"].between(101.0, 109.0)]
    assert len(inner) == 9
    np.testing.assert_allclose(inner.length, 100.0, atol=1e-6)
    for height, line in zip(inner["elevation_m"], inner.geometry, strict=True):
        np.testing.assert_allclose(shapely.get_coordinates(line)[:, 1], NORTH + (height - 100) / 0.1, atol=1e-6)
    assert inner.loc[inner["is_index"], "elevation_m"].tolist() == [105.0]


def test_contours_agree_with_a_second_implementation():
    measure = pytest.importorskip("skimage.measure")
    rng = np.random.default_rng(5)
    rough = rng.normal(size=(60, 70)).cumsum(0).cumsum(1) * 0.05
    terrain = terrain_of(rough, EAST, NORTH + 60)
    field = MultiPolygon([shapely.box(EAST - 9, NORTH - 9, EAST + 90, NORTH + 90)])
    ours = contour_lines(terrain, field, 1.0)
    for height in ours["elevation_m"].unique():
        other = sum(float(np.hypot(*np.diff(line, axis=0).T).sum()) for line in measure.find_contours(rough, height))
        assert ours[ours["elevation_m"] == height].length.sum() == pytest.approx(other, rel=1e-3)


@pytest.mark.parametrize("relief", [0.04, 0.3, 1.0, 2.4, 7.9, 11.6, 31.8, 70.0, 120.0, 900.0])
def test_the_auto_interval_gives_ten_to_twenty_five_lines_of_the_series_1_2_5(relief):
    interval = auto_interval(relief)
    assert 9.99 <= relief / interval <= 25.01
    digit = interval / 10 ** np.floor(np.log10(interval) + 1e-9)
    assert min(abs(digit - d) for d in (1, 2, 5)) < 1e-6


def test_level_ground_has_no_contours_and_an_interval_of_0_is_refused():
    flat = terrain_of(np.full((40, 40), 7.0), EAST, NORTH + 40)
    field = MultiPolygon([shapely.box(EAST + 5, NORTH + 5, EAST + 30, NORTH + 30)])
    assert len(contour_lines(flat, field, "auto")) == 0
    with pytest.raises(LayoutError, match="must be above 0"):
        contour_lines(flat, field, 0.0)


@pytest.mark.parametrize("known", [0, 1])
def test_a_field_whose_heights_are_unknown_or_of_one_cell_has_no_contours(known):
    values = np.full((40, 40), np.nan)
    values[20, 20 : 20 + known] = 7.0
    field = MultiPolygon([shapely.box(EAST + 5, NORTH + 5, EAST + 30, NORTH + 30)])
    assert len(contour_lines(terrain_of(values, EAST, NORTH + 40), field, "auto")) == 0
