"""The field may be moved, turned, mirrored, surveyed anew: the rows go with it."""

from functools import cache

import numpy as np
import pytest
import shapely
from landforms import EAST, NORTH, UTM, Height, broken, irregular, rolling, surface, turned
from scipy.ndimage import gaussian_filter
from shapely.affinity import rotate, scale, translate

from geoagro.rows.contour import contour_rows
from geoagro.rows.quality import legal_share, view_rows
from geoagro.values.design import RowRule
from geoagro.values.grid import Grid
from geoagro.values.terrain import JUDGE_SIGMA_M

RULE = RowRule()
D = RULE.spacing_m
MIDDLE = (EAST, NORTH)
SHAPES = pytest.mark.parametrize("shape", [rolling, broken])


def smoothed(raw, sigma_m):
    return raw.with_values(gaussian_filter(raw.values, sigma_m / raw.cell_m, mode="nearest"))


def lay(field, raw):
    return contour_rows(field, smoothed(raw, 0.7 * D), smoothed(raw, JUDGE_SIGMA_M), RULE).kept


@cache
def raw_of(shape: Height) -> Grid:
    return surface(shape, size_m=90)


@cache
def base(shape: Height) -> tuple:
    return tuple(lay(irregular(), raw_of(shape)))


def share(rows, raw, grade_pct=RULE.max_grade_pct):
    rule = {"tolerance": RULE.spacing_tolerance, "max_grade": grade_pct / 100, "min_run_m": RULE.min_row_length_m}
    view = view_rows(rows, smoothed(raw, JUDGE_SIGMA_M), D)
    return legal_share(view, irregular().area, spacing_m=D, **rule)


def length(rows):
    return sum(row.length for row in rows)


def assert_alike(rows, raw, shape, within=0.03):
    """Legal share within `within`, planted length within 3 %."""
    assert share(rows, raw) == pytest.approx(share(base(shape), raw_of(shape)), abs=within)
    assert length(rows) == pytest.approx(length(base(shape)), rel=0.03)


@SHAPES
def test_the_same_input_gives_the_same_rows_to_the_last_bit(shape):
    again = lay(irregular(), raw_of(shape))
    assert [row.wkb for row in again] == [row.wkb for row in base(shape)]


@SHAPES
@pytest.mark.parametrize(("east", "north"), [(1234.0, -567.0), (0.37, 0.81)])
def test_a_field_shifted_with_its_ground_has_its_rows_shifted(shape, east, north):
    raw = raw_of(shape)
    moved = Grid(raw.values, raw.west + east, raw.north + north, raw.cell_m, UTM)
    rows = lay(translate(irregular(), east, north), moved)
    assert len(rows) == len(base(shape))
    for row, source in zip(rows, base(shape), strict=True):
        assert shapely.equals_exact(row, translate(source, east, north), tolerance=1e-5)


def test_a_shift_of_the_ground_in_height_changes_nothing():
    raw = raw_of(rolling)
    rows = lay(irregular(), raw.with_values(raw.values + 1500.0))
    # Rounding of heights is carried on by two hundred solves, in which the field's constant is all but free: millimetres.
    for row, source in zip(rows, base(rolling), strict=True):
        assert row.hausdorff_distance(source) < 0.02


MOVES = {
    "quarter turn": (lambda f: rotate(f, 90, origin=MIDDLE), np.rot90, lambda f: rotate(f, -90, origin=MIDDLE)),
    "half turn": (
        lambda f: rotate(f, 180, origin=MIDDLE),
        lambda v: np.rot90(v, 2),
        lambda f: rotate(f, 180, origin=MIDDLE),
    ),
    "mirrored west-east": (
        lambda f: scale(f, -1, 1, origin=MIDDLE),
        np.fliplr,
        lambda f: scale(f, -1, 1, origin=MIDDLE),
    ),
    "mirrored north-south": (
        lambda f: scale(f, 1, -1, origin=MIDDLE),
        np.flipud,
        lambda f: scale(f, 1, -1, origin=MIDDLE),
    ),
}


@pytest.mark.parametrize("name", list(MOVES))
@SHAPES
def test_a_field_turned_or_mirrored_with_its_ground_has_its_rows_turned_or_mirrored(shape, name):
    forth, cells, back = MOVES[name]
    raw = raw_of(shape)
    rows = [back(row) for row in lay(forth(irregular()), raw.with_values(np.ascontiguousarray(cells(raw.values))))]
    assert share(rows, raw) == pytest.approx(share(base(shape), raw), abs=0.002)
    points = shapely.points(shapely.get_coordinates(shapely.segmentize(rows, 1.0)))
    off = shapely.distance(points, shapely.union_all(base(shape)))
    assert off.max() < 0.001


@pytest.mark.parametrize("angle", [15.0, 37.0, 75.0])
def test_a_field_turned_between_the_cells_is_planted_as_well(angle):
    raw = surface(turned(rolling, angle), size_m=90)
    assert_alike(lay(rotate(irregular(), angle, origin=MIDDLE), raw), raw, rolling)


@SHAPES
def test_cells_of_two_metres_serve_as_well_as_cells_of_one(shape):
    raw = surface(shape, size_m=90, cell_m=2.0)
    rows = lay(irregular(), raw)
    assert_alike(rows, raw, shape)
    assert share(rows, raw_of(shape)) == pytest.approx(share(base(shape), raw_of(shape)), abs=0.03)


@SHAPES
@pytest.mark.parametrize("seed", [0, 1])
def test_noise_of_two_centimetres_changes_little(shape, seed):
    raw = raw_of(shape)
    noisy = raw.with_values(raw.values + np.random.default_rng(seed).normal(0, 0.02, raw.values.shape))
    assert_alike(lay(irregular(), noisy), noisy, shape)
