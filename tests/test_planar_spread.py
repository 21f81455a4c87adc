"""Points over polygons: even by area, in every direction, however the polygon is cut into triangles."""

import numpy as np
import pytest
import shapely
from scipy.spatial import cKDTree

from geoagro.planar.spread import points_over

BENT = shapely.Polygon([(0, 0), (9, 0), (9, 2), (3, 2), (3, 7), (0, 7)], [[(1, 3), (2, 3), (2, 5), (1, 5)]])
"""An L with a hole: 18 + 15 - 2 m2."""
BOX = shapely.box(40, 10, 52, 13)


def test_each_polygon_gets_its_own_points_and_all_lie_in_it():
    xy, owner = points_over(np.array([BENT, BOX]), 60)
    assert owner.tolist() == [0] * 60 + [1] * 60
    for k, shape in enumerate((BENT, BOX)):
        assert shapely.covers(shape.buffer(1e-9), shapely.points(xy[owner == k])).all()


@pytest.mark.parametrize("shape", [BENT, BOX])
def test_parts_of_a_polygon_get_points_by_their_area(shape):
    xy, _ = points_over(np.array([BOX, shape]), 500)
    xy = xy[500:]
    assert xy.mean(axis=0) == pytest.approx(shapely.get_coordinates(shape.centroid)[0], abs=0.06)
    west, south, east, north = shape.bounds
    for share in (0.2, 0.5, 0.8):
        x, y = west + share * (east - west), south + share * (north - south)
        for half in (shapely.box(west, south, x, north), shapely.box(west, south, east, y)):
            held = shapely.covers(half, shapely.points(xy)).mean()
            assert held == pytest.approx(shape.intersection(half).area / shape.area, abs=0.02)


def test_points_stay_apart_and_do_not_line_up():
    # the best that points can do is a triangular grid: (2 / sqrt(3) * area / n) ** 0.5
    count = 400
    square = shapely.box(0, 0, 10, 10)
    xy, _ = points_over(np.array([square]), count)
    best = np.sqrt(2 / np.sqrt(3) * square.area / count)
    nearest = cKDTree(xy).query(xy, k=2)[0][:, 1]
    assert nearest.mean() > 0.55 * best
    assert nearest.min() > 0.05 * best
    # as many directions between points next to each other as there are: none holds a third of them
    turn = np.degrees(np.arctan2(*(xy[1:] - xy[:-1]).T)) % 180
    assert np.histogram(turn, 18, (0, 180))[0].max() < count / 4
    assert abs(np.corrcoef(xy.T)[0, 1]) < 0.05
