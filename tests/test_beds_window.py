"""What beds ask of the distance between rows, and what the row engine makes of it."""

import numpy as np
import pytest
from shapely import LineString, box

from geoagro.beds.widths import row_window, working_widths
from geoagro.rows.relaxation import Wishes, relax_rows
from geoagro.rows.slopes import Slopes
from geoagro.values.design import BedRule
from geoagro.values.grid import Grid
from geoagro.values.rows import RowWindow

RULE = BedRule(tree_bed_width_m=1.0, bed_width_m=1.1, path_width_m=0.35)


def test_need_is_tree_bed_path_and_each_bed_with_its_path():
    assert row_window(RULE, 4.5, 0.1).need_m == pytest.approx(1.0 + 0.35 + 2 * (1.1 + 0.35))


@pytest.mark.parametrize("spacing_m", [1.5, 3.0, 4.25, 4.5, 6.1, 9.0])
@pytest.mark.parametrize("tolerance", [0.02, 0.1, 0.3])
def test_rows_aim_between_what_beds_need_and_the_spacing(spacing_m, tolerance):
    window = row_window(RULE, spacing_m, tolerance)
    assert window.need_m <= spacing_m + 1e-9
    assert max(window.need_m, (1 - tolerance) * spacing_m) - 1e-9 <= window.aim_m <= spacing_m + 1e-9


@pytest.mark.parametrize("spacing_m", [3.0, 4.5, 6.1, 9.0])
def test_the_need_carries_the_beds_of_the_spacing_and_no_less_would(spacing_m):
    widths, window = working_widths(RULE, spacing_m), row_window(RULE, spacing_m, 0.1)
    beds = widths.whole_beds(spacing_m)
    assert widths.whole_beds(window.need_m) == beds
    assert beds == 0 or widths.whole_beds(window.need_m - 0.001) == beds - 1


def nudged_gap(window):
    """Gap between two level rows 4.10 m apart, inside 4.5 m +-10 %, after nudging."""
    flat = Grid(np.zeros((60, 160)), west=-30.0, north=40.0, cell_m=1.0, crs=None)
    rows = [LineString([(0, y), (100, y)]) for y in (0.0, 4.10)]
    wishes = Wishes(4.5, 0.1, 0.04, 0.02, 3.0, window=window)
    moved = relax_rows(rows, Slopes.of(flat), box(-10, -5, 110, 25), wishes, steps_m=(5 / 3,) * 4)
    return moved[0].distance(moved[1])


def test_rows_are_pulled_above_the_need_of_their_beds_whatever_they_aim_at():
    assert nudged_gap(RowWindow(need_m=3.0, aim_m=4.1)) < 4.25
    assert nudged_gap(RowWindow(need_m=4.25, aim_m=4.1)) >= 4.25
