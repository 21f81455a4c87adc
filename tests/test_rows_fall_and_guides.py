"""Rows with a wanted fall, and rows that must run on drawn lines."""

import numpy as np
import pytest
import shapely
from builders import EAST, NORTH, plane, square_ground
from shapely import LineString, Point

from geoagro.errors import LayoutError
from geoagro.rows.contour import contour_rows
from geoagro.rows.sampling import sample_rows
from geoagro.values.design import RowRule

SLOPE = 0.10


def lay(rule, **given):
    terrain = plane(slope=SLOPE)
    return contour_rows(square_ground().plantable, terrain.smooth, terrain.judged, rule, **given)


def grades_eastward(lines):
    """Signed grade of each sample on the plane (it rises to the north), walking east."""
    samples = sample_rows(lines, 5.0)
    return samples, SLOPE * samples.ty * np.sign(samples.tx)


@pytest.mark.parametrize("target_pct", [0.5, 1.0, 2.0])
def test_rows_fall_at_the_wanted_grade_so_they_make_the_angle_asin_of_grade_over_slope_with_the_contour(target_pct):
    rule = RowRule(target_grade_pct=target_pct, fall_toward="outlet", outlet={"file": "outlet.gpkg"})
    rows = lay(rule, outlet=Point(EAST + 5_000, NORTH + 50)).kept
    _, grade = grades_eastward(rows)
    assert np.median(grade) == pytest.approx(-target_pct / 100, rel=0.1)
    assert np.percentile(grade, 98) < 0, "rows that fall toward the outlet never rise toward it"
    angle = np.degrees(np.arcsin(-np.median(grade) / SLOPE))
    assert angle == pytest.approx(np.degrees(np.arcsin(target_pct / 100 / SLOPE)), abs=0.6)


def test_an_outlet_on_the_other_side_turns_the_fall_round():
    rule = RowRule(target_grade_pct=1, fall_toward="outlet", outlet={"file": "outlet.gpkg"})
    _, grade = grades_eastward(lay(rule, outlet=Point(EAST - 5_000, NORTH + 50)).kept)
    assert np.median(grade) == pytest.approx(0.01, rel=0.1)


def test_a_wanted_fall_without_an_outlet_is_refused():
    rule = RowRule(target_grade_pct=1, fall_toward="outlet", outlet={"file": "outlet.gpkg"})
    with pytest.raises(LayoutError, match=r"rows\.outlet"):
        lay(rule)


def test_a_row_runs_on_a_guide_line_and_its_neighbours_keep_their_distance():
    # level at its ends, 1 m up and down between them: well within the grade limit
    x = np.linspace(EAST - 5, EAST + 105, 56)
    guide = LineString(np.column_stack([x, NORTH + 51.3 + np.sin((x - EAST) / 100 * 2 * np.pi)]))
    rows = lay(RowRule(max_grade_pct=4), guides=[guide]).kept
    inside = shapely.intersection(guide, square_ground().plantable)
    off = min(row.hausdorff_distance(inside) for row in rows)
    assert off < 0.15
    on_guide = min(rows, key=lambda row: row.hausdorff_distance(inside))
    others = [row for row in rows if row is not on_guide]
    near = min(row.distance(on_guide) for row in others)
    assert 4.05 - 1e-6 <= near <= 4.95


def test_without_guides_rows_choose_their_own_place():
    assert lay(RowRule()).kept
