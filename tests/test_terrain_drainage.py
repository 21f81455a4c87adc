"""Where water gathers: contributing area against closed forms, strips that rows end at, and the sums."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from builders import EAST, NORTH, UTM, plane, square_site
from hypothesis import given, settings
from hypothesis import strategies as st
from landforms import surface, terrain_of
from row_plan_builders import design as design_with
from shapely import box

from geoagro.errors import LayoutError
from geoagro.ground.leftover import ground_without_rows
from geoagro.ground.limit_costs import limit_costs
from geoagro.pipeline import ground_of
from geoagro.rows.layout import lay_rows
from geoagro.terrain.drainage import coarsened, contributing_area, drainage, drainage_lines, strips_along, through_width
from geoagro.values.design import RowRule
from geoagro.values.grid import Grid
from geoagro.values.site import Site


def valley(side=0.10, axis=0.05, **shape):
    """Two planes that meet in a line falling south along x = 0."""
    return surface(lambda x, y: 100 + side * np.abs(x) + axis * y, **shape)


def above(heights, side, axis):
    """Ground above each row of the axis: flow lines run `axis / side` down the valley for each metre toward it.

    By hand: both sides of a triangle until the flow line from the raster's edge arrives, a strip less it from then on.
    """
    rows, columns = heights.values.shape
    far, down = columns / 2 * heights.cell_m, (np.arange(rows) + 0.5) * heights.cell_m
    reach = far * axis / side
    return np.where(down < reach, down**2 * side / axis, 2 * far * down - far * reach)


@pytest.mark.parametrize(("side", "axis"), [(0.10, 0.05), (0.10, 0.10), (0.20, 0.04)])
def test_the_axis_of_a_valley_drains_what_the_closed_form_says(side, axis):
    heights = valley(side, axis, size_m=161, cell_m=1.0)  # an odd number of columns: one of them is the axis
    area = contributing_area(heights).values
    middle, expected = area[:, area.shape[1] // 2], above(heights, side, axis)
    assert middle[60:] == pytest.approx(expected[60:], rel=0.04)


def test_what_drains_through_a_width_depends_little_on_the_cells():
    """A valley with a round floor: water spreads over it, more so on large cells (multiple flow direction)."""

    def drained(cell_m):
        heights = surface(lambda x, y: 100 + 0.002 * x**2 + 0.05 * y, size_m=181.0, cell_m=cell_m, margin_m=22.0)
        area = contributing_area(heights)
        at = int(0.8 * len(area.values)), area.values.shape[1] // 2
        return through_width(area, 9.0)[at], area.values[at]

    (fine, fine_cell), (coarse, coarse_cell) = drained(1.0), drained(3.0)
    assert fine == pytest.approx(coarse, rel=0.2)
    assert coarse_cell > 1.5 * fine_cell


def test_water_leaves_at_the_edge_of_a_plane_and_no_line_is_drawn():
    heights = surface(lambda x, y: 100 + 0.03 * x + 0.1 * y)
    area = contributing_area(heights)
    assert area.values.max() < 1.2 * 130 * np.hypot(1, 0.3)  # the longest flow line, a cell wide
    assert len(drainage_lines(heights, area, least_m2=5000, width_m=4.5)) == 0


def test_water_is_shared_between_lower_neighbours_by_slope_to_the_power_of_1_1():
    """Freeman 1991, equation 1: a cell 2 m above one neighbour and 1 m above the other gives them 2^1.1 to 1 of its water."""
    heights = Grid(np.array([[8.0, 10.0, 9.0]]), west=EAST, north=NORTH, cell_m=10.0, crs=UTM)
    steep = 2**1.1 / (2**1.1 + 1)
    assert contributing_area(heights).values[0] == pytest.approx([100 * (1 + steep), 100, 100 * (2 - steep)])
    # a diagonal neighbour is farther off: 1 m of fall over the diagonal is a slope of 1 / sqrt(2)
    square = np.full((3, 3), np.nan)
    square[1, 1], square[1, 2], square[2, 0] = 10.0, 9.0, 9.0
    area = contributing_area(Grid(square, west=EAST, north=NORTH, cell_m=10.0, crs=UTM)).values
    slanted = 0.5**0.55 / (1 + 0.5**0.55)
    assert [area[1, 2], area[2, 0]] == pytest.approx([100 * (2 - slanted), 100 * (1 + slanted)])


def test_a_pit_keeps_its_water():
    heights = valley(size_m=121)
    pit = heights.values.copy()
    middle = pit.shape[1] // 2
    pit[80, middle] -= 2.0
    before, after = contributing_area(heights).values, contributing_area(heights.with_values(pit)).values
    assert after[80, middle] >= before[80, middle]
    assert after[82, middle] < 0.1 * before[82, middle]


@settings(max_examples=15, deadline=None)
@given(seed=st.integers(0, 2**31), missing=st.floats(0, 0.2))
def test_nothing_is_lost_or_made(seed, missing):
    """In a bowl hardly any water reaches the edge, so the pits hold the whole ground; each cell drains itself at least."""
    rng = np.random.default_rng(seed)
    x, y = np.meshgrid(np.linspace(-1, 1, 24), np.linspace(-1, 1, 24))
    z = 5 * (x**2 + y**2) + rng.normal(0, 0.05, x.shape)
    z[(rng.random(z.shape) < missing) & (np.hypot(x, y) > 1.2)] = np.nan  # only the outside, where rims drain inward
    heights = Grid(z, 0.0, 48.0, 2.0, None)
    area = contributing_area(heights).values
    assert (np.isnan(area) == np.isnan(z)).all()
    assert np.nanmin(area) >= 4.0 - 1e-9
    inner = z[1:-1, 1:-1]
    around = [z[1 + i : 23 + i, 1 + j : 23 + j] for i in (-1, 0, 1) for j in (-1, 0, 1) if (i, j) != (0, 0)]
    pits = (inner <= np.nanmin(around, axis=0)) & np.isfinite(inner)
    held, whole = area[1:-1, 1:-1][pits].sum(), 4.0 * np.isfinite(z).sum()
    assert held <= whole * (1 + 1e-9)
    assert np.isnan(z).any() or held > 0.97 * whole  # a little leaves at corners, more through holes
    mirrored = contributing_area(heights.with_values(z[:, ::-1])).values
    assert mirrored[:, ::-1] == pytest.approx(area, nan_ok=True)


def test_large_ground_is_averaged_to_larger_cells_and_says_so(monkeypatch):
    grid = Grid(np.arange(36.0).reshape(6, 6), 0.0, 6.0, 1.0, None)
    halved = coarsened(grid, 9)
    assert (halved.cell_m, halved.values[0, 0], halved.bounds) == (2.0, 3.5, grid.bounds)
    monkeypatch.setattr("geoagro.terrain.drainage.MOST_CELLS", 5000)
    found = drainage(terrain_of(valley()), least_ha=0.3, width_m=4.5)
    assert found.area.cell_m == 2.0
    assert "averaged to 2 m" in found.findings[0].text
    assert "not counted" in found.findings[0].text


def field():
    return Site("valley", shapely.MultiPolygon([box(EAST - 45, NORTH - 45, EAST + 45, NORTH + 45)]), (), (), UTM)


def asked(**rows):
    return design_with(break_at_drainage=True, drainage_area_ha=0.3, **rows)


def strip_of(ground):
    return shapely.union_all(ground.unplanted.geometry[ground.unplanted["reason"] == "drainage"])


def crossed_m(rows, strip):
    return float(shapely.length(shapely.intersection(rows.frame.geometry.to_numpy(), strip)).sum())


def test_the_strip_follows_the_axis_one_path_wide_and_the_areas_add_up():
    terrain, site = terrain_of(valley(), smoothing_m=2.0), field()
    ground = ground_of(asked(), site, terrain)
    strip = strip_of(ground)
    assert 0.9 < strip.area / (strip.length / 2) < 1.3
    west, south, east, north = strip.bounds
    assert max(abs(west - EAST), abs(east - EAST)) < 1.6
    assert south == pytest.approx(NORTH - 44)  # to the setback
    assert north < NORTH + 44  # from where enough has gathered
    assert ground.plantable.area + ground.unplanted["area_m2"].sum() == pytest.approx(site.boundary.area, rel=1e-9)
    assert shapely.union_all([ground.plantable, *ground.unplanted.geometry]).area == pytest.approx(site.boundary.area)


def test_straight_rows_across_a_valley_end_on_both_sides_of_the_strip():
    terrain, site = terrain_of(valley(), smoothing_m=2.0), field()
    rule = {"method": "straight", "bearing_deg": 90.0, "max_grade_pct": 15.0}
    ground = ground_of(asked(**rule), site, terrain)
    strip = strip_of(ground)
    rows = lay_rows(ground, terrain, asked(**rule).rows)
    whole = lay_rows(ground_of(design_with(**rule), site, terrain), terrain, design_with(**rule).rows)
    across = sum(strip.bounds[1] < line.coords[0][1] < strip.bounds[3] for line in whole.frame.geometry)
    assert across > 10 and crossed_m(whole, strip) > 0.9 * across  # without the option they run through
    assert crossed_m(rows, strip) < 1e-6
    assert len(rows.frame) == len(whole.frame) + across
    assert (shapely.distance(rows.frame.geometry.to_numpy(), strip) < 1e-6).sum() == 2 * across


def test_contour_rows_end_at_the_strip_too_and_the_sums_hold():
    terrain, site, rule = terrain_of(valley(), smoothing_m=2.0), field(), asked(min_row_length_m=10)
    ground = ground_of(rule, site, terrain)
    rows = lay_rows(ground, terrain, rule.rows)
    lines = rows.frame.geometry.to_numpy()
    assert crossed_m(rows, strip_of(ground)) < 1e-6
    near = lines[shapely.distance(lines, strip_of(ground)) < 0.5]  # ends run on in steps of half a metre
    assert {bool(line.centroid.x > EAST) for line in near} == {True, False}
    left = ground_without_rows(ground, list(lines), rows.cut, spacing_m=4.5, tolerance=0.1)
    served = ground.plantable.intersection(shapely.union_all(shapely.buffer(lines, 2.475, cap_style="flat")))
    assert left["area_m2"].sum() + served.area == pytest.approx(site.boundary.area, abs=0.05)
    costs = limit_costs(ground, left, rule).set_index("reason")
    assert costs.loc["drainage", "setting"] == "rows.drainage_area_ha 0.3"
    assert costs.loc["drainage", "area_m2"] == pytest.approx(strip_of(ground).area)


def test_without_the_option_nothing_changes():
    terrain, site = terrain_of(valley()), field()
    ground = ground_of(design_with(), site, terrain)
    assert "drainage" not in set(ground.unplanted["reason"])
    assert ground.findings == ()
    assert RowRule().break_at_drainage is False


def test_a_slope_without_direction_is_refused_with_the_remedy():
    terrain = replace(plane(), heights=None, smooth=None, judged=None, aspect_deg=None)
    with pytest.raises(LayoutError, match=r"break_at_drainage: false"):
        ground_of(asked(), square_site(), terrain)


@pytest.mark.parametrize(("cell_m", "width_m", "side"), [(1.0, 4.5, 5), (1.0, 9.0, 9), (3.0, 9.0, 3), (2.0, 1.0, 1)])
def test_what_drains_through_a_width_is_the_mean_of_a_square_times_the_cells_of_its_side(cell_m, width_m, side):
    """The square is an odd number of cells wide, nearest to the width asked for."""
    single = np.zeros((21, 21))
    single[10, 10] = 90.0
    through = through_width(Grid(single, 0.0, 0.0, cell_m, None), width_m)
    assert through[10, 10] == pytest.approx(90.0 / side)
    assert (through > 1e-9).sum() == side**2
    assert through_width(Grid(np.full((21, 21), 7.0), 0.0, 0.0, cell_m, None), width_m) == pytest.approx(7.0 * side)


def test_a_strip_is_as_wide_as_asked_with_round_ends_and_joins_branches_that_lie_near():
    line = shapely.LineString([(0, 0), (20, 0)])
    assert strips_along(np.array([line]), 1.5).area == pytest.approx(20 * 1.5 + np.pi * 0.75**2, rel=5e-3)
    beside = shapely.LineString([(0, 3.3), (20, 3.3)])  # 1.8 m of ground between strips: less than twice a metre
    assert len(strips_along(np.array([line, beside]), 1.5).geoms) == 1
    apart = shapely.LineString([(0, 3.7), (20, 3.7)])
    assert len(strips_along(np.array([line, apart]), 1.5).geoms) == 2
    assert strips_along(np.array([line])).area == pytest.approx(20 + np.pi / 4, rel=5e-3)  # about one path wide


def test_blocks_are_averaged_whole_and_those_with_a_gap_are_unknown():
    z = np.arange(49.0).reshape(7, 7)
    z[1, 3] = np.nan
    coarse = coarsened(Grid(z, 10.0, 70.0, 2.0, None), 13)  # seven by seven in 13: blocks of two by two
    assert (coarse.values.shape, coarse.cell_m, coarse.west, coarse.north) == ((3, 3), 4.0, 10.0, 70.0)
    assert coarse.values[2].tolist() == [(28 + 29 + 35 + 36) / 4, 34.0, 36.0]
    assert np.isnan(coarse.values[0]).tolist() == [False, True, False]
    same = Grid(z, 10.0, 70.0, 2.0, None)
    assert coarsened(same, 49) is same
