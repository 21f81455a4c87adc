"""Pieces of lines against the geometry library, one pair at a time."""

import numpy as np
import pytest
import shapely

from geoagro.planar.inside import points_inside
from geoagro.planar.segments import Segments, Standing, meeting
from geoagro.rows.loops.crowded import near_pairs

RNG = np.random.default_rng(7)
A, B, C, D = RNG.integers(-4, 5, (4, 400, 2)).astype(float)
LONG = np.hypot(*(B - A).T) > 0
A, B, C, D = A[LONG], B[LONG], C[LONG], D[LONG]


def scattered(count, lines, reach_m, longest_m):
    """Pieces of a few lines, each where it fell, so that many are near one another and some cross."""
    start = RNG.uniform(0, reach_m, (count, 2))
    end = start + RNG.uniform(-longest_m, longest_m, (count, 2))
    run = np.hypot(*(end - start).T)
    return Segments(start, end, np.sort(RNG.integers(0, lines, count)), RNG.uniform(0, 60, count), run)


@pytest.mark.parametrize("within_m", [0.3, 2.0, 6.0])
@pytest.mark.parametrize("longest_m", [1.0, 12.0])
def test_pieces_near_another_one_are_those_that_the_geometry_library_finds(within_m, longest_m):
    pieces, gap_m = scattered(150, 6, 60.0, longest_m), 10.0
    asked = np.array([True, False, True, True, False, False])
    expected = np.zeros(len(pieces), dtype=bool)
    i, j = np.triu_indices(len(pieces), 1)
    way = np.abs(pieces.station[i] - pieces.station[j]) + np.maximum(pieces.run[i], pieces.run[j])
    counts = (asked[pieces.line[i]] | asked[pieces.line[j]]) & ((pieces.line[i] != pieces.line[j]) | (way > gap_m))
    near = counts & (shapely.distance(pieces.shapes[i], pieces.shapes[j]) < within_m)
    expected[i[near]] = expected[j[near]] = True
    # a piece longer than the gap is its own neighbour
    expected |= asked[pieces.line] & (pieces.run > gap_m)
    assert expected.sum() > 0
    assert np.array_equal(pieces.near_others(asked, within_m, gap_m), expected)


def test_pairs_of_pieces_that_are_too_near_are_those_that_the_geometry_library_finds():
    pieces, gap_m, within_m = scattered(150, 6, 60.0, 4.0), 10.0, 2.0
    long, ring = np.full(len(pieces), 60.0), pieces.line == 2
    standing = Standing(pieces.line, pieces.station, long, ring, gap_m)
    i, j = np.triu_indices(len(pieces), 1)
    way = np.abs(pieces.station[i] - pieces.station[j])
    way = np.where(ring[i], np.minimum(way, 60.0 - way), way)
    counts = (pieces.line[i] != pieces.line[j]) | (way > gap_m)
    distance = shapely.distance(pieces.shapes[i], pieces.shapes[j])
    # pieces that cross have no end near each other, as a rule; rows that cross have neighbours that do
    near = counts & (distance < within_m) & (distance > 0)
    found = set(zip(*near_pairs(pieces.start, pieces.end, standing.arrays, within_m), strict=True))
    assert near.sum() > 10
    assert found >= set(zip(i[near], j[near], strict=True))
    assert found <= set(zip(i[counts & (distance < within_m)], j[counts & (distance < within_m)], strict=True))


def test_points_inside_areas_are_those_that_the_geometry_library_finds():
    areas = shapely.buffer(shapely.points(RNG.uniform(0, 40, (5, 2))), [3.0, 8.0, 15.0, 0.5, 6.0])
    xy = RNG.uniform(-5, 45, (300, 2))
    where, area = points_inside(xy, areas)
    expected = np.nonzero(shapely.within(shapely.points(xy)[None, :], areas[:, None]))
    assert np.array_equal(area, expected[0])
    assert np.array_equal(where, expected[1])
    assert len(points_inside(xy, areas[:0])[0]) == 0


def test_of_no_pieces_none_is_near():
    none = np.zeros((0, 2))
    empty = Segments(none, none, np.zeros(0, dtype=np.int64), np.zeros(0), np.zeros(0))
    assert len(empty.near_others(np.zeros(0, dtype=bool), 1.0, 1.0)) == 0


def test_rays_meet_pieces_where_linear_algebra_says():
    at, share, is_on = meeting(A, B - A, C, D)
    matrix = np.stack([B - A, C - D], axis=2)
    skew = np.abs(np.linalg.det(matrix)) > 0.5  # whole numbers: parallel ones have a determinant of nought
    expected = np.linalg.solve(matrix[skew], (C - A)[skew][:, :, None])[:, :, 0]
    assert at[skew] == pytest.approx(expected[:, 0])
    assert share[skew] == pytest.approx(expected[:, 1])
    inside = (expected[:, 1] >= -1e-9) & (expected[:, 1] <= 1 + 1e-9)
    assert np.array_equal(is_on[skew], inside)
    assert not is_on[~skew].any()
