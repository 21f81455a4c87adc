"""Pieces of lines against the geometry library, one pair at a time."""

import numpy as np
import pytest
import shapely

from geoagro.planar.segments import apart, away_from, cross, meeting, side

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
    crossing = cross(A, B, C, D)
    expected = shapely.distance(FIRST, SECOND)
    assert apart(A, B, C, D)[~crossing] == pytest.approx(expected[~crossing])
    assert (expected[crossing] == 0).all()


def test_pieces_cross_where_the_geometry_library_says_so_and_touching_is_not_crossing():
    assert np.array_equal(cross(A, B, C, D), shapely.crosses(FIRST, SECOND) & ~shapely.touches(FIRST, SECOND))


def test_left_of_a_line_is_above_nought():
    start, end = np.array([[1.0, 1.0]] * 3), np.array([[1.0, 5.0]] * 3)  # due north
    turn = side(np.array([[0.0, 9.0], [1.0, -3.0], [3.0, 2.0]]), start, end)
    assert np.sign(turn).tolist() == [1, 0, -1]
    assert turn[2] == pytest.approx(-8.0)  # twice the area of the triangle


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
