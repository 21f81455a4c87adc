"""Nudging finished rows: what is worth going round, and what is given up."""

import numpy as np
from landforms import EAST, NORTH, square, surface
from shapely import LineString

from geoagro.rows.quality import chord_rise
from geoagro.rows.relaxation import Wishes, relax_rows
from geoagro.rows.sampling import sample_rows
from geoagro.rows.slopes import Slopes
from geoagro.values.rows import RowWindow

LIMIT = 0.04


def steepest(row, heights):
    """Steepest rise or fall over 10 m anywhere on a row, as a ratio."""
    return float(np.abs(chord_rise([row], sample_rows([row], 0.5), heights)).max())


def test_a_row_goes_round_a_hump_that_is_steep_but_short():
    """A hump 1.2 m high and some 8 m across, on a slope of 8 %: cut there, the row would get two more ends."""
    heights = surface(lambda x, y: 100 + 0.08 * y + 1.2 * np.exp(-(x**2) / 8))
    row = LineString([(EAST - 40, NORTH), (EAST + 40, NORTH)])
    wishes = Wishes(spacing_m=4.5, tolerance=0.1, max_grade=LIMIT, preferred_grade=0.03, min_radius_m=0.0)
    (moved,) = relax_rows([row], Slopes.of(heights), square(), wishes, steps_m=[1.0] * 12)
    assert steepest(row, heights) > 2.5 * LIMIT
    assert steepest(moved, heights) < LIMIT


def gap_beside_a_step(stretch_m, **wishes):
    """Widest gap left between two level rows where one stands 0.8 m off for a stretch; both ends of the step can move."""
    x = np.arange(-60.0, 61.0)
    off = 0.8 * np.clip((stretch_m / 2 + 1 - np.abs(x)), 0, 1)
    rows = [LineString(np.column_stack([EAST + x, NORTH + y + off * (y > 0)])) for y in (0.0, 4.5)]
    flat = Slopes.of(surface(lambda x, y: 100 + 0.0 * y, size_m=160.0))
    asked = Wishes(4.5, 0.1, LIMIT, 0.03, 0.0, **wishes)
    low, high = relax_rows(rows, flat, square(160.0), asked, steps_m=[1.0] * 24)
    return low.hausdorff_distance(high)


def test_a_short_stretch_of_wrong_spacing_is_held_on_to_longer_than_a_long_one():
    assert gap_beside_a_step(5.0) < 4.95
    assert gap_beside_a_step(5.0) < gap_beside_a_step(40.0)


def test_beds_fit_a_wide_gap_so_a_short_one_is_given_up_as_soon_as_a_long_one():
    plain, beds = gap_beside_a_step(5.0), gap_beside_a_step(5.0, window=RowWindow(need_m=3.9, aim_m=4.5))
    assert plain < beds


def test_what_is_held_on_to_firmly_gives_way_less():
    assert gap_beside_a_step(40.0, firm=4.0) < gap_beside_a_step(40.0)
