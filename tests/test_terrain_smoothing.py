"""Smoothing and windows of rasters: what a Gaussian is, where there are too few cells for a plane, and which cells are cut out."""

import numpy as np
import pytest

from geoagro.terrain.smoothing import blurred, smoothed, tiles
from geoagro.terrain.window import window
from geoagro.values.grid import Grid


@pytest.mark.parametrize("sigma", [1.0, 2.5, 4.0])
def test_a_single_peak_spreads_with_the_variance_asked_for_and_nothing_is_lost(sigma):
    peak = np.zeros((61, 61))
    peak[30, 30] = 1.0
    out = blurred(peak, sigma)
    y, x = np.mgrid[-30:31, -30:31]
    assert out.sum() == pytest.approx(1.0)
    assert (out * x**2).sum() == pytest.approx(sigma**2, rel=0.01)
    assert (out * y**2).sum() == pytest.approx(sigma**2, rel=0.01)


def test_lone_cells_and_single_lines_of_cells_keep_the_mean_of_what_is_known_round_them():
    z = np.full((40, 60), np.nan)
    z[5, 5] = 12.0
    z[20, 10:50] = 3.0
    z[30, 10:50] = np.arange(40.0)
    out = smoothed(Grid(z, 0.0, 40.0, 1.0, None), 1.5).values
    assert np.array_equal(np.isnan(out), np.isnan(z))
    assert out[5, 5] == pytest.approx(12.0)
    assert out[20, 10:50] == pytest.approx(3.0)
    assert out[30, 20:40] == pytest.approx(z[30, 20:40])  # as much known on both sides
    assert 0 < out[30, 10] < 3  # known on one side only: the mean, not a line carried on


def test_a_raster_stays_as_it_is_where_nothing_is_known_or_asked():
    grid = Grid(np.full((5, 5), np.nan), 0.0, 5.0, 1.0, None)
    assert smoothed(grid, 3.0) is grid
    known = grid.with_values(np.arange(25.0).reshape(5, 5))
    assert smoothed(known, 0.04) is known
    assert smoothed(known, 0.5) is not known


@pytest.mark.parametrize("shape", [(1100, 600), (512, 513), (30, 20)])
def test_tiles_hold_every_cell_once_with_all_neighbours_in_reach(shape):
    number, seen, pad = np.arange(shape[0] * shape[1]).reshape(shape), np.zeros(shape, dtype=int), 7
    for tile, near, inner in tiles(shape, pad):
        seen[tile] += 1
        assert np.array_equal(number[near][inner], number[tile])
        for axis in (0, 1):
            assert near[axis].start == max(tile[axis].start - pad, 0)
            assert min(near[axis].stop, shape[axis]) == min(tile[axis].stop + pad, shape[axis])
    assert (seen == 1).all()


@pytest.mark.parametrize("margin_m", [0.0, 3.0, 30.0])
@pytest.mark.parametrize(
    "bounds", [(105.0, 203.0, 114.0, 209.0), (91.0, 195.0, 101.0, 240.0), (300.0, 300.0, 310.0, 305.0)]
)
def test_a_window_holds_bounds_and_margin_with_less_than_a_cell_more_and_nothing_moves(bounds, margin_m):
    rng = np.random.default_rng(4)
    grid = Grid(rng.normal(size=(9, 14)), 100.0, 218.0, 2.0, None)
    cut = window(grid, bounds, margin_m)
    west, south, east, north = cut.bounds
    wanted = np.array(bounds) + margin_m * np.array([-1, -1, 1, 1])
    more = (np.array([west, south, east, north]) - wanted) * [-1, -1, 1, 1]
    assert (more >= 0).all() and (more < grid.cell_m).all()
    for k, y in enumerate(cut.y):
        for j, x in enumerate(cut.x):
            row, column = np.rint((grid.north - y) / 2.0 - 0.5), np.rint((x - grid.west) / 2.0 - 0.5)
            inside = 0 <= row < 9 and 0 <= column < 14
            expected = grid.values[int(row), int(column)] if inside else np.nan
            assert cut.values[k, j] == expected or (np.isnan(expected) and np.isnan(cut.values[k, j]))
