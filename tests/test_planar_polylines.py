import numpy as np
import pytest
import shapely
from shapely import LineString

from geoagro.errors import LayoutError
from geoagro.planar.offsets import parallels
from geoagro.planar.polylines import Polylines, merge_short_steps

BENT = [LineString([(0, 0), (10, 0), (10, 10)]), LineString([(0, 5), (4, 5)])]


def test_parallels_keep_their_distance_round_corners_left_positive():
    lines = parallels(Polylines.read(BENT), np.array([1.0, -2.0])).geometries()
    assert shapely.get_coordinates(lines[0]).tolist() == [[0, 1], [9, 1], [9, 10]]
    assert shapely.get_coordinates(lines[1]).tolist() == [[0, 3], [4, 3]]


def test_places_are_counted_along_the_whole_line_not_from_its_corners():
    lines = Polylines.read(BENT)
    xy, way = lines.locate(np.array([0, 0, 0, 1]), np.array([0.0, 12.0, 20.0, 4.0]))
    assert xy.tolist() == [[0, 0], [10, 2], [10, 10], [4, 5]]
    assert way.tolist() == [[1, 0], [0, 1], [0, 1], [1, 0]]


def test_lengths_and_a_choice_of_lines():
    lines = Polylines.read(BENT).take(np.array([1, 0, 1]))
    assert lines.lengths.tolist() == [4, 20, 4]


def test_a_bend_tighter_than_the_distance_gives_a_line_that_runs_on():
    t = np.linspace(0, np.pi, 60)
    hook = LineString([(-5, -0.3), *np.column_stack([0.3 * np.sin(t), -0.3 * np.cos(t)]), (-5, 0.3)])
    inner = parallels(Polylines.read([hook]), np.array([0.1]))
    outer = parallels(Polylines.read([hook]), np.array([-0.5])).geometries()[0]
    assert outer.is_simple
    assert inner.lengths[0] < hook.length < outer.length
    folded = parallels(Polylines.read([LineString([(0, 0), (5, 0), (5.0, 0.2), (0, 0.2)])]), np.array([-0.5]))
    assert folded.lengths[0] > 10


def test_repeated_corners_are_left_out():
    line = LineString([(0, 0), (0, 0), (3, 0), (3, 0)])
    xy, _ = Polylines.read([line]).locate(np.array([0]), np.array([1.5]))
    assert xy.tolist() == [[1.5, 0]]


def test_a_line_too_tight_for_any_parallel_is_refused():
    ring = shapely.Point(0, 0).buffer(0.3).exterior
    with pytest.raises(LayoutError, match="bends too tightly"):
        parallels(Polylines.read([LineString(ring.coords).reverse()]), np.array([1.0]))


def test_the_ends_of_a_short_step_meet_in_its_middle_or_in_the_line_s_own_end():
    inner, start, end = merge_short_steps(
        [
            LineString([(0, 0), (10, 0), (10, 0.4), (10, 8)]),
            LineString([(0, 0), (0, 0.2), (6, 0.2)]),
            LineString([(0, 0), (6, 0), (6, 0.2)]),
        ],
        0.5,
    )
    assert np.allclose(inner.coords, [(0, 0), (10, 0.2), (10, 8)])
    assert np.allclose(start.coords, [(0, 0), (6, 0.2)])
    assert np.allclose(end.coords, [(0, 0), (6, 0.2)])
