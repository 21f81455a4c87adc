"""Pieces of lines against the geometry library, one pair at a time."""

import numpy as np
import pytest
import shapely

from geoagro.planar.segments import Segments, away_from, meeting

RNG = np.random.default_rng(7)
A, B, C, D = RNG.integers(-4, 5, (4, 400, 2)).astype(float)
LONG = np.hypot(*(B - A).T) > 0
A, B, C, D = A[LONG], B[LONG], C[LONG], D[LONG]
FIRST, SECOND = (shapely.linestrings(np.stack(ends, axis=1)) for ends in ((A, B), (C, D)))


def test_the_distance_of_a_point_from_a_piece_is_that_of_the_geometry_library():
    distance, share = away_from(C, A, B)
    assert distance == pytest.approx(shapely.distance(shapely.points(C), FIRST))
    assert share == pytest.approx(shapely.line_locate_point(FIRST, shapely.points(C), normalized=True))


@pytest.mark.parametrize("within_m", [0.3, 1.0, 2.5])
def test_pairs_of_pieces_with_an_end_near_the_other_are_those_of_the_geometry_library(within_m):
    pieces = many_pieces(150)
    first, second = pieces.near_pairs(within_m)
    ends = [shapely.distance(p, q) for p, q in ends_beside(pieces.shapes)]
    i, j = np.nonzero(np.triu(np.minimum.reduce(ends) < within_m, 1))
    assert set(zip(first, second, strict=True)) == set(zip(i, j, strict=True))
    assert len(first) == len(i)


@pytest.mark.parametrize("within_m", [0.3, 1.0, 2.5])
def test_pieces_near_those_asked_for_are_those_of_the_geometry_library(within_m):
    pieces = many_pieces(150)
    asked = np.arange(0, 150, 7)
    found = pieces.near_others(asked, within_m, own_gap_m=20.0)
    near = shapely.distance(pieces.shapes[:, None], pieces.shapes) < within_m
    way = np.abs(np.subtract.outer(pieces.station, pieces.station)) + np.maximum.outer(pieces.run, pieces.run)
    near &= (pieces.line[:, None] != pieces.line) | (way > 20.0)
    expected = near[asked].any(axis=0)
    expected[asked] |= near[asked].any(axis=1)
    assert found.tolist() == np.flatnonzero(expected).tolist()


def many_pieces(count):
    """Short pieces all over a square of 40 m, six a line."""
    rng = np.random.default_rng(count)
    start = rng.uniform(0, 40, (count, 2))
    end = start + rng.normal(0, 2, (count, 2))
    run = np.hypot(*(end - start).T)
    line = np.arange(count) // 6
    station = np.cumsum(run) - run
    return Segments(start, end, line, station, run)


def ends_beside(shapes):
    """Each end of every piece with every piece, both ways round."""
    for k in (0, -1):
        points = shapely.get_point(shapes, k)
        yield points[:, None], shapes
        yield points, shapes[:, None]


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
