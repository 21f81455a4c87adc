"""Which long, bent shapes meet, and what of them lies in which tile: held to what a search over all pairs says."""

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString, Point, Polygon, box
from shapely.affinity import rotate

from geoagro.planar.cutting import cut_at_lines, on_grid
from geoagro.planar.meeting import meeting

SEEDS = st.integers(0, 10_000)


def bent_strips(seed, *, half_width_m=1.0):
    """Strips along waves beside each other, each 400 m long and cut in a few parts."""
    random = np.random.default_rng(seed)
    x = np.arange(0.0, 400.0, 4.0)
    lines = []
    for k in range(8):
        y = 4.0 * k + 30 * np.sin(x / random.uniform(30, 60) + seed)
        a, b = sorted(random.choice(np.arange(1, len(x) - 1), 2, replace=False))
        for part in (slice(0, a), slice(a, b), slice(b, None)):
            if len(x[part]) > 1:
                lines.append(LineString(np.column_stack([x[part], y[part]])))
    return shapely.buffer(np.array(lines, dtype=object), half_width_m, cap_style="flat")


def every_pair(shapes, others, within_m):
    a, b = np.meshgrid(np.arange(len(shapes)), np.arange(len(others)), indexing="ij")
    near = shapely.distance(shapes[a], others[b]) <= within_m
    return set(zip(a[near].tolist(), b[near].tolist(), strict=True))


@given(SEEDS, st.sampled_from([0.0, 0.5, 3.0]))
def test_pairs_are_those_that_a_search_over_all_finds(seed, within_m):
    shapes, others = bent_strips(seed), bent_strips(seed + 1, half_width_m=2.0)
    found = meeting(shapes, others, within_m=within_m, deep_m=2.0)
    assert set(zip(*(k.tolist() for k in found), strict=True)) == every_pair(shapes, others, within_m)


@given(SEEDS, st.floats(0, 360), st.sampled_from([0.0, 1e-4, 0.5]))
def test_slanting_neighbours_meet_as_those_along_an_axis_do(seed, angle, within_m):
    random = np.random.default_rng(seed)
    flat = [box(0, 2 * k, random.uniform(20, 200), 2 * k + random.choice([1.5, 2.0, 2.1])) for k in range(9)]
    dense = shapely.segmentize(np.array(flat, dtype=object), 3.0)
    turned = np.array([rotate(shape, angle, origin=(0, 0)) for shape in dense], dtype=object)
    moved = on_grid(shapely.transform(turned, lambda xy: xy + np.array([512345, 5123456])))
    found = meeting(moved, moved, within_m=within_m, deep_m=1.1)
    assert set(zip(*(k.tolist() for k in found), strict=True)) == every_pair(moved, moved, within_m)


def test_a_shape_whole_inside_another_is_found_if_it_lies_no_deeper_than_told():
    strip, inner = box(0, 0, 200, 6), box(100, 2.5, 101, 3.5)
    assert [k.tolist() for k in meeting(np.array([strip]), np.array([inner]), deep_m=3.0)] == [[0], [0]]
    assert [k.tolist() for k in meeting(np.array([inner]), np.array([strip]), deep_m=3.0)] == [[0], [0]]


def test_of_groups_only_pairs_of_one_number_are_found():
    shapes = bent_strips(5)
    number = np.arange(len(shapes)) % 3
    first, second = meeting(shapes, shapes, deep_m=1.0, groups=(number, number))
    whole = every_pair(shapes, shapes, 0.0)
    assert set(zip(first.tolist(), second.tolist(), strict=True)) == {(a, b) for a, b in whole if a % 3 == b % 3}


def test_pairs_come_in_order_and_nothing_meets_nothing():
    shapes = bent_strips(3)
    first, second = meeting(shapes, shapes, deep_m=1.0)
    assert np.array_equal(np.lexsort([second, first]), np.arange(len(first)))
    none = np.array([], dtype=object)
    assert [len(k) for k in meeting(none, shapes)] == [0, 0]
    assert [len(k) for k in meeting(shapes, np.array([Polygon()]))] == [0, 0]


@given(SEEDS)
def test_pieces_lie_in_their_tiles_and_make_up_the_shapes(seed):
    shapes = bent_strips(seed)
    x, y = np.linspace(-10.0, 410.0, 8), np.linspace(-40.0, 70.0, 4)
    pieces, column, row = cut_at_lines(shapes, x, y)
    tiles = shapely.box(x[column], y[row], x[column + 1], y[row + 1])
    assert shapely.covers(shapely.buffer(tiles, 1e-5), pieces).all()
    assert shapely.area(pieces).sum() == pytest.approx(shapely.area(shapes).sum(), abs=1e-2)
    for k, tile in enumerate(tiles[:20]):
        mine = pieces[(column == column[k]) & (row == row[k])]
        wanted = shapely.area(shapely.intersection(shapes, tile)).sum()
        assert shapely.area(mine).sum() == pytest.approx(wanted, abs=1e-3)


def test_what_lies_beyond_the_outermost_lines_is_left_out():
    pieces, column, row = cut_at_lines(np.array([Point(0, 0).buffer(10)]), np.array([0.0, 5.0]), np.array([0.0, 5.0]))
    assert (column.tolist(), row.tolist()) == ([0], [0])
    assert pieces[0].area == pytest.approx(25.0, abs=0.1)


def test_of_no_shapes_there_are_no_pieces():
    pieces, column, row = cut_at_lines(np.array([], dtype=object), np.linspace(0, 9, 4), np.linspace(0, 9, 4))
    assert (len(pieces), len(column), len(row)) == (0, 0, 0)
