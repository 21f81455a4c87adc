"""Nudging finished rows: what is worth going round, and what is given up."""

import numpy as np
import pytest
from landforms import EAST, NORTH, square, surface
from shapely import LineString

from geoagro.rows.chains import chains_of
from geoagro.rows.quality import chord_rise
from geoagro.rows.relaxation import Wishes, _pull_spacing, relax_rows
from geoagro.rows.sampling import sample_rows
from geoagro.rows.sight import look
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


class Pulls:
    """Stands for the equations of nudging, and keeps how much each counts."""

    def __init__(self, chains):
        self.unknown, self.weight = chains.unknown, []

    def add_block(self, block):
        self.weight.append(block[3].max())


def pull_on_a_gap(stretch_m, **wishes):
    """The firmest pull between two level rows that stand 0.9 m too far apart for a stretch."""
    x = np.arange(-60.0, 61.0)
    off = np.where(np.abs(x) < stretch_m / 2, 0.9, 0.0)
    rows = [LineString(np.column_stack([EAST + x, NORTH + y + off * (y > 0)])) for y in (0.0, 4.5)]
    chains = chains_of(rows, 1.0)
    pulls = Pulls(chains)
    seen = look(chains, reach_m=6.75, own_gap_m=13.5)
    asked = Wishes(4.5, 0.1, LIMIT, 0.03, 0.0, **wishes)
    _pull_spacing(pulls, chains, seen, np.ones(len(chains.row)), asked)
    return max(pulls.weight)


def test_a_short_stretch_of_wrong_spacing_is_held_on_to_longer_than_a_long_one():
    assert pull_on_a_gap(6.0) > 2 * pull_on_a_gap(40.0)


def test_beds_fit_a_wide_gap_so_a_short_one_is_given_up_as_soon_as_a_long_one():
    beds = RowWindow(need_m=3.9, aim_m=4.5)
    assert pull_on_a_gap(6.0, window=beds) == pytest.approx(pull_on_a_gap(40.0), rel=0.05)


def test_firm_nudging_holds_on_to_every_gap_longer():
    assert pull_on_a_gap(40.0, firm=3.0) > 2 * pull_on_a_gap(40.0)
