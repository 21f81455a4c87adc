import numpy as np
import pytest
import shapely

from geoagro.planar.polylines import Polylines
from geoagro.planar.segments import segments_of
from geoagro.planar.strips import Stretches, midlines, strips

BENT = shapely.LineString([(0, 0), (10, 0), (20, 5), (30, 5)])


def one(begin, end):
    return Stretches(np.array([0]), np.array([begin]), np.array([end]))


@pytest.mark.parametrize("offset", [1.5, -1.5])
def test_parallel_keeps_its_distance_from_the_line(offset):
    lines = Polylines.read([BENT])
    edge = midlines(lines, one(0.0, BENT.length), np.array([offset]))[0]
    points = shapely.line_interpolate_point(edge, np.linspace(0.0, 1.0, 200), normalized=True)
    # the mitre of a bend of 26.6 degrees stands off by 1 / cos(13.3 degrees) on the outer side
    assert shapely.distance(BENT, points).min() == pytest.approx(1.5, abs=1e-9)
    assert shapely.distance(BENT, points).max() <= 1.5 / np.cos(np.arctan(0.5) / 2) + 1e-9


def test_strips_cut_anywhere_meet_exactly():
    lines = Polylines.read([BENT])
    near, far = np.array([1.0]), np.array([2.0])
    whole = strips(lines, one(2.0, 28.0), near, far)[0]
    halves = [strips(lines, one(a, b), near, far)[0] for a, b in ((2.0, 10.3), (10.3, 28.0))]
    assert sum(h.area for h in halves) == pytest.approx(whole.area, abs=1e-12)
    assert halves[0].intersection(halves[1]).area < 1e-12
    assert shapely.is_ccw(whole.exterior)


def test_strip_area_is_width_times_length_along_its_middle():
    lines = Polylines.read([BENT])
    strip = strips(lines, one(0.0, BENT.length), np.array([-3.0]), np.array([-2.0]))[0]
    assert strip.area == pytest.approx(midlines(lines, one(0.0, BENT.length), np.array([-2.5]))[0].length)


def test_breaks_are_the_same_from_both_ends():
    forth, back = Polylines.read([BENT]).breaks(1.0)[1], Polylines.read([BENT.reverse()]).breaks(1.0)[1]
    assert forth == pytest.approx(BENT.length - back[::-1])
    assert np.diff(forth).max() <= 1.0 + 1e-9


def test_lines_are_kept_apart():
    lines = Polylines.read([BENT, shapely.LineString([(0, 10), (30, 10)])])
    line, s = lines.breaks(5.0)
    assert lines.beside(line, s, 0.0)[line == 1][:, 1] == pytest.approx(10.0)


def test_closed_line_has_mitres_at_its_seam():
    square = shapely.LineString([(0, 0), (4, 0), (4, 4), (0, 4), (0, 0)])
    lines = Polylines.read([square])
    assert lines.beside(np.array([0, 0]), np.array([0.0, 16.0]), 1.0) == pytest.approx(np.ones((2, 2)))


def test_ray_meets_the_nearest_line_first():
    fence = segments_of([shapely.LineString([(-50, y), (50, y)]) for y in (9.0, 4.0, -3.0)])
    hits = fence.first_hit(np.array([[0.0, 0.0], [0.0, 20.0]]), np.array([[0.0, 1.0]] * 2), 0.1, 15.0)
    assert hits.line.tolist() == [1, -1]
    assert hits.distance.tolist() == [4.0, np.inf]
