"""Coarse rasters: the surface between their cells, against closed forms."""

import numpy as np
import pytest
from pyproj import CRS
from shapely import MultiPolygon, box

from geoagro.terrain.build import build_terrain
from geoagro.terrain.refining import refined
from geoagro.values.grid import Grid
from geoagro.values.terrain import GroundSource

UTM = CRS.from_epsg(32633)
WEST, NORTH = 600_000.0, 5_000_000.0


def raster(shape, cell_m, count=24):
    x = WEST + (np.arange(count) + 0.5) * cell_m
    y = NORTH - (np.arange(count) + 0.5) * cell_m
    return Grid(shape(*np.meshgrid(x - WEST, y - NORTH)), WEST, NORTH, cell_m, UTM)


@pytest.mark.parametrize("cell_m", [3.5, 5.0, 10.0, 25.0])
def test_a_plane_stays_that_plane_up_to_its_edge(cell_m):
    def plane(x, y):
        return 300 + 0.07 * x - 0.04 * y

    fine = refined(raster(plane, cell_m))
    assert fine.cell_m <= 3.0
    assert fine.bounds == pytest.approx(raster(plane, cell_m).bounds)
    assert fine.values == pytest.approx(plane(*np.meshgrid(fine.x - WEST, fine.y - NORTH)), abs=1e-6)


def test_cells_that_are_narrow_enough_stay_as_they_are():
    grid = raster(lambda x, y: x * y, 3.0)
    assert refined(grid) is grid


@pytest.mark.parametrize(("cell_m", "length_m"), [(10.0, 70.0), (25.0, 160.0)])
def test_slopes_of_a_wave_come_nearer_to_the_closed_form_than_straight_lines_between_cells(cell_m, length_m):
    k = 2 * np.pi / length_m
    grid = raster(lambda x, y: np.sin(k * x) + 0 * y, cell_m)
    fine = refined(grid)
    at = WEST + np.arange(6 * cell_m, 18 * cell_m, 1.0)
    middle = np.full(len(at), NORTH - 12 * cell_m)
    grade = (np.sin(k * (at + 5 - WEST)) - np.sin(k * (at - 5 - WEST))) / 10

    def error(surface):
        chord = (surface.sample(at + 5, middle) - surface.sample(at - 5, middle)) / 10
        return np.abs(chord - grade).max() / k

    assert error(fine) < 0.03
    assert error(fine) < error(grid) / 4


def test_cells_without_a_value_have_none_when_split_and_bend_nothing_far_from_them():
    grid = raster(lambda x, y: 100 + 0.05 * x, 10.0)
    holed = grid.values.copy()
    holed[3:6, 2:5] = np.nan
    fine = refined(grid.with_values(holed))
    assert np.isnan(fine.values[3 * 4 : 6 * 4, 2 * 4 : 5 * 4]).all()
    assert np.isfinite(fine.values[40:]).all()
    far = fine.values[60:]
    assert far == pytest.approx(np.broadcast_to(100 + 0.05 * (fine.x - WEST), far.shape), abs=1e-4)


def test_grades_of_rows_on_a_coarse_raster_are_judged_on_the_finer_surface():
    grid = raster(lambda x, y: 100 + 3 * np.sin(x / 25) + 0.05 * y, 10.0, count=40)
    field = MultiPolygon([box(WEST + 120, NORTH - 280, WEST + 280, NORTH - 120)])
    terrain = build_terrain(GroundSource(grid, None, None, None, "invented"), field, spacing_m=4.5)
    assert terrain.judged.cell_m == 2.5
    assert terrain.heights.cell_m == 10.0
