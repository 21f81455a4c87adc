"""Pieces of lines against the geometry library, one pair at a time."""

import numpy as np
import pytest
import shapely

from geoagro.planar.inside import points_inside
from geoagro.planar.segments import Segments, Standing, meeting, segments_of
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


def along_lines(count=160, reach_m=40.0):
    """Pieces of six lines, as if sampled from bends: more of the line runs between a piece's ends than it is long."""
    pieces = scattered(count, 6, reach_m, 9.0)
    return Segments(pieces.start, pieces.end, pieces.line, pieces.station, 1.25 * pieces.run)


def standing(count, gap_m):
    """Places on lines 0 to 5, three of them rings; every fourth on none."""
    line = np.where(np.arange(count) % 4 == 3, -1, np.arange(count) % 6)
    return Standing(line, RNG.uniform(0, 60, count), np.full(count, 75.0), line % 2 == 0, gap_m)


def is_own(at, pieces, station):
    """Whether places (n, pieces) on pieces are the surroundings of where each of n rays stands, round a ring too."""
    way = np.abs(station - at.station[:, None])
    way = np.where(at.closed[:, None], np.minimum(way, at.length[:, None] - way), way)
    return (pieces.line == at.line[:, None]) & (way <= at.gap_m)


@pytest.mark.parametrize("steer", [None, (1.0, 0.0), (0.0, -1.0)])
def test_a_ray_meets_first_what_comparing_it_with_every_piece_finds(steer):
    pieces, count = along_lines(), 250
    origin = RNG.uniform(-6, 46, (count, 2))
    turn = RNG.uniform(0, 2 * np.pi, count)
    direction = np.column_stack([np.cos(turn), np.sin(turn)]) if steer is None else np.tile(steer, (count, 1))
    at, near, far = standing(count, 12.0), 1.5, 14.0
    hits = pieces.first_hit(origin, direction, near, far, standing=at)
    way, share, is_on = meeting(origin[:, None], direction[:, None], pieces.start, pieces.end)
    place = pieces.station + share * pieces.run
    counts = is_on & (way >= near) & (way <= far) & ~is_own(at, pieces, place)
    way = np.where(counts, way, np.inf)
    first, row = way.argmin(axis=1), np.arange(count)
    met = np.isfinite(way[row, first])
    assert 30 < met.sum() < count
    assert hits.distance == pytest.approx(way[row, first])
    assert hits.line.tolist() == np.where(met, pieces.line[first], -1).tolist()
    assert hits.station == pytest.approx(np.where(met, place[row, first], np.nan), nan_ok=True)


def test_of_pieces_met_at_once_the_line_named_first_counts_and_on_it_the_earlier_place():
    start = np.tile([[-3.0, 5.0]], (4, 1))
    end = np.array([[30.0, 5.0], [3.0, 5.0], [3.0, 5.0], [3.0, 5.0]])  # the longest is sorted into other cells too
    pieces = Segments(start, end, np.array([2, 1, 1, 2]), np.array([0.0, 50.0, 20.0, 4.0]), np.hypot(*(end - start).T))
    for order in (np.arange(4), np.arange(4)[::-1], np.array([2, 0, 3, 1])):
        shuffled = Segments(*(getattr(pieces, name)[order] for name in ("start", "end", "line", "station", "run")))
        hits = shuffled.first_hit(np.zeros((1, 2)), np.array([[0.0, 1.0]]), 0.1, 9.0)
        assert (hits.distance[0], hits.line[0], hits.station[0]) == (5.0, 1, 23.0)


def test_the_nearest_piece_is_the_one_that_comparing_with_every_piece_finds():
    pieces, count = along_lines(), 250
    points, at = RNG.uniform(-6, 46, (count, 2)), standing(250, 12.0)
    shapes, spots = pieces.shapes[None, :], shapely.points(points)[:, None]
    away, share = shapely.distance(spots, shapes), shapely.line_locate_point(shapes, spots, normalized=True)
    away = np.where(is_own(at, pieces, pieces.station + share * pieces.run), np.inf, away).min(axis=1)
    for within_m in (0.7, 5.0):
        expected = np.where(away <= within_m, away, np.inf)
        assert 0 < np.isfinite(expected).sum() < count
        assert pieces.nearest(points, within_m, standing=at) == pytest.approx(expected)


def test_cells_hold_the_pieces_that_touch_them_and_no_others():
    pieces = along_lines()
    upright = Segments(*(np.array(v) for v in ([[0.0, 0.0]], [[0.0, 9.0]], [0], [0.0], [9.0])))
    for some in (pieces, upright):
        grid = some.grid
        west, south = np.minimum(some.start, some.end).min(axis=0)
        east, north = np.maximum(some.start, some.end).max(axis=0)
        assert (grid.west, grid.south) == (west, south)
        assert 0 < grid.west + grid.columns * grid.cell_m - east <= grid.cell_m
        assert 0 < grid.south + grid.rows * grid.cell_m - north <= grid.cell_m
        for k in range(grid.columns * grid.rows):
            row, column = divmod(k, grid.columns)
            x, y = grid.west + column * grid.cell_m, grid.south + row * grid.cell_m
            cell = shapely.box(x, y, x + grid.cell_m, y + grid.cell_m)
            touching = np.flatnonzero(shapely.dwithin(some.shapes, cell, 1e-9))
            assert np.sort(grid.member[grid.pointer[k] : grid.pointer[k + 1]]).tolist() == touching.tolist()


def test_pieces_of_lines_know_where_they_begin_and_are_cut_where_asked():
    lines = [shapely.LineString([(0, 0), (6, 0), (6, 3)]), shapely.LineString([(1, 9), (1, 5)])]
    pieces = segments_of(lines)
    assert pieces.line.tolist() == [0, 0, 1]
    assert pieces.station.tolist() == [0, 6, 0]
    assert pieces.length.tolist() == pieces.run.tolist() == [6, 3, 4]
    assert segments_of(lines, longest_m=2.0).length.tolist() == pytest.approx([2, 2, 2, 1.5, 1.5, 2, 2])
    shape, piece = pieces.pairs(shapely.points([[3.0, 1.0], [20.0, 20.0]]), 1.0)
    assert (shape.tolist(), piece.tolist()) == ([0], [0])
