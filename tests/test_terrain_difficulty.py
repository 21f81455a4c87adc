"""Flow-line curvature and the two laws it stands for, against closed forms."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from builders import EAST, NORTH, UTM, plane, square_site
from shapely import MultiPolygon, Point, box, contains_xy

from geoagro.errors import LayoutError
from geoagro.terrain.difficulty import _binding, _summary, flow_curvature, terrain_difficulty
from geoagro.terrain.difficulty_zones import FIRST, _window_cells, first_to_give_out
from geoagro.terrain.slope import slope_and_aspect
from geoagro.values.grid import Grid
from geoagro.values.terrain import Terrain

RULES = {"spacing_m": 4.5, "spacing_tolerance_pct": 10.0, "max_grade_pct": 4.0}


def surface(height, *, size_m=100.0, cell_m=1.0):
    n = round(size_m / cell_m)
    grid = Grid(np.zeros((n, n)), EAST - size_m / 2, NORTH + size_m / 2, cell_m, UTM)
    x, y = np.meshgrid(grid.x - EAST, grid.y - NORTH)
    return grid.with_values(height(x, y)), x, y


def terrain_of(grid):
    slope, aspect = slope_and_aspect(grid)
    return Terrain(slope, aspect, grid, grid, 0.0, "built by a test")


INNER = np.s_[2:-2, 2:-2]


def test_a_plane_has_straight_flow_lines():
    np.testing.assert_allclose(flow_curvature(plane().smooth).values[INNER], 0.0, atol=1e-9)


def test_a_cone_has_straight_flow_lines_though_its_contours_bend():
    grid, x, y = surface(lambda x, y: 50 - 0.2 * np.hypot(x, y))
    away = np.hypot(x, y) > 12
    assert np.nanmax(np.abs(flow_curvature(grid).values[INNER][away[INNER]])) < 1e-4


def test_the_saddle_xy_has_the_curvature_worked_out_by_hand():
    # z = a x y: p = a y, q = a x, r = t = 0, s = a, so kf = (y^2 - x^2) / (x^2 + y^2)^1.5, whatever a is
    grid, x, y = surface(lambda x, y: 0.003 * x * y)
    want = (y**2 - x**2) / (x**2 + y**2) ** 1.5
    far = np.hypot(x, y) > 5
    got = flow_curvature(grid).values
    np.testing.assert_allclose(got[INNER][far[INNER]], want[INNER][far[INNER]], atol=1e-9)


def test_the_bent_slope_has_the_curvature_worked_out_by_hand():
    # z = s y + c x^2 / 2: p = c x, q = s, r = c, s_xy = t = 0, so kf = -c^2 x s / (c^2 x^2 + s^2)^1.5
    s, c = 0.12, 0.004
    grid, x, _ = surface(lambda x, y: s * y + c * x**2 / 2)
    want = -(c**2) * x * s / (c**2 * x**2 + s**2) ** 1.5
    np.testing.assert_allclose(flow_curvature(grid).values[INNER], want[INNER], atol=1e-9)


def hill(x, y):
    return 0.1 * y + 0.002 * x**2 + 0.8 * np.sin(x / 30 + y / 45)


def slopes(x, y):
    wave = 0.8 * np.cos(x / 30 + y / 45)
    return 0.004 * x + wave / 30, 0.1 + wave / 45


def test_law_1_contours_spread_along_themselves_by_the_curvature():
    """The distance between contours a small step of height apart is w ~ 1/S, so d(ln w)/ds = -d(ln S)/ds."""
    grid, x, y = surface(hill)
    p, q = slopes(x, y)
    steep = np.hypot(p, q)
    step = 0.01
    tx, ty = q / steep, -p / steep  # along the contour with the upslope side on the left
    ahead, behind = (np.hypot(*slopes(x + k * step * tx, y + k * step * ty)) for k in (1, -1))
    spreading = -(np.log(ahead) - np.log(behind)) / (2 * step)
    got = flow_curvature(grid).values
    np.testing.assert_allclose(got[INNER], spreading[INNER], atol=2e-5)


@pytest.mark.parametrize("u", [-9.0, -4.5, 4.5, 9.0])
def test_law_2_a_parallel_row_climbs_by_slope_times_sine_of_curvature_times_distance(u):
    grid, x, y = surface(hill)
    p, q = slopes(x, y)
    steep = np.hypot(p, q)
    nx, ny = p / steep, q / steep
    there = slopes(x + u * nx, y + u * ny)
    grade = np.abs(there[0] * ny - there[1] * nx)
    law = steep * np.abs(np.sin(flow_curvature(grid).values * u))
    middle = np.s_[20:-20, 20:-20]
    assert np.corrcoef(grade[middle].ravel(), law[middle].ravel())[0, 1] > 0.98
    typical = np.median(grade[middle] / law[middle])
    assert typical == pytest.approx(1.0, abs=0.06)


def test_the_two_distances_follow_the_curvature():
    # on z = x y / 400 at (0, 40): slope 0.1, curvature 1/40
    grid, _, _ = surface(lambda x, y: x * y / 400, cell_m=0.5)
    at = terrain_difficulty(terrain_of(grid), MultiPolygon([Point(EAST, NORTH + 40).buffer(3)]), **RULES)
    assert float(at.equidistant_m.sample(EAST, NORTH + 40)) == pytest.approx(np.log(1.1 / 0.9) * 40, rel=2e-2)
    assert float(at.holds_grade_m.sample(EAST, NORTH + 40)) == pytest.approx(np.arcsin(0.4) * 40, rel=2e-2)


def test_on_a_plane_rows_hold_for_ever_and_neither_tolerance_binds():
    result = terrain_difficulty(plane(), square_site().boundary, **RULES)
    assert result.binding == "neither"
    assert result.summary["p10"].iloc[3] > 1000
    assert "Neither limit is reached" in result.sentence


def test_ground_below_the_grade_limit_lets_rows_run_any_way():
    grid, _, _ = surface(lambda x, y: 0.0002 * x * y)
    result = terrain_difficulty(
        terrain_of(grid), MultiPolygon([box(EAST - 40, NORTH - 40, EAST + 40, NORTH + 40)]), **RULES
    )
    inner = result.holds_grade_m.values[INNER]
    assert np.isinf(inner).all()
    assert "On 100 % of the plantable ground rows may run any way" in result.sentence


def test_on_gentle_ground_spacing_binds_and_on_steep_ground_grade():
    field = MultiPolygon([box(EAST - 40, NORTH - 40, EAST + 40, NORTH + 40)])
    gentle, steep = (terrain_of(surface(lambda x, y, a=a: a * x * y)[0]) for a in (0.003, 0.02))
    assert terrain_difficulty(gentle, field, **RULES).binding == "spacing"
    assert terrain_difficulty(steep, field, **RULES).binding == "grade"


def test_level_ground_is_free_and_slope_alone_is_refused():
    flat = plane(slope=0.0)
    result = terrain_difficulty(flat, square_site().boundary, **RULES)
    assert np.isinf(result.equidistant_m.values[INNER]).all() and result.binding == "neither"
    with pytest.raises(LayoutError, match="no direction"):
        terrain_difficulty(replace(flat, heights=None, smooth=None, aspect_deg=None), square_site().boundary, **RULES)


def test_ground_between_the_centres_of_cells_is_as_hard_as_the_cells_that_it_touches():
    grid, _, _ = surface(lambda x, y: 50 + 0.2 * x, cell_m=5.0)
    narrow = MultiPolygon([box(EAST + 0.2, NORTH - 20, EAST + 1.8, NORTH + 20)])
    wide = MultiPolygon([box(EAST - 20, NORTH - 20, EAST + 20, NORTH + 20)])
    found, whole = (terrain_difficulty(terrain_of(grid), ground, **RULES) for ground in (narrow, wide))
    assert found.sentence == whole.sentence


def test_tolerances_out_of_range_are_refused():
    with pytest.raises(LayoutError, match="spacing_tolerance_pct between 0 and 100"):
        terrain_difficulty(plane(), square_site().boundary, **{**RULES, "spacing_tolerance_pct": 0.0})


def many(hard, parallel, level=10.0, count=100):
    """A field 100 m across: `hard` of its cells give out after these distances, the others never."""
    gives_out = np.arange(count) < hard
    return np.where(gives_out, level, np.inf), np.where(gives_out, parallel, np.inf), 100.0


@pytest.mark.parametrize(
    ("cells", "verdict"),
    [
        (many(10, 10.0), "neither"),  # a tenth of the ground decides nothing
        (many(11, 10.0), "both"),
        (many(50, 15.1), "spacing"),
        (many(50, 14.9), "both"),
        (many(50, 6.7), "both"),
        (many(50, 6.6), "grade"),
        (many(50, 49.9, level=99.0), "grade"),
        (many(50, 50.0, level=99.0), "neither"),  # from the middle to the edge
        (many(50, 49.9, level=100.0), "neither"),  # across
    ],
)
def test_the_limit_that_gives_out_one_and_a_half_times_sooner_binds(cells, verdict):
    assert _binding(*cells) == verdict


def test_zones_follow_the_rule_of_the_field_s_verdict_cell_by_cell():
    rng = np.random.default_rng(5)
    level, parallel = 10 ** rng.uniform(0.3, 2.5, (2, 20, 20))
    level[:2], parallel[:, :2] = np.inf, np.inf
    grid = Grid(level, EAST, NORTH + 20, 1.0, UTM)
    difficulty = SimpleNamespace(equidistant_m=grid, holds_grade_m=grid.with_values(parallel))
    field = MultiPolygon([box(EAST, NORTH, EAST + 80, NORTH + 80)])
    got = np.array(FIRST)[first_to_give_out(difficulty, field)]
    wanted = [
        _binding(np.array([a]), np.array([b]), 80.0) for a, b in zip(level.ravel(), parallel.ravel(), strict=True)
    ]
    assert set(wanted) == set(FIRST)
    assert got.ravel().tolist() == wanted


def test_cells_of_a_zone_are_those_whose_centre_it_holds():
    grid = Grid(np.zeros((40, 50)), EAST, NORTH, 1.5, UTM)
    rng = np.random.default_rng(2)
    for _ in range(20):
        middle = Point(EAST + rng.uniform(-2, 77), NORTH - rng.uniform(-2, 62))
        area = middle.buffer(rng.uniform(2, 15), quad_segs=3)
        found = np.zeros(grid.values.shape, dtype=bool)
        found[_window_cells(grid, area)] = True
        x, y = np.meshgrid(grid.x, grid.y)
        assert np.array_equal(found, contains_xy(area, x, y))


def test_the_summary_gives_what_a_tenth_half_and_nine_tenths_of_the_cells_stay_below():
    values = np.append(np.arange(101.0), np.nan)  # 0 to 100 and one unknown
    table = _summary(values / 1000, values, np.append(np.full(101, np.inf), np.nan), 4.5).set_index("measure")
    assert table.loc["equidistant", ["p10", "p50", "p90"]].tolist() == [10, 50, 90]
    assert table.loc["flow_curvature", ["p10", "p50", "p90"]].tolist() == pytest.approx([0.01, 0.05, 0.09])
    assert table.loc["rows_that_hold_grade", ["p10", "p50", "p90"]].tolist() == [np.inf] * 3
    rows = _summary(values, values, values, 4.0).set_index("measure").loc["rows_that_hold_grade"]
    assert rows[["p10", "p50", "p90"]].tolist() == [2.5, 12.5, 22.5]
    assert np.isnan(_summary(values[-1:], values, values, 4.0)["p50"][0])
