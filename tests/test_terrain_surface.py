"""The thin plate through contour lines, piece by piece."""

import geopandas as gpd
import numpy as np
import pytest
import shapely
from builders import EAST, NORTH, UTM
from shapely import LineString, MultiPolygon

from geoagro.errors import LayoutError
from geoagro.terrain.surface import _misfit, _near, _points, _second_differences
from geoagro.values.grid import Grid


def test_bending_of_the_plate_is_that_of_the_second_derivatives():
    """On x^2, y^2 and x y they are 2, 2 and 1 at each cell that has the neighbours for them; planes have none."""
    rows, columns = 6, 8
    number = np.arange(rows * columns).reshape(rows, columns)
    bending = _second_differences(number, rows * columns)
    y, x = (v.ravel().astype(float) for v in np.mgrid[0:rows, 0:columns])

    def energy(z):
        return float(((bending @ z) ** 2).sum())

    assert energy(x**2) == pytest.approx(4 * rows * (columns - 2))
    assert energy(y**2) == pytest.approx(4 * columns * (rows - 2))
    assert energy(x * y) == pytest.approx(2 * (rows - 1) * (columns - 1))  # twice the square, as in (z_xx + z_yy)^2
    assert energy(3 * x - 2 * y + 7) == pytest.approx(0, abs=1e-18)
    holed = number.copy()
    holed[2, 3] = -1  # not solved for
    assert ((_second_differences(holed, rows * columns) @ np.eye(rows * columns)[number[2, 3]]) == 0).all()


def test_points_of_contour_lines_read_the_surface_between_four_cells():
    rng = np.random.default_rng(1)
    grid = Grid(rng.normal(size=(7, 9)), EAST, NORTH, 2.0, UTM)
    number = np.arange(63).reshape(7, 9)
    number[6] = -1
    number[number >= 54] = -1
    x, y = EAST + rng.uniform(-2, 20, 200), NORTH - rng.uniform(-2, 16, 200)
    matrix, z = _misfit(grid, number, x, y, np.arange(200.0))
    kept = z.astype(int)
    assert (matrix @ grid.values.ravel()[:54]) == pytest.approx(grid.sample(x[kept], y[kept]))
    # all points between the centres of the rows that are solved for
    inside = (x > EAST + 1) & (x < EAST + 17) & (y < NORTH - 1) & (y > NORTH - 11)
    assert kept.tolist() == np.flatnonzero(inside).tolist()


def test_points_along_contour_lines_are_no_farther_apart_than_a_cell_and_have_the_line_s_height():
    lines = gpd.GeoDataFrame(
        {"elevation_m": [4.0, 9.0]}, geometry=[LineString([(0, 0), (10, 0)]), LineString([(0, 5), (0, 8)])], crs=UTM
    )
    xyz = _points(lines, 3.0)
    first = xyz[xyz[:, 2] == 4.0]
    assert first[:, 0].tolist() == pytest.approx([0, 2.5, 5, 7.5, 10])
    assert xyz[xyz[:, 2] == 9.0][:, 1].tolist() == [5, 8]


@pytest.mark.parametrize(("low", "enough"), [(0.08, True), (0.12, False)])
def test_contour_lines_have_to_enclose_nine_tenths_of_the_field(low, enough):
    field = MultiPolygon([shapely.box(EAST, NORTH, EAST + 40, NORTH + 40)])
    heights = np.linspace(low * 40, 41.0, 5)
    geometry = [LineString([(EAST - 3, NORTH + h), (EAST + 43, NORTH + h)]) for h in heights]
    lines = gpd.GeoDataFrame({"elevation_m": heights}, geometry=geometry, crs=UTM)
    if enough:
        assert len(_near(lines, field, 1.0)) == 5
    else:
        with pytest.raises(LayoutError, match="enclose only 88%"):
            _near(lines, field, 1.0)


@pytest.mark.parametrize(("away", "kept"), [(9.9, 2), (10.1, 1)])
def test_contour_lines_farther_off_than_a_quarter_of_the_field_tell_nothing_about_it(away, kept):
    field = MultiPolygon([shapely.box(EAST, NORTH, EAST + 40, NORTH + 30)])
    round_it = shapely.box(EAST - 1, NORTH - 1, EAST + 41, NORTH + 31).exterior
    for x in (EAST - away, EAST + 40 + away):
        lines = gpd.GeoDataFrame(
            {"elevation_m": [1.0, 2.0, 3.0]},
            geometry=[LineString(round_it.coords), LineString([(EAST, NORTH + 9), (EAST + 40, NORTH + 9)]),
                      LineString([(x, NORTH), (x, NORTH + 30)])],
            crs=UTM,
        )  # fmt: skip
        assert len(_near(lines, field, 1.0)) == 1 + kept
