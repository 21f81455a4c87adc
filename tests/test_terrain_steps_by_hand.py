"""Steps from ground to terrain, each against sums worked out apart from the code."""

from types import SimpleNamespace

import geopandas as gpd
import numpy as np
import pytest
import shapely
from builders import EAST, NORTH, UTM, plane
from shapely import LineString, MultiPolygon, box

from geoagro.terrain import surface
from geoagro.terrain.build import build_terrain
from geoagro.terrain.continuation import continued
from geoagro.terrain.contours import contour_lines, lines_at
from geoagro.terrain.difficulty import _metres, _rows, _sentence
from geoagro.terrain.difficulty_zones import difficulty_zones
from geoagro.terrain.integrate import heights_from_gradient
from geoagro.terrain.smoothing import smoothed
from geoagro.terrain.surface import _misfit, _second_differences, _thin_plate, heights_from_contours
from geoagro.terrain.window import cells_in
from geoagro.values.grid import Grid
from geoagro.values.terrain import GroundSource

FIELD = MultiPolygon([box(EAST, NORTH, EAST + 60, NORTH + 40)])


def tilted(west=-20, north=60, columns=100, rows=80):
    grid = Grid(np.zeros((rows, columns)), EAST + west, NORTH + north, 1.0, UTM)
    return grid.with_values(np.add.outer(0.1 * (grid.y - NORTH), 0.03 * (grid.x - EAST)))


def ground(heights):
    return GroundSource(heights=heights, contours=None, slope=None, aspect_deg=None, description="a test")


# --- build -------------------------------------------------------------------------------------------------------


def test_terrain_reaches_two_spacings_and_three_cells_past_the_field_on_a_window_of_its_own():
    """Spacing 4.5: sigma 3.15; 9 + 4 x 3.15 + 2 cells are 23.6, so 24 cells to each side; known 9 + 3 m out of data that end."""
    cut = tilted()
    cut = cut.with_values(np.where(cells_in(cut, FIELD), cut.values, np.nan))
    told = []
    terrain = build_terrain(ground(cut), FIELD, spacing_m=4.5, progress=lambda what, share: told.append(share))
    assert terrain.smooth.values.shape == (40 + 48, 60 + 48)
    assert (terrain.smooth.west, terrain.smooth.north) == (EAST - 24, NORTH + 64)
    assert terrain.smoothing_m == pytest.approx(3.15)
    known = np.isfinite(terrain.smooth.values)
    assert (known == cells_in(terrain.smooth, FIELD.buffer(12.0))).all()
    assert told == [0.2, 0.4, 0.8, 1.0]


def test_contour_lines_are_gridded_at_a_third_of_the_spacing():
    heights = np.arange(-20.0, 62.0, 4.0)
    lines = gpd.GeoDataFrame(
        {"elevation_m": heights},
        geometry=[LineString([(EAST - 30, NORTH + y), (EAST + 90, NORTH + y)]) for y in heights],
        crs=UTM,
    )
    source = GroundSource(heights=None, contours=lines, slope=None, aspect_deg=None, description="lines")
    told = []
    terrain = build_terrain(source, FIELD, spacing_m=6.0, progress=lambda what, share: told.append(share))
    assert terrain.smooth.cell_m == pytest.approx(2.0)
    assert told[0] == 0.0


def test_a_negative_slope_that_continuation_gives_counts_as_level():
    """A slope that falls from 1 to 0 toward the east edge of its data would run on below nought."""
    grid = tilted()
    falling = grid.with_values(np.where(cells_in(grid, FIELD), 1 - (grid.x - EAST)[None, :] / 60, np.nan))
    source = GroundSource(heights=None, contours=None, slope=falling, aspect_deg=None, description="slope")
    terrain = build_terrain(source, FIELD, spacing_m=4.5)
    known = terrain.slope.values[np.isfinite(terrain.slope.values)]
    assert known.min() == 0.0 and known.max() > 1.0


# --- past the edge of the data -----------------------------------------------------------------------------------


@pytest.mark.parametrize("sigma_m", [2.0, 3.0])
def test_a_bent_surface_goes_on_along_its_last_plane_and_then_along_the_mean_of_planes(sigma_m):
    """z = r^2 to row 29: the last plane rises 29^2 - 28^2 = 57 a cell, the k-th 2 k; a Gaussian mixes them farther out."""
    rows, last = 80, 29
    r = np.arange(rows, dtype=float)
    z = np.where(r <= last, r**2, np.nan)[:, None] * np.ones((1, 9))
    grid = Grid(z, EAST, NORTH, 1.0, UTM)
    got = continued(grid, region=np.ones(z.shape, dtype=bool), sigma_m=sigma_m).values[:, 4]
    reach = int(4 * sigma_m + 0.5)
    step = np.arange(-reach, reach + 1)
    weight = np.exp(-(step**2) / (2 * sigma_m**2))
    weight /= weight.sum()
    rise = np.where(r < last, 2 * r, 57.0)
    for row in range(last + 1, last + 25):
        k = np.minimum(row + step, last)
        mean = float(weight @ (k**2 + rise[k] * (row - k)))
        share = min((row - last - 1) / (2 * sigma_m), 1.0)
        assert got[row] == pytest.approx((1 - share) * (last**2 + 57 * (row - last)) + share * mean)


def test_a_lone_cell_gives_no_plane_to_go_on_by():
    """A cell needs a neighbour in its row and one in its column; the plane of the block goes on past the lone one."""
    grid = tilted()
    values = np.full(grid.values.shape, np.nan)
    values[:30] = grid.values[:30]
    values[60, 50] = 1e4
    values[70, 20:24] = 1e4  # a line of cells has no slope across
    got = continued(grid.with_values(values), region=np.ones(values.shape, dtype=bool), sigma_m=0.1).values
    other = np.isnan(values)
    np.testing.assert_allclose(got[other], grid.values[other], atol=1e-6)


# --- contour lines to heights ------------------------------------------------------------------------------------


def test_the_plate_weighs_bending_a_thousandth_of_the_misfit():
    """Solved once more by dense least squares of misfits and sqrt(.001) times the second differences."""
    rng = np.random.default_rng(5)
    grid = Grid(np.zeros((5, 6)), 0.0, 5.0, 1.0, UTM)
    domain = np.ones((5, 6), dtype=bool)
    domain[0, 0] = False
    xyz = np.column_stack([rng.uniform(0.5, 5.5, 40), rng.uniform(0.5, 4.5, 40), rng.normal(100, 3, 40)])
    found = _thin_plate(grid, domain, xyz)
    number = np.full(domain.shape, -1)
    number[domain] = np.arange(29)
    fit, target = _misfit(grid, number, *xyz.T)
    bending = _second_differences(number, 29).toarray()
    whole = np.vstack([fit.toarray(), np.sqrt(1e-3) * bending])
    expected = np.linalg.lstsq(whole, np.concatenate([target, np.zeros(len(bending))]), rcond=None)[0]
    assert found[domain] == pytest.approx(expected, rel=1e-9)
    assert np.isnan(found[0, 0])


def test_cells_grow_until_no_more_are_solved_for_than_allowed(monkeypatch):
    """The field and 5 m round it: 40 x 30 + 2 x 5 x 70 + pi 25 m2; a hundred cells of it are 4.45 m wide."""
    heights = np.arange(-20.0, 62.0, 4.0)
    lines = gpd.GeoDataFrame(
        {"elevation_m": heights}, geometry=[LineString([(-30, y), (90, y)]) for y in heights], crs=UTM
    )
    field = MultiPolygon([box(0, 0, 40, 30)])
    monkeypatch.setattr(surface, "MOST_CELLS", 100)
    grid = heights_from_contours(lines, field, reach_m=5.0, cell_m=1.0, crs=UTM)
    assert grid.cell_m == pytest.approx(np.sqrt((1200 + 700 + 25 * np.pi) / 100), rel=1e-3)
    assert heights_from_contours(lines, field, reach_m=5.0, cell_m=6.0, crs=UTM).cell_m == 6.0


# --- contours ----------------------------------------------------------------------------------------------------


def test_every_fifth_contour_is_an_index_line_and_heights_are_multiples_of_the_interval():
    """The plane falls 10 % over 100 m, so 10 m: at .5 m lines at every half metre, index lines at 2.5 m."""
    terrain = plane(slope=0.10)
    lines = contour_lines(terrain, MultiPolygon([box(EAST, NORTH, EAST + 100, NORTH + 100)]), 0.5)
    heights = lines["elevation_m"].to_numpy()
    assert np.allclose(np.diff(np.unique(heights)), 0.5)
    assert lines["is_index"].tolist() == [bool(abs(z / 2.5 - round(z / 2.5)) < 1e-9) for z in heights]
    assert (lines.geometry.length > 99.9).all()


def test_relief_below_a_centimetre_has_no_contours():
    field = MultiPolygon([box(EAST, NORTH, EAST + 100, NORTH + 100)])
    assert len(contour_lines(plane(slope=0.00009), field, 0.001)) == 0  # 9 mm over 100 m
    assert len(contour_lines(plane(slope=0.00012), field, 0.001)) > 0


def test_a_height_is_met_along_one_line_of_a_plane():
    grid = Grid(np.repeat(np.arange(6.0)[:, None], 5, axis=1), 0.0, 6.0, 1.0, UTM)
    (line,) = lines_at(grid, 2.5)  # between the centres of rows 2 and 3, at y = 3.5 and 2.5
    assert shapely.get_coordinates(line)[:, 1] == pytest.approx(3.0)


# --- how hard the ground is --------------------------------------------------------------------------------------


@pytest.mark.parametrize(("metres", "words"), [(9_999, "at least 9,999 m"), (10_000, "for any distance")])
def test_ten_kilometres_are_any_distance(metres, words):
    assert words in str(_metres(metres, 10.0)) and "within 10 %" in str(_metres(metres, 10.0))


@pytest.mark.parametrize(
    ("rows", "words"), [(199.9, "at least 199 parallel rows"), (200.0, "any number of parallel rows")]
)
def test_two_hundred_rows_are_any_number(rows, words):
    assert words in str(_rows(rows, 4.0))


@pytest.mark.parametrize(
    ("free", "words"), [(0.004, None), (0.005, "may run any way"), (0.31, "On 31 % of the plantable")]
)
def test_free_ground_is_told_from_half_a_per_cent_on(free, words):
    import pandas as pd  # noqa: PLC0415

    summary = pd.DataFrame({"measure": ["equidistant", "rows_that_hold_grade"], "p50": [120.0, 3.7]})
    text = str(_sentence("both", summary, free, 10.0, 4.0))
    assert "within 10 % for at least 120 m" in text and "at least 3 parallel rows" in text
    assert (words is None and "may run any way" not in text) or words in text


def patches(cells, spacing_m=1.0, cell_m=1.0):
    """Ground where rows hold the grade for ever, but for some cells where both limits give out soon."""
    first = np.full((20, 20), np.inf)
    for row, column in cells:
        first[row, column] = 2.0
    grid = Grid(first, 0.0, 20.0 * cell_m, cell_m, UTM)
    hard = SimpleNamespace(
        equidistant_m=grid, holds_grade_m=grid, flow_curvature=grid.with_values(np.zeros(first.shape))
    )
    return difficulty_zones(hard, MultiPolygon([box(0, 0, 20 * cell_m, 20 * cell_m)]), spacing_m=spacing_m)


@pytest.mark.parametrize(("cells", "zones"), [(8, 1), (9, 2)])
def test_zones_smaller_than_three_spacings_square_join_their_neighbours(cells, zones):
    patch = [(5 + k // 3, 5 + k % 3) for k in range(cells)]
    found = patches(patch)
    assert len(found) == zones
    assert found["area_m2"].sum() == pytest.approx(400.0)
    if zones == 2:
        small = found[found["first"] == "both"].iloc[0]
        assert (small["area_m2"], small["equidistant_m"], small["holds_grade_rows"]) == (9.0, 2.0, 2.0)
        assert set(found["first"]) == {"neither", "both"}


def test_rows_that_hold_the_grade_are_counted_in_spacings():
    patch = [(4 + i, 4 + j) for i in range(10) for j in range(10)]
    small = patches(patch, spacing_m=0.5)
    assert small.set_index("first")["holds_grade_rows"]["both"] == 4.0


# --- smoothing and integrating -----------------------------------------------------------------------------------


def test_a_gaussian_narrower_than_a_twentieth_of_a_cell_changes_nothing():
    grid = Grid(np.random.default_rng(1).normal(size=(9, 9)), 0.0, 18.0, 2.0, None)
    assert smoothed(grid, 0.099) is grid
    assert smoothed(grid, 0.1) is not grid


def test_smoothing_is_the_gaussians_sum_over_four_deviations():
    """One cell of height 1 in a row of noughts, sigma 2 cells: exp(-k^2 / 8) over their sum, none beyond 8 cells."""
    z = np.zeros((41, 41))
    z[20, 20] = 1.0
    got = smoothed(Grid(z, 0.0, 41.0, 0.5, None), 1.0).values
    weight = np.exp(-(np.arange(-8, 9) ** 2) / 8)
    weight /= weight.sum()
    assert got[20, 12:29] == pytest.approx(weight[8] * weight)
    assert np.abs(got[20, [11, 29]]).max() < 1e-15


def test_the_lowest_integrated_height_is_nought_and_a_plane_falls_as_told():
    slope = Grid(np.full((6, 7), 0.2), 0.0, 12.0, 2.0, None)
    aspect = slope.with_values(np.full((6, 7), 90.0))  # falls to the east: 6 steps of 2 m
    z = heights_from_gradient(slope, aspect).values
    assert z[0] == pytest.approx(0.2 * 2 * np.arange(6, -1, -1))
    assert z == pytest.approx(np.tile(z[0], (6, 1)))
