"""Slope and aspect against published examples and closed forms."""

import numpy as np
import pytest

from geoagro.terrain.slope import gradient, slope_and_aspect
from geoagro.values.grid import Grid


def window3(values, cell_m=1.0):
    return Grid(np.array(values, dtype=float), 0.0, 3 * cell_m, cell_m, None)


def test_slope_equals_the_published_example():
    # ESRI documentation, "How Slope works": 75.25762 degrees (exact 75.257658)
    slope, _ = slope_and_aspect(window3([[50, 45, 50], [30, 30, 30], [8, 10, 10]], cell_m=5.0))
    assert np.degrees(np.arctan(slope.values[1, 1])) == pytest.approx(75.25762, abs=1e-4)
    assert slope.values[1, 1] == pytest.approx(3.80032, abs=1e-5)


def test_aspect_equals_the_published_example():
    # ESRI documentation, "How Aspect works": 92.64 degrees
    _, aspect = slope_and_aspect(window3([[101, 92, 85], [101, 92, 85], [101, 91, 84]]))
    assert aspect.values[1, 1] == pytest.approx(92.64, abs=0.005)


@pytest.mark.parametrize("bearing", [0.0, 37.0, 90.0, 200.0, 315.0])
def test_a_plane_has_its_own_slope_and_aspect(bearing):
    grid = Grid(np.zeros((12, 9)), 100.0, 50.0, 2.0, None)
    fall = np.radians(bearing)
    z = -0.17 * (grid.x[None, :] * np.sin(fall) + grid.y[:, None] * np.cos(fall))
    slope, aspect = slope_and_aspect(grid.with_values(z))
    np.testing.assert_allclose(slope.values[1:-1, 1:-1], 0.17, atol=1e-10)
    away = (aspect.values[1:-1, 1:-1] - bearing + 180) % 360 - 180
    np.testing.assert_allclose(away, 0.0, atol=1e-7)


def test_a_cone_falls_away_from_its_top():
    grid = Grid(np.zeros((81, 81)), -40.5, 40.5, 1.0, None)
    x, y = np.meshgrid(grid.x, grid.y)
    slope, aspect = slope_and_aspect(grid.with_values(-0.2 * np.hypot(x, y)))
    ring = (np.hypot(x, y) > 15) & (np.hypot(x, y) < 38)
    np.testing.assert_allclose(slope.values[ring], 0.2, atol=3e-4)
    away = (aspect.values - np.degrees(np.arctan2(x, y)) + 180) % 360 - 180
    assert np.abs(away[ring]).max() < 0.3


def test_level_ground_has_no_aspect_and_missing_cells_no_slope():
    z = np.zeros((5, 5))
    z[0, 0] = np.nan
    slope, aspect = slope_and_aspect(Grid(z, 0.0, 5.0, 1.0, None))
    assert np.isnan(slope.values[1, 1])
    assert slope.values[2, 2] == 0.0
    assert np.isnan(aspect.values[2, 2])
    assert np.isnan(gradient(Grid(z, 0.0, 5.0, 1.0, None))[0][0]).all()
