"""Waves shorter than the chord of the grade limit are nudged out of rows, and nothing else changes."""

import numpy as np
import pytest
from landforms import EAST, NORTH, all_of, square, surface
from shapely import LineString

from geoagro.rows.candidates import cut_to_limits
from geoagro.rows.quality import SHORT_CHORD_LIMITS, SHORT_CHORD_M, chord_grade
from geoagro.rows.stitching.fairing import faired
from geoagro.rows.task import Task
from geoagro.values.design import RowRule

D = 4.5
LIMIT_PCT = 2.0


def rippled(height_m):
    """A hillside whose contours swing to and fro every 10 m, so that 10 m along a straight row show nothing."""
    return lambda x, y: 0.1 * y + height_m * np.sin(2 * np.pi * x / 10)


def laid(height_m):
    ground = surface(rippled(height_m))
    rule = RowRule(max_grade_pct=LIMIT_PCT, preferred_grade_pct=LIMIT_PCT)
    task = Task(all_of(square()).plantable, ground, ground, rule)
    x = np.array([-60.0, 60.0])
    rows = [LineString(np.column_stack([EAST + x, NORTH + y + 0 * x])) for y in np.arange(-56.0, 60.0, D)]
    return cut_to_limits(rows, task), task


def steep_share(found, task):
    samples = found.view.samples
    steep = chord_grade(found.held.kept, samples, task.judged, chord_m=SHORT_CHORD_M)
    over = steep > SHORT_CHORD_LIMITS * task.rule.max_grade_pct / 100
    return samples.weight[over].sum() / samples.weight.sum()


@pytest.fixture(scope="module")
def waved():
    return laid(0.14)


def test_waves_that_ten_metres_hide_go_and_cost_little_legal_row(waved):
    found, task = waved
    before, done = steep_share(found, task), faired(found, task)
    assert found.share > 0.95
    assert before > 0.2
    assert steep_share(done, task) < before / 4
    assert done.share > found.share - 0.01
    assert len(done.held.kept) == len(found.held.kept)


def test_the_same_rows_are_faired_the_same_way(waved):
    once, again = (faired(*waved) for _ in range(2))
    assert [row.wkb for row in once.held.kept] == [row.wkb for row in again.held.kept]


def test_rows_without_waves_are_left_as_they_are():
    found, task = laid(0.05)
    assert steep_share(found, task) == 0
    assert faired(found, task) is found
