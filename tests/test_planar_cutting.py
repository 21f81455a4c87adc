import numpy as np
import pytest
import shapely
from shapely import LineString, Polygon, box

from geoagro.planar.cutting import (
    GRID_M,
    absorb,
    largest_parts,
    off_grid,
    on_grid,
    parts_of,
    subtract,
    trim_overlaps,
    union_of,
    within,
    without,
)
from geoagro.planar.threads import MANY_SHAPES


def test_each_shape_loses_only_the_others_it_is_paired_with():
    shapes = np.array([box(0, 0, 4, 1), box(0, 2, 4, 3), box(0, 4, 4, 5)])
    others = np.array([box(0, 0, 1, 9), box(3, 0, 4, 9)])
    left = subtract(shapes, (np.array([0, 2, 2]), np.array([0, 0, 1])), others)
    assert shapely.area(left).tolist() == pytest.approx([3.0, 4.0, 2.0])
    assert shapely.area(shapes).tolist() == [4.0, 4.0, 4.0]


def test_many_shapes_are_cut_by_threads_as_few_are():
    shapes = np.array([box(k, 0, k + 1, 4) for k in range(3 * MANY_SHAPES)])
    others = np.array([box(0, 0, 400, 1), box(0, 3, 200, 4), box(0, 0, 20.5, 9)])
    pair = tuple(np.array(k) for k in zip(*((i, j) for i in range(0, 250, 2) for j in range(3)), strict=True))
    left = subtract(shapes, pair, others)
    few = [subtract(shapes[k : k + 1], (np.zeros(3, dtype=int), np.arange(3)), others)[0] for k in range(0, 250, 2)]
    assert shapely.to_wkb(left[0:250:2]).tolist() == shapely.to_wkb(np.array(few, dtype=object)).tolist()
    assert left[1].equals_exact(shapes[1], 0.0)
    assert shapely.area(left[[0, 100, 248]]).tolist() == pytest.approx([0.0, 2.0, 3.0])


def test_shared_ground_stays_with_the_lower_rank_then_with_the_larger_shape():
    shapes = np.array([box(0, 0, 2, 2), box(1, 0, 9, 2), box(8, 0, 10, 2)])
    assert shapely.area(trim_overlaps(shapes, np.array([1.0, 1.0, 0.0]), deep_m=3.0)).tolist() == pytest.approx(
        [2.0, 14.0, 4.0]
    )


def test_crumb_joins_the_part_with_the_longest_common_edge():
    parts = np.array([box(0, 0, 1, 1), box(1, 0, 1.2, 1), box(1.2, 0.5, 3, 2), box(5, 5, 5.1, 5.1)])
    joined = absorb(parts, shapely.area(parts) < 0.5)
    assert shapely.area(joined).tolist() == pytest.approx([1.2, 0.0, 2.7, 0.01])


def test_ground_that_only_touches_counts_for_nothing():
    corner = Polygon([(0, 0), (4, 0), (4, 1), (2, 1), (2, 2), (0, 2)])
    cut = within(np.array([corner]), box(0, 1, 4, 3))
    assert cut[0].equals(box(0, 1, 2, 2))
    assert within(np.array([LineString([(0, 0), (1, 1)]).buffer(1)]), box(5, 5, 6, 6))[0].is_empty


def test_no_tangle_of_corners_stops_a_cut():
    """Rings drawn by chance cross themselves, double back and collapse; rounded corners meet."""
    rng = np.random.default_rng(1)
    for k in range(300):
        a, b = (shapely.polygons(rng.uniform(0, 10, (8, 2)).round(k % 4)) for _ in range(2))
        for cut in (without, within):
            left = cut(np.array([a], dtype=object), b)[0]
            assert left.is_valid and left.area <= shapely.make_valid(a).area + 1e-3
        both = np.array([a, b], dtype=object)
        assert shapely.is_valid(subtract(both[:1], (np.array([0]), np.array([1])), both)).all()


def test_shapes_that_overlap_themselves_are_cut_as_the_ground_that_they_cover():
    # such shapes come from strips along guides that cross themselves; the geometry library refuses them
    rng = np.random.default_rng(3)
    refused = 0
    for _ in range(150):
        one, other = (shapely.polygons(rng.uniform(0, 10, (8, 2)).round(2)) for _ in range(2))
        try:
            shapely.difference(one, other, grid_size=GRID_M)
        except shapely.errors.GEOSException:
            refused += 1
        both = np.array([one, other], dtype=object)
        ground = shapely.make_valid(both)
        left = without(both[:1], other)[0]
        inside = within(both[:1], other)[0]
        assert left.area + inside.area == pytest.approx(ground[0].area, abs=1e-3)
        assert union_of(both).area == pytest.approx(shapely.union_all(ground).area, abs=1e-3)
        again = subtract(both[:1], (np.array([0]), np.array([1])), both)[0]
        assert again.area == pytest.approx(left.area, abs=1e-3)
    assert refused > 50


def test_parts_below_a_size_and_all_that_is_no_ground_are_left_out():
    mixed = shapely.GeometryCollection(
        [box(0, 0, 1, 1), LineString([(0, 0), (5, 5)]), shapely.MultiPolygon([box(4, 4, 6, 6)])]
    )
    shapes = np.array([box(0, 0, 0.3, 0.3), mixed, box(9, 9, 9.5, 9.25)])
    parts, owner = parts_of(shapes, 0.1)
    assert (shapely.area(parts).tolist(), owner.tolist()) == (pytest.approx([1.0, 4.0, 0.125]), [1, 1, 2])
    largest = largest_parts(np.array([mixed, LineString([(0, 0), (1, 1)]), box(0, 0, 2, 1)]))
    assert shapely.area(largest).tolist() == [4.0, 0.0, 2.0]


def test_corners_are_rounded_to_the_grid():
    rounded = on_grid(np.array([box(0, 0, 1 / 3, 1)], dtype=object))[0]
    assert rounded.bounds[2] == pytest.approx(0.333333, abs=1e-12)


def test_of_equal_shapes_over_each_other_the_first_keeps_the_ground():
    shapes = np.array([box(0, 0, 2, 2), box(0, 0, 2, 2), box(2, 0, 3, 2)])
    assert shapely.area(trim_overlaps(shapes, np.zeros(3), deep_m=3.0)).tolist() == [4.0, 0.0, 2.0]


def test_off_the_grid_shapes_keep_their_corners_but_not_what_is_made_of_them():
    shapes = on_grid(np.array([box(0, 0, 1, 1), Polygon([(0, 0), (3, 1), (0, 1)])]))
    free = off_grid(shapes)
    assert shapely.to_wkb(free).tolist() == shapely.to_wkb(shapes).tolist()
    assert shapely.get_precision(shapes).tolist() == [GRID_M, GRID_M]
    assert shapely.get_precision(shapely.intersection(free[0], free[1])) == 0.0
