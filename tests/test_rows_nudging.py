"""Nudging finished rows: what is worth going round, and what is given up."""

import numpy as np
from landforms import EAST, NORTH, square, surface
from shapely import LineString

from geoagro.rows.quality import chord_rise
from geoagro.rows.relaxation import Wishes, relax_rows
from geoagro.rows.sampling import sample_rows
from geoagro.rows.slopes import Slopes

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
