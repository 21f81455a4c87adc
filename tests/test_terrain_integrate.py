"""Heights integrated from slope and aspect, against surfaces whose gradient is known in closed form."""

import numpy as np
import pytest

from geoagro.terrain import integrate
from geoagro.terrain.integrate import heights_from_gradient
from geoagro.values.grid import Grid


def rasters(p, q, known, cell_m):
    """Slope and aspect (downslope, clockwise from north) of rises p to the east and q to the north."""
    grid = Grid(np.zeros(known.shape), 300.0, 900.0, cell_m, None)
    aspect = np.degrees(np.arctan2(-p, -q)) % 360
    slope = np.hypot(p, q)
    return (
        grid.with_values(np.where(known, slope, np.nan)),
        grid.with_values(np.where(known & (slope > 0), aspect, np.nan)),
    )


@pytest.mark.parametrize("cell_m", [0.5, 2.0])
@pytest.mark.parametrize("holes", [False, True])
def test_surfaces_of_second_degree_come_back_exactly_with_their_lowest_place_at_nought(cell_m, holes, monkeypatch):
    # the mean of two slopes times the step is exact where slopes change evenly
    known = np.ones((23, 31), dtype=bool)
    if holes:
        known[5:9, 8:20] = False
        known[15:, :7] = False
    else:
        monkeypatch.setattr(integrate, "MOST_STEPS", 3)  # on a rectangle the first step is the solution
    grid = Grid(np.zeros(known.shape), 300.0, 900.0, cell_m, None)
    x, y = np.meshgrid(grid.x - 306.0, grid.y - 890.0)
    z = 0.02 * x**2 - 0.013 * x * y + 0.007 * y**2 + 0.05 * x - 0.11 * y
    found = heights_from_gradient(*rasters(0.04 * x - 0.013 * y + 0.05, 0.014 * y - 0.013 * x - 0.11, known, cell_m))
    assert np.isnan(found.values[~known]).all()
    assert found.values[known] == pytest.approx(z[known] - z[known].min(), abs=1e-6)


def test_level_ground_needs_no_aspect_and_has_one_height():
    known = np.ones((6, 7), dtype=bool)
    found = heights_from_gradient(*rasters(np.zeros(known.shape), np.zeros(known.shape), known, 1.0))
    assert (found.values == 0.0).all()
