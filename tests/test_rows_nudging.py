"""Nudging finished rows: what is worth going round, and what is given up."""

import numpy as np
import pytest
from landforms import EAST, NORTH, square, surface
from shapely import LineString

from geoagro.planar.polylines import Polylines
from geoagro.rows.candidates import ROUNDS, node_steps
from geoagro.rows.chains import chains_of
from geoagro.rows.quality import CHORD_M, chord_rise
from geoagro.rows.relaxation import FRESH_ROUNDS, Wishes, _pull_spacing, relax_rows
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


def arc(radius_m, step_m, degrees=200):
    """A row of even chords on a circle, which is the curve that they stand for."""
    count = int(np.radians(degrees) * radius_m / step_m)
    t = np.linspace(0, np.radians(degrees), count)
    return LineString(np.column_stack([EAST + radius_m * np.cos(t), NORTH + radius_m * np.sin(t)]))


@pytest.mark.parametrize("radius_m", [15.0, 40.0])
@pytest.mark.parametrize("degrees", [200, 360])
def test_nodes_that_come_closer_lie_on_the_arc_that_chords_stand_for(radius_m, degrees):
    chains = chains_of([arc(radius_m, 0.5, degrees)], 5.0)
    flat, curved = (chains.shifted(np.zeros(len(chains.xy)), step_m=1.0, curved=curved) for curved in (False, True))
    off = [np.abs(np.hypot(*(c.xy - (EAST, NORTH)).T) - radius_m).max() for c in (flat, curved)]
    assert off[0] == pytest.approx(chains.step[0] ** 2 / (8 * radius_m), rel=0.05)  # the sagitta of a chord
    assert off[1] < off[0]  # a row that ends is straight at its end
    station = curved.station
    middle = (station > 5.5) & (station < station[-1] - 5.5) if degrees < 360 else station >= 0
    assert np.abs(np.hypot(*(curved.xy[middle] - (EAST, NORTH)).T) - radius_m).max() < 0.1 * off[0]


def test_a_straight_row_stays_straight_however_close_its_nodes_come():
    chains = chains_of([LineString([(0, 0), (100, 30)])], 5.0)
    closer = chains.shifted(np.zeros(len(chains.xy)), step_m=5 / 3, curved=True)
    assert np.abs(closer.xy @ np.array([-0.3, 1.0])).max() < 1e-12


def test_rows_that_stay_are_seen_as_they_are_drawn_however_far_apart_nodes_were_before():
    """Else a free row would keep its distance from the chords of one that stays."""
    kept, free = arc(12.0, 0.5), arc(16.5, 0.5)
    chains = chains_of([kept, free], 5.0)
    closer = chains.shifted(np.zeros(len(chains.xy)), kept=Polylines.read([kept]), step_m=1.0, curved=True)
    again = chains_of([kept], 1.0)
    np.testing.assert_allclose(closer.xy[closer.row == 0], again.xy)
    np.testing.assert_array_equal(closer.is_ring, chains.is_ring)


def test_rounds_end_with_most_nodes_and_have_fewer_in_turn_before():
    steps = node_steps(ROUNDS)
    assert len(steps) == ROUNDS
    half = CHORD_M / 2
    assert [steps[k] for k in range(0, ROUNDS, FRESH_ROUNDS)] == pytest.approx([half, half / 2, half / 3] * 2)
    assert all(len(set(steps[k : k + FRESH_ROUNDS])) == 1 for k in range(0, ROUNDS, FRESH_ROUNDS))
    assert node_steps(4) == [half / 3] * 4
    assert node_steps(ROUNDS, turns=False) == [half / 3] * ROUNDS


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
