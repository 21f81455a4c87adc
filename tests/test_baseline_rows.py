"""The two baselines that the row engine is measured against."""

import importlib.util
from pathlib import Path

import numpy as np
import pytest
import shapely
from builders import EAST, NORTH, UTM, plane, square_site
from shapely import MultiPolygon, Point, box

from geoagro.terrain.slope import slope_and_aspect
from geoagro.values.grid import Grid
from geoagro.values.terrain import Terrain

SPEC = importlib.util.spec_from_file_location(
    "baseline_rows", Path(__file__).parents[1] / "scripts" / "baseline_rows.py"
)
baselines = importlib.util.module_from_spec(SPEC)
SPEC.loader.exec_module(baselines)
D = 4.5


def hills():
    grid = Grid(np.zeros((140, 140)), EAST - 20, NORTH + 120, 1.0, UTM)
    x, y = np.meshgrid(grid.x - EAST, grid.y - NORTH)
    grid = grid.with_values(0.08 * y + 2.5 * np.sin(x / 19) * np.cos(y / 31))
    slope, aspect = slope_and_aspect(grid)
    return Terrain(slope, aspect, grid, grid, 0.0, "built by a test")


def gaps(rows):
    return [shapely.distance(row, np.array(rows[:k] + rows[k + 1 :], dtype=object)).min() for k, row in enumerate(rows)]


@pytest.mark.parametrize("lay", [baselines.parallel_baseline, baselines.contour_baseline])
def test_on_a_plane_both_lay_level_rows_one_spacing_apart(lay):
    rows = lay(square_site().boundary, plane(), D, 20.0)
    assert len(rows) in {22, 23}
    heights = np.sort([row.centroid.y for row in rows])
    np.testing.assert_allclose(np.diff(heights), D, atol=0.05)
    assert max(np.ptp(shapely.get_coordinates(row)[:, 1]) for row in rows) < 0.01


def test_strict_contours_are_level_and_no_nearer_than_nine_tenths_of_the_spacing():
    terrain = hills()
    field = MultiPolygon([square_site().boundary.geoms[0] - Point(EAST + 50, NORTH + 50).buffer(8)])
    rows = baselines.contour_baseline(field, terrain, D, 20.0)
    assert min(row.length for row in rows) >= 20.0
    assert min(gaps(rows)) > 0.88 * D  # between points 0.9 m apart
    for row in rows:
        z = terrain.smooth.sample(*shapely.get_coordinates(row.segmentize(1.0)).T)
        assert np.ptp(z) < 0.15
        assert field.buffer(0.3).contains(row)
    assert sum(row.length for row in rows) * D / field.area > 0.4  # gaps of up to two spacings stay


def test_parallels_keep_their_distance_and_cover_the_field():
    field = square_site().boundary
    rows = baselines.parallel_baseline(field, hills(), D, 20.0)
    assert sum(row.length for row in rows) * D / field.area > 0.9


def test_every_part_of_a_field_gets_strict_contours():
    parts = MultiPolygon([box(EAST, NORTH, EAST + 40, NORTH + 100), box(EAST + 55, NORTH, EAST + 100, NORTH + 100)])
    rows = baselines.contour_baseline(parts, hills(), D, 15.0)
    assert all(any(row.intersects(part) for row in rows) for part in parts.geoms)
