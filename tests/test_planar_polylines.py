from itertools import pairwise

import geopandas as gpd
import numpy as np
import pytest
import shapely
from builders import UTM
from pyproj import CRS
from shapely import LineString

from geoagro.errors import CrsError, LayoutError
from geoagro.planar.offsets import parallels
from geoagro.planar.polylines import Polylines, merge_short_steps, window_on

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


@pytest.mark.parametrize(("turn_deg", "usable"), [(133.0, True), (140.0, False)])
def test_a_turn_sharper_than_134_degrees_has_no_usable_mitre(turn_deg, usable):
    turn = np.radians(turn_deg)
    lines = Polylines.read([LineString([(-5, 0), (0, 0), (5 * np.cos(turn), 5 * np.sin(turn))])])
    mitre = lines.mitres[1]
    # one that reaches the parallels of both pieces lies a unit off each
    assert (mitre @ [0, 1] == pytest.approx(1.0)) == usable
    assert (mitre @ [-np.sin(turn), np.cos(turn)] == pytest.approx(1.0)) == usable
    assert np.hypot(*mitre) < 2.6


def test_lines_of_another_crs_are_refused_and_their_own_is_kept():
    series = gpd.GeoSeries(BENT, crs=UTM)
    assert Polylines.read(series).crs == UTM
    assert Polylines.read(series, crs=UTM).take(np.array([1])).crs == UTM
    with pytest.raises(CrsError, match="can't be taken for"):
        Polylines.read(series, crs=CRS.from_epsg(32634))
    assert Polylines.read(BENT, crs=UTM).crs == UTM


def test_stations_keys_and_rings_are_told_line_by_line():
    lines = Polylines.read([*BENT, LineString([(0, 0), (3, 0), (3, 3), (0, 0)])])
    assert lines.station.tolist() == pytest.approx([0, 10, 20, 0, 4, 0, 3, 6, 6 + 18**0.5])
    assert lines.closed.tolist() == [False, False, True]
    assert lines.key(np.array([0, 1, 2]), np.array([20.0, 1.0, 2.0])).tolist() == [20, 21, 26]
    assert lines.line.tolist() == [0] * 3 + [1] * 2 + [2] * 4


def test_points_stop_at_the_ends_of_their_line():
    lines = Polylines.read(BENT)
    xy = lines.at(np.array([0, 0, 1, 1, 0]), np.array([-3.0, 99.0, -1.0, 5.0, 10.5]))
    assert xy.tolist() == [[0, 0], [10, 10], [0, 5], [4, 5], [10, 0.5]]
    assert lines.at(np.zeros(0, dtype=int), np.zeros(0)).shape == (0, 2)


def test_breaks_divide_evenly_and_give_way_to_corners_that_are_near():
    lines = Polylines.read([LineString([(0, 0), (4.02, 0), (10, 0.0001)]), LineString([(0, 5), (0.4, 5)])])
    line, s = lines.breaks(2.0)
    # ten metres in steps of two: the one at 4 m lies 2 cm from the corner, less than a twentieth of a step
    assert s[line == 0] == pytest.approx([0, 2, 4.02, 6, 8, 10], abs=1e-6)
    assert s[line == 1].tolist() == pytest.approx([0, 0.4])
    far = Polylines.read([LineString([(0, 0), (4.12, 0), (10, 0.0001)])]).breaks(2.0)[1]
    assert far == pytest.approx([0, 2, 4, 4.12, 6, 8, 10], abs=1e-6)


def test_middles_are_those_of_equal_parts_no_longer_than_a_step():
    line, s, size = Polylines.read([LineString([(0, 0), (6, 0)]), LineString([(0, 1), (0.5, 1)])]).middles(2.0)
    assert (line.tolist(), s.tolist(), size.tolist()) == ([0, 0, 0, 1], [1, 3, 5, 0.25], [2, 2, 2, 0.5])


def test_windows_are_cut_at_ends_and_run_on_round_a_ring():
    length, closed = np.full(5, 20.0), np.array([False, False, False, True, True])
    first, last, way = window_on(length, closed, np.array([3.0, 10.0, 18.0, 3.0, 18.0]), 5.0)
    assert first.tolist() == [0, 5, 13, 18, 13]
    assert last.tolist() == [8, 15, 20, 8, 3]
    assert way.tolist() == [8, 10, 7, 10, 10]
    assert window_on(length[3:4], closed[3:4], np.array([3.0]), 50.0)[2].tolist() == [20]


def test_a_ring_that_shrank_to_a_point_has_places_all_the_same():
    with np.errstate(all="raise"):
        found = window_on(np.array([0.0, 20.0]), np.array([True, False]), np.array([0.0, 3.0]), 5.0)
    assert [part.tolist() for part in found] == [[0, 0], [0, 8], [0, 8]]


def test_bends_are_measured_inward_of_the_ends_and_round_a_ring():
    ring = shapely.Point(0, 0).buffer(10, quad_segs=200).exterior
    lines = Polylines.read(
        [LineString([(0, 0), (10, 0), (10, 10)]), LineString(ring.coords), LineString([(0, 9), (3, 9)])]
    )
    where = np.array([0, 0, 0, 1, 1, 2])
    a, middle, b = lines.bend_stations(where, np.array([0.0, 10.0, 19.5, 0.0, 30.0, 0.2]), 6.0)
    around = lines.lengths[1]
    assert a.tolist() == pytest.approx([0, 7, 14, around - 3, 27, 0])
    assert middle.tolist() == pytest.approx([3, 10, 17, 0, 30, 1.5])
    assert b.tolist() == pytest.approx([6, 13, 20, 3, 33, 3])
    # three points of a right angle, 3 m before and after the corner, lie on a circle of 3 / sqrt(2) m
    radius = lines.radius(where, np.array([0.0, 10.0, 19.5, 0.0, 30.0, 0.2]), 6.0)
    assert radius[[1, 3, 4]] == pytest.approx([3 / 2**0.5, 10, 10], rel=1e-3)
    assert (radius[[0, 2, 5]] > 1e6).all()


def test_of_short_steps_in_a_row_the_shortest_goes_first_and_from_both_ends_the_same():
    line = LineString([(0, 0), (5, 0), (5.3, 0), (5.5, 0), (5.9, 0), (12, 0.5)])
    (forth,) = merge_short_steps([line], 0.45)
    (back,) = merge_short_steps([line.reverse()], 0.45)
    assert np.allclose(forth.coords, [(0, 0), (5, 0), (5.65, 0), (12, 0.5)]) or forth.equals(back)
    assert forth.equals(back)
    assert all(p != q for p, q in pairwise(forth.coords))
    steps = np.hypot(*np.diff(forth.coords, axis=0).T)
    assert steps.min() >= 0.45
    tiny = merge_short_steps([LineString([(0, 0), (0.1, 0)])], 0.45)[0]  # a line of two ends stays a line
    assert list(tiny.coords) == [(0, 0), (0.1, 0)]
