"""Rows parallel to drawn guide lines."""

import numpy as np
import pytest
import shapely
from builders import plane, square_site
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, MultiPolygon, Point, box

from geoagro.errors import LayoutError
from geoagro.rows.parallel import parallel_rows

FIELD = MultiPolygon([box(0, 0, 120, 80)])
D = 4.5
RULES = {"spacing_m": D, "min_length_m": 15.0, "min_turn_radius_m": 6.0}


def total(lines):
    return sum(line.length for line in lines)


def radii(line, window_m=5.0):
    """Radius of the circle through three points, the outer two `window_m` apart along the row."""
    s = np.arange(window_m / 2, line.length - window_m / 2, 0.5)
    a, b, c = (shapely.get_coordinates(line.interpolate(s + k)) for k in (-window_m / 2, 0, window_m / 2))
    u, v = b - a, c - b
    cross = np.abs(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0])
    return np.hypot(*u.T) * np.hypot(*v.T) * np.hypot(*(c - a).T) / np.maximum(2 * cross, 1e-12)


def wave(height, length=60.0, y=40.0):
    x = np.arange(-20, 141, 2.0)
    return LineString(np.column_stack([x, y + height * np.sin(2 * np.pi * x / length)]))


def test_a_straight_guide_gives_straight_rows_at_whole_spacings_from_it_over_the_whole_field():
    rows = parallel_rows(FIELD, [LineString([(50, 30), (60, 30)])], **RULES).kept
    heights = sorted(row.bounds[1] for row in rows)
    np.testing.assert_allclose(heights, 30 + D * np.arange(-6, 12), atol=1e-6)
    np.testing.assert_allclose([row.length for row in rows], 120.0, atol=1e-6)


def test_a_ring_gives_concentric_circles_inside_and_outside():
    field = MultiPolygon([Point(0, 0).buffer(60)])
    guide = LineString(Point(0, 0).buffer(30, quad_segs=90).exterior.coords)
    rows = parallel_rows(field, [guide], **RULES).kept
    found = sorted({round(float(np.hypot(*np.array(row.coords[0]))), 1) for row in rows})
    np.testing.assert_allclose(found, [7.5, 12, 16.5, 21, 25.5, 30, 34.5, 39, 43.5, 48, 52.5, 57], atol=0.05)
    assert all(row.is_closed for row in rows)


@settings(max_examples=8, deadline=None)
@given(height=st.floats(0.5, 8.0), offset=st.floats(0.0, D))
def test_every_row_keeps_its_exact_distance_from_the_guide(height, offset):
    guide = wave(height)
    rows = parallel_rows(FIELD, [guide], **RULES, offset_m=offset).kept
    assert total(rows) * D / FIELD.area > 0.8
    for row in rows:
        points = row.interpolate(np.arange(0, row.length, 1.0))
        away = shapely.distance(points, guide)
        sign = np.sign(shapely.get_y(points) - np.interp(shapely.get_x(points), *guide.xy))
        steps = (sign * away - offset) / D
        mirrored = (-sign * away - offset) / D
        off = min(np.abs(steps - np.round(steps)).max(), np.abs(mirrored - np.round(mirrored)).max())
        assert off * D < 0.10 * 6.6 + 0.25  # judged at other points than the engine judges


@settings(max_examples=8, deadline=None)
@given(height=st.floats(1.0, 15.0), length=st.floats(30.0, 80.0))
def test_no_row_turns_tighter_than_asked_and_no_two_rows_crowd(height, length):
    lines = parallel_rows(FIELD, [wave(height, length)], **RULES)
    assert min(radii(row).min(initial=np.inf) for row in lines.kept) >= 0.97 * 6.0
    for k, row in enumerate(lines.kept):
        nearest = shapely.distance(row, np.array(lines.kept[:k] + lines.kept[k + 1 :], dtype=object)).min()
        assert nearest > 0.9 * D


def test_a_sharp_corner_is_cut_with_its_reason_and_a_mild_one_is_rounded():
    sharp = parallel_rows(FIELD, [LineString([(-30, 10), (60, 70), (150, 10)])], **RULES)
    assert "turn_radius" in {reason for reason, _ in sharp.cut}
    near_axis = [row for row in sharp.kept if row.intersects(box(59.5, 0, 60.5, 50))]
    assert not near_axis
    mild = parallel_rows(FIELD, [LineString([(-30, 35), (60, 45), (150, 35)])], **RULES)
    assert "turn_radius" not in {reason for reason, _ in mild.cut}
    assert total(mild.kept) * D / FIELD.area == pytest.approx(1.0, abs=0.05)


def test_the_guides_direction_does_not_matter():
    guide = wave(6.0)
    there = parallel_rows(FIELD, [guide], **RULES).kept
    back = parallel_rows(FIELD, [guide.reverse()], **RULES).kept
    assert len(there) == len(back)
    assert shapely.union_all(there).hausdorff_distance(shapely.union_all(back)) < 0.05


def test_an_offset_counts_to_the_left_of_the_guide():
    guide = LineString([(0, 30), (120, 30)])
    for line, first in ((guide, 31.0), (guide.reverse(), 29.0)):
        heights = [row.bounds[1] for row in parallel_rows(FIELD, [line], **RULES, offset_m=1.0).kept]
        assert min(abs(h - first) for h in heights) < 1e-6
        np.testing.assert_allclose(np.diff(sorted(heights)), D, atol=1e-6)


def test_ground_belongs_to_the_nearest_of_two_guides_and_their_rows_keep_apart():
    west, east = LineString([(10, -20), (10, 100)]), LineString([(80, -20), (110, 100)])
    lines = parallel_rows(FIELD, [west, east], **RULES)
    for k, row in enumerate(lines.kept):
        assert shapely.distance(row, np.array(lines.kept[:k] + lines.kept[k + 1 :], dtype=object)).min() > 0.89 * D
        middle = row.interpolate(0.5, normalized=True)
        own = west if abs(np.ptp([c[0] for c in row.coords])) < 1e-6 else east
        other = east if own is west else west
        assert own.distance(middle) <= other.distance(middle) + 1.0
    assert {reason for reason, _ in lines.cut} >= {"spacing_limit"}
    assert total(lines.kept) * D / FIELD.area > 0.85


def test_the_grade_limit_cuts_pieces():
    ground = square_site().boundary
    x0, y0 = ground.bounds[:2]
    guide = LineString([(x0 + 10, y0 + 10), (x0 + 90, y0 + 90)])
    rules = {**RULES, "surface": plane(slope=0.10).heights}
    assert parallel_rows(ground, [guide], **rules, max_grade_pct=7.2).kept  # 10 % * sin 45 = 7.07 %
    assert not parallel_rows(ground, [guide], **rules, max_grade_pct=7.0).kept


def test_a_guide_that_crosses_itself_when_prolonged_is_refused():
    hook = LineString([(20, 20), (100, 20), (100, 60), (60, 60), (60, 30)])
    with pytest.raises(LayoutError, match="crosses itself when its ends are prolonged"):
        parallel_rows(FIELD, [hook], **RULES)


def test_a_bow_whose_ends_lean_together_is_prolonged_away_from_the_field():
    bow = LineString([(40, 81), (20, 60), (15, 40), (30, 20), (60, 12), (90, 20), (105, 40), (100, 60), (80, 81)])
    lines = parallel_rows(FIELD, [bow], **RULES)
    assert total(lines.kept) * D / FIELD.area > 0.75
    deep = [row for row in lines.kept if row.distance(Point(60, 60)) < 15]
    assert deep  # rows inside the bow too


def test_no_guide_is_refused():
    with pytest.raises(LayoutError, match="need a guide line"):
        parallel_rows(FIELD, [], **RULES)


def test_rows_hold_no_more_points_than_a_chord_error_of_2_cm_needs():
    rows = parallel_rows(FIELD, [wave(6.0)], **RULES).kept
    assert total(rows) / sum(len(row.coords) for row in rows) > 1.5
