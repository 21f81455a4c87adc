"""From a ground source to the terrain: gaps, smoothing, continuation, contour lines, slope rasters."""

import geopandas as gpd
import numpy as np
import pytest
import shapely
from builders import EAST, NORTH, UTM
from contourpy import contour_generator
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, MultiPolygon, Point, box

from geoagro.errors import LayoutError
from geoagro.terrain.build import build_terrain
from geoagro.terrain.gaps import fill
from geoagro.terrain.smoothing import smoothed, smoothing_scale
from geoagro.terrain.surface import heights_from_contours
from geoagro.terrain.window import cells_in
from geoagro.values.grid import Grid
from geoagro.values.terrain import GroundSource

FIELD = MultiPolygon([box(EAST, NORTH, EAST + 60, NORTH + 40)])
SLOPES = st.floats(-0.4, 0.4, allow_nan=False)


def raster(height, *, margin_m=20.0, cell_m=1.0, size=(60.0, 40.0)):
    columns, rows = (round((s + 2 * margin_m) / cell_m) for s in size)
    grid = Grid(np.zeros((rows, columns)), EAST - margin_m, NORTH + size[1] + margin_m, cell_m, UTM)
    x, y = np.meshgrid(grid.x - EAST, grid.y - NORTH)
    return grid.with_values(np.asarray(height(x, y), dtype=float) + np.zeros((rows, columns)))


def source(heights=None, **given):
    return GroundSource(
        heights=heights,
        contours=given.get("contours"),
        slope=given.get("slope"),
        aspect_deg=given.get("aspect"),
        description="built by a test",
    )


def with_hole(grid, area):
    return grid.with_values(np.where(cells_in(grid, area), np.nan, grid.values))


def build(src, **rules):
    return build_terrain(src, FIELD, **{"spacing_m": 4.5, "max_gap_m": 10.0, **rules})


def near_field(grid, reach_m):
    return cells_in(grid, FIELD.buffer(reach_m))


@settings(max_examples=10, deadline=None)
@given(a=SLOPES, b=SLOPES, cell=st.sampled_from([0.7, 1.0, 2.0]))
def test_a_plane_stays_that_plane_though_data_end_at_the_boundary_and_have_gaps(a, b, cell):
    plane = raster(lambda x, y: 250 + a * x + b * y, cell_m=cell)
    torn = with_hole(plane, Point(EAST + 30, NORTH + 20).buffer(4))
    torn = with_hole(torn, box(EAST - 50, NORTH - 50, EAST + 5, NORTH + 4))
    torn = torn.with_values(np.where(near_field(torn, 0.0), torn.values, np.nan))
    terrain = build(source(torn))
    x, y = np.meshgrid(terrain.smooth.x - EAST, terrain.smooth.y - NORTH)
    near = near_field(terrain.smooth, 9.0)
    for surface in (terrain.smooth, terrain.heights):
        np.testing.assert_allclose(surface.values[near], (250 + a * x + b * y)[near], atol=1e-6)
    np.testing.assert_allclose(terrain.slope.values[near], np.hypot(a, b), atol=1e-6)


def test_filled_gaps_are_counted_in_the_source_of_the_heights():
    torn = with_hole(raster(lambda x, y: 0.1 * x), box(EAST + 30, NORTH + 20, EAST + 35, NORTH + 25))
    assert "gaps filled: 1, up to 5.0 m wide, 25 m²" in build(source(torn)).height_source


def test_heights_stay_as_surveyed_where_there_are_data():
    rough = raster(lambda x, y: 5 + np.sin(x) * np.cos(y))
    terrain = build(source(rough))
    x, y = np.array([EAST + 10.5, EAST + 33.5]), np.array([NORTH + 7.5, NORTH + 21.5])
    np.testing.assert_allclose(terrain.heights.sample(x, y), rough.sample(x, y), atol=1e-12)
    assert np.abs(terrain.smooth.sample(x, y) - 5).max() < 0.05


def test_a_large_gap_is_refused_with_its_place_width_and_area():
    torn = with_hole(raster(lambda x, y: 0.1 * x), box(EAST + 20, NORTH + 10, EAST + 35, NORTH + 25))
    with pytest.raises(
        LayoutError,
        match=r"at 5000\d\d\.\d E 50000\d\d\.\d N, 15\.0 m wide, 225 m².*max_gap_m|max_gap_m.*225 m²",
    ):
        build(source(torn))


def test_a_gap_open_to_the_outside_counts_by_its_depth():
    torn = with_hole(raster(lambda x, y: 0.1 * x), box(EAST - 30, NORTH - 30, EAST + 12, NORTH + 80))
    with pytest.raises(LayoutError, match="gap"):
        build(source(torn))
    assert build(source(torn), max_gap_m=70.0).smooth is not None


def test_a_raster_elsewhere_is_refused():
    with pytest.raises(LayoutError, match="no data in the field"):
        build(source(raster(lambda x, y: x).with_values(np.full((80, 100), np.nan))))
    away = raster(lambda x, y: x)
    with pytest.raises(LayoutError, match="no data in the field"):
        build(source(Grid(away.values, EAST + 5000, NORTH, 1.0, UTM)))


def test_gap_filling_is_harmonic():
    rng = np.random.default_rng(3)
    z = rng.normal(size=(20, 20))
    gap = np.zeros((20, 20), dtype=bool)
    gap[5:9, 4:15] = gap[12, 12] = True
    out = fill(np.where(gap, np.nan, z), gap)
    mean = (np.roll(out, 1, 0) + np.roll(out, -1, 0) + np.roll(out, 1, 1) + np.roll(out, -1, 1)) / 4
    np.testing.assert_allclose(out[gap], mean[gap], atol=1e-12)
    np.testing.assert_array_equal(out[~gap], z[~gap])


@pytest.mark.parametrize("wave_m", [12.0, 20.0, 36.0])
def test_smoothing_damps_a_wave_as_the_gaussian_does(wave_m):
    # closed form: exp(-2 pi^2 sigma^2 / wavelength^2)
    grid = raster(lambda x, y: np.sin(2 * np.pi * x / wave_m), margin_m=60)
    out = smoothed(grid, 3.0).values
    middle = np.s_[60:100, 60:120]
    gain = np.abs(out[middle]).max() / np.abs(grid.values[middle]).max()
    assert gain == pytest.approx(np.exp(-2 * (np.pi * 3.0 / wave_m) ** 2), rel=0.01)


def test_smoothing_tile_by_tile_leaves_no_seams():
    rng = np.random.default_rng(1)
    values = rng.normal(size=(700, 600)).cumsum(0) * 0.01
    whole = smoothed(Grid(values, 0.0, 0.0, 1.0, None), 3.0).values
    torn = values.copy()
    torn[:, :2] = np.nan
    tiled = smoothed(Grid(torn, 0.0, 0.0, 1.0, None), 3.0).values
    np.testing.assert_allclose(tiled[20:-20, 20:-20], whole[20:-20, 20:-20], atol=1e-9)


def test_the_scale_follows_the_spacing_but_no_finer_than_a_cell():
    assert smoothing_scale("auto", spacing_m=4.5, cell_m=1.0) == pytest.approx(3.15)
    assert smoothing_scale("auto", spacing_m=4.5, cell_m=10.0) == 10.0
    assert smoothing_scale(1.5, spacing_m=4.5, cell_m=1.0) == 1.5


def test_the_continued_surface_bends_on_smoothly_past_the_data():
    hill = raster(lambda x, y: 20 * np.exp(-((x - 30) ** 2 + (y - 20) ** 2) / 1200), margin_m=0.0)
    terrain = build(source(hill))
    near = near_field(terrain.slope, 9.0)
    assert np.isfinite(terrain.slope.values[near]).all()
    assert terrain.slope.values[near].max() < 1.3 * 20 * np.sqrt(2 / 1200) * np.exp(-0.5)


def test_slope_with_aspect_gives_back_the_surface():
    def surface(x, y):
        return 4 * np.sin(x / 25) * np.cos(y / 18) + 0.05 * x

    def slopes(x, y):
        return 4 / 25 * np.cos(x / 25) * np.cos(y / 18) + 0.05, -4 / 18 * np.sin(x / 25) * np.sin(y / 18)

    slope = raster(lambda x, y: np.hypot(*slopes(x, y)))
    aspect = raster(lambda x, y: np.degrees(np.arctan2(-slopes(x, y)[0], -slopes(x, y)[1])) % 360)
    outside = ~near_field(slope, 3.0)
    slope = slope.with_values(np.where(outside, np.nan, slope.values))
    terrain = build(source(slope=slope, aspect=aspect))
    assert "relative heights" in terrain.height_source
    x, y = np.meshgrid(terrain.heights.x - EAST, terrain.heights.y - NORTH)
    inside = near_field(terrain.heights, 0.0)
    error = (terrain.heights.values - surface(x, y))[inside]
    assert np.ptp(error) < 0.02


def test_slope_alone_has_no_direction():
    terrain = build(source(slope=raster(lambda x, y: 0.1)))
    assert terrain.heights is None and terrain.aspect_deg is None
    np.testing.assert_allclose(terrain.slope.values[near_field(terrain.slope, 9.0)], 0.1, atol=1e-12)
    with pytest.raises(LayoutError, match="no direction"):
        terrain.need_heights("Rows on contour")


def test_slope_and_aspect_must_share_their_cells():
    with pytest.raises(LayoutError, match="different cells"):
        build(source(slope=raster(lambda x, y: 0.1), aspect=raster(lambda x, y: 180.0, cell_m=2.0)))


def lines_of(height, levels, step=1.0):
    grid = raster(height, cell_m=step, margin_m=40)
    made = [(z, LineString(p)) for z in levels for p in contour_generator(grid.x, grid.y, grid.values).lines(z)]
    return gpd.GeoDataFrame({"elevation_m": [z for z, _ in made]}, geometry=[g for _, g in made], crs=UTM)


def test_contour_lines_of_a_plane_give_the_plane():
    lines = lines_of(lambda x, y: 100 + 0.1 * y - 0.03 * x, np.arange(90, 112, 1.0))
    terrain = build(source(contours=lines))
    near = near_field(terrain.slope, 8.0)
    np.testing.assert_allclose(terrain.slope.values[near], np.hypot(0.1, 0.03), atol=1e-4)


def test_contour_lines_are_gridded_over_the_field_and_as_far_round_it_as_asked():
    lines = lines_of(lambda x, y: 100 + 0.1 * y - 0.03 * x, np.arange(90, 112, 1.0))
    field = MultiPolygon([box(EAST + 10, NORTH + 10, EAST + 40, NORTH + 30)])
    grid = heights_from_contours(lines, field, reach_m=7.0, cell_m=1.0, crs=UTM)
    west, south, east, north = grid.bounds
    assert (grid.x[0], grid.y[0]) == pytest.approx(
        (EAST + 3, NORTH + 37)
    )  # a middle on the corner of the wanted ground
    assert west <= EAST + 3
    assert south <= NORTH + 3
    assert east >= EAST + 47
    assert north >= NORTH + 37
    x, y = np.meshgrid(grid.x - EAST, grid.y - NORTH)
    known = np.isfinite(grid.values)
    assert known[shapely.contains_xy(field.buffer(7.0), x + EAST, y + NORTH)].all()
    assert np.abs(grid.values - (100 + 0.1 * y - 0.03 * x))[known].max() < 0.01


def test_contour_lines_of_a_hill_give_no_terraces_and_a_rounded_top():
    def hill(x, y):
        return 20 * np.exp(-((x - 30) ** 2 + (y - 20) ** 2) / 1200)

    terrain = build(source(contours=lines_of(hill, np.arange(1.0, 20.0, 2.0))))
    x, y = np.meshgrid(terrain.heights.x - EAST, terrain.heights.y - NORTH)
    inside = near_field(terrain.heights, 0.0)
    error = (terrain.heights.values - hill(x, y))[inside]
    assert np.sqrt(np.mean(error**2)) < 0.1  # a twentieth of the interval
    true_slope = hill(x, y) * np.hypot(x - 30, y - 20) / 600
    flank = inside & (true_slope > 0.15)
    # terraces would show as slopes near 0 between lines and far above the truth at them
    assert np.abs(terrain.slope.values[flank] / true_slope[flank] - 1).max() < 0.25


def test_contour_lines_that_miss_the_field_or_lie_level_are_refused():
    lines = lines_of(lambda x, y: 100 + 0.1 * y, np.arange(98, 108, 1.0))
    with pytest.raises(LayoutError, match="No contour line comes near"):
        build(source(contours=lines.set_geometry(lines.translate(9000, 0))))
    with pytest.raises(LayoutError, match="needs two heights"):
        build(source(contours=lines[lines["elevation_m"] == 102.0]))
    with pytest.raises(LayoutError, match="enclose only"):
        build(source(contours=lines[lines["elevation_m"].between(101.5, 103.5)]))
