"""The measures of rows against a second, slow implementation and against closed forms."""

import math

import numpy as np
import pytest
import row_judge
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from landforms import EAST, NORTH, cone, plane, surface
from shapely import LineString

from geoagro.rows.quality import legal_samples, legal_share, run_length, view_rows, window_radius
from geoagro.rows.sampling import sample_rows

D = 4.5
BUMPY = surface(lambda x, y: 100 + 0.05 * y + 1.5 * np.sin(x / 17) * np.cos(y / 23))


def bumpy(x, y):
    return float(BUMPY.sample(x, y))


def circle(radius, start_deg=0.0, end_deg=360.0, step_m=0.1):
    n = math.ceil(math.radians(abs(end_deg - start_deg)) * radius / step_m)
    t = np.radians(np.linspace(start_deg, end_deg, n + 1))
    xy = np.column_stack([EAST + radius * np.cos(t), NORTH + radius * np.sin(t)])
    if abs(end_deg - start_deg) == 360:
        xy[-1] = xy[0]
    return LineString(xy)


def wiggly(seed, count=6):
    """Rows about a spacing apart that waver, pinch, cross and end anywhere, with pieces about 0.8 m long."""
    random = np.random.default_rng(seed)
    rows = []
    for k in range(count):
        a, b = np.sort(random.uniform(-45, 45, 2))
        x = np.arange(a, b + 5, 0.8)
        wave, shift, lift = random.uniform(8, 30), random.uniform(0, 6), random.uniform(0.1, 1.5)
        y = (k - count / 2) * D + lift * np.sin(x / wave + shift) + random.normal(0, 0.15)
        turn = random.uniform(-0.02, 0.02)
        rows.append(LineString(np.column_stack([EAST + x, NORTH + y + turn * x])))
    return rows


def same(found, expected, atol=1e-6):
    np.testing.assert_allclose(found, expected, atol=atol, rtol=1e-6)


def assert_as_judged(rows, heights, height):
    view = view_rows(rows, heights, D, step_m=2.0)
    judged = row_judge.judge(rows, height, D, 2.0)
    same(view.samples.row, [j.row for j in judged])
    same(view.samples.station, [j.station for j in judged])
    same(view.samples.weight, [j.weight for j in judged])
    same(view.up.distance, [j.left for j in judged])
    same(view.down.distance, [j.right for j in judged])
    same(view.nearest, [j.nearest for j in judged])
    same(view.grade, [j.grade for j in judged])
    same(1 / window_radius(rows, view.samples), [1 / j.radius for j in judged])
    for tolerance, grade in ((0.1, 0.04), (0.3, 0.02), (0.3, 0.3)):
        found = legal_share(view, 1e4, spacing_m=D, tolerance=tolerance, max_grade=grade, min_run_m=20.0)
        same(found, row_judge.legal_share(judged, 1e4, D, tolerance, grade))


@settings(max_examples=12, deadline=None)
@given(seed=st.integers(0, 10_000))
def test_every_measure_agrees_with_the_slow_judge_on_wavering_rows(seed):
    assert_as_judged(wiggly(seed), BUMPY, bumpy)


def test_the_slow_judge_sees_legal_and_illegal_length_on_the_wavering_rows():
    shares = []
    for seed in range(6):
        judged = row_judge.judge(wiggly(seed), bumpy, D)
        shares.append(row_judge.legal_share(judged, 1e3, D, 0.3, 0.3))
    assert min(shares) < max(shares)
    assert max(shares) > 0.1


def test_every_measure_agrees_with_the_slow_judge_on_a_hairpin_a_ring_and_a_spiral():
    legs = [(-30, 0), (10, 0), (12.2, 1), (13, 3), (12.2, 5), (10, 6), (-20, 4)]
    hairpin = LineString([(EAST + x, NORTH + y) for x, y in legs]).segmentize(0.3)
    turns = np.linspace(0, 5 * np.pi, 900)
    spiral = LineString(
        np.column_stack([EAST + (4 + 0.7 * turns) * np.cos(turns), NORTH - 28 + (4 + 0.7 * turns) * np.sin(turns)])
    )
    ring = shapely.transform(circle(7.0), lambda xy: np.add(xy, [0.0, 26.0]))
    assert ring.is_closed
    assert_as_judged([hairpin, spiral, ring], BUMPY, bumpy)


def test_a_closed_ring_is_no_neighbour_of_its_own_seam():
    ring = circle(20.0)
    view = view_rows([ring], None, D)
    assert np.isinf(view.nearest).all()
    assert np.isinf(view.up.distance).all()


def test_without_heights_grades_are_unknown_and_do_not_forbid():
    rows = [LineString([(EAST, NORTH + k * D), (EAST + 40, NORTH + k * D)]) for k in range(3)]
    view = view_rows(rows, None, D)
    assert np.isnan(view.grade).all()
    assert legal_samples(view, spacing_m=D, tolerance=0.1, max_grade=0.001).all()


@pytest.mark.parametrize("angle_deg", [0.0, 30.0, 90.0])
def test_parallel_rows_on_a_plane_have_the_gap_and_the_grade_of_the_formula(angle_deg):
    slope, gap = 0.12, 4.7
    along = np.array([np.cos(np.radians(angle_deg)), np.sin(np.radians(angle_deg))])
    across = np.array([-along[1], along[0]])
    middles = [np.array([EAST, NORTH]) + (k - 2) * gap * across for k in range(5)]
    rows = [LineString([m - 30 * along, m + 30 * along]) for m in middles]
    view = view_rows(rows, surface(lambda x, y: plane(x, y, slope=slope)), D)
    inner = (view.samples.row > 0) & (view.samples.row < 4)
    same(view.up.distance[inner], gap, atol=1e-7)
    same(view.down.distance[inner], gap, atol=1e-7)
    assert np.isinf(view.down.distance[view.samples.row == 0]).all()
    same(view.grade, slope * np.sin(np.radians(angle_deg)), atol=1e-7)
    assert (window_radius(rows, view.samples) > 1e6).all()
    # covered: 5 rows of 60 m, 4.5 m each, on 60 m x 5 gaps
    area = 60 * 5 * gap
    whole = legal_share(view, area, spacing_m=D, tolerance=0.1, max_grade=0.13, min_run_m=20)
    assert whole == pytest.approx(D / gap)
    assert legal_share(view, area, spacing_m=D, tolerance=0.04, max_grade=0.13, min_run_m=20) == 0  # 4.7 is 4.4 % off


def test_concentric_rings_on_a_cone_are_level_and_measure_their_radii():
    radii = np.array([12.0, 16.5, 21.0])
    rings = [circle(r) for r in radii]
    view = view_rows(rings, surface(cone, cell_m=0.5), D)
    out, inn = view.down, view.up  # counter-clockwise: the middle is on the left
    middle = view.samples.row == 1
    same(inn.distance[middle], D, atol=2e-3)  # a ring of 0.1 m chords lies up to 0.1 mm inside the circle
    same(out.distance[middle], D, atol=2e-3)
    assert (out.line[middle] == 2).all()
    assert (inn.line[middle] == 0).all()
    assert view.nearest.min() > D - 2e-3  # infinite where rounding puts the neighbour a hair beyond one spacing
    same(window_radius(rings, view.samples), radii[view.samples.row], atol=0.02)
    assert view.grade.max() < 5e-4  # bilinear reading of a cone, 0.5 m cells


def test_the_inner_side_of_the_smallest_ring_sees_the_ring_itself_across_the_middle():
    view = view_rows([circle(5.0)], None, D)
    same(view.up.distance, 10.0, atol=0.02)  # the diameter, within 2.5 spacings and half the ring (15.7 m) away
    assert np.isinf(view.down.distance).all()


def test_a_wedge_of_two_rows_measures_the_gap_on_each_side_square_to_that_row():
    slant = 0.1
    low = LineString([(EAST, NORTH), (EAST + 50, NORTH)])
    high = LineString([(EAST, NORTH + 3), (EAST + 50, NORTH + 3 + 50 * slant)])
    view = view_rows([low, high], None, D)
    first = view.samples.row == 0
    x = view.samples.x[first] - EAST
    expected = 3 + slant * x
    same(view.up.distance[first], np.where(expected <= 2.5 * D, expected, np.inf))
    square = expected / math.hypot(1, slant)
    foot = x - slant * square / math.hypot(1, slant)  # of the perpendicular on the slanted row
    inside = (foot >= 0) & (square <= D)
    same(view.nearest[first][inside], square[inside])
    ok = legal_samples(view, spacing_m=D, tolerance=0.1, max_grade=0.04)[first]
    assert ok.tolist() == [
        bool(n >= 0.9 * D and (e > 1.6 * D or abs(e / D - 1) <= 0.1))
        for n, e in zip(np.where(square <= D, square, np.inf), expected, strict=True)
    ]


def test_only_runs_of_the_least_length_count_and_they_end_with_the_row():
    rows = [LineString([(0, 0), (40, 0)]), LineString([(0, 9), (12, 9)]), LineString([(0, 18), (12, 18)])]
    samples = sample_rows(rows, 2.0)
    every = np.ones(len(samples), dtype=bool)
    assert run_length(every, samples, 20.0) == pytest.approx(40.0)
    assert run_length(every, samples, 12.0) == pytest.approx(64.0)
    broken = every.copy()
    broken[9] = False  # of the 20 samples of the first row: 18 m before, 20 m after
    assert run_length(broken, samples, 20.0) == pytest.approx(20.0)
    assert run_length(broken, samples, 18.0) == pytest.approx(38.0)
    assert run_length(~every, samples, 0.0) == 0.0
