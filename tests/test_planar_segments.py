"""Pieces of lines against the geometry library, one pair at a time."""

import numpy as np
import pytest
import shapely

from geoagro.planar.segments import Segments, apart, away_from, meeting

RNG = np.random.default_rng(7)
A, B, C, D = RNG.integers(-4, 5, (4, 400, 2)).astype(float)
LONG = np.hypot(*(B - A).T) > 0
A, B, C, D = A[LONG], B[LONG], C[LONG], D[LONG]
FIRST, SECOND = (shapely.linestrings(np.stack(ends, axis=1)) for ends in ((A, B), (C, D)))


def test_the_distance_of_a_point_from_a_piece_is_that_of_the_geometry_library():
    distance, share = away_from(C, A, B)
    assert distance == pytest.approx(shapely.distance(shapely.points(C), FIRST))
    assert share == pytest.approx(shapely.line_locate_point(FIRST, shapely.points(C), normalized=True))


def test_pieces_that_do_not_cross_are_as_far_apart_as_the_geometry_library_says():
    crossing = shapely.crosses(FIRST, SECOND) & ~shapely.touches(FIRST, SECOND)
    expected = shapely.distance(FIRST, SECOND)
    assert apart(A, B, C, D)[~crossing] == pytest.approx(expected[~crossing])


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
