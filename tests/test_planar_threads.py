"""Work by several threads gives what one thread gives, in the same order."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from geoagro.planar import threads
from geoagro.planar.cutting import cut_at_lines
from geoagro.planar.segments import Segments


@pytest.mark.parametrize("count", [0, 1, 99, 100, 101, 1234])
def test_runs_cover_all_things_once_in_their_order(count):
    runs = threads.run_in_runs(lambda run: list(range(count))[run], count)
    assert [k for run in runs for k in run] == list(range(count))
    assert list(threads.run_each(lambda k: k * k, count)) == [k * k for k in range(count)]


def test_a_failure_in_a_thread_reaches_the_caller():
    def work(k):
        if k == 77:
            raise ValueError("seventy-seven")
        return k

    with pytest.raises(ValueError, match="seventy-seven"):
        threads.run_each(work, 500)


@pytest.fixture
def alone(monkeypatch):
    """Have all work done in one run."""
    return lambda: monkeypatch.setattr(threads, "MANY_SHAPES", 10**9)


def test_many_strips_are_cut_at_lines_and_held_against_segments_as_by_one_thread(alone):
    rng = np.random.default_rng(5)
    start = rng.random((400, 2)) * 100
    strips = shapely.buffer(shapely.linestrings(np.stack([start, start + np.array([30.0, 3.0])], axis=1)), 1.5)
    x = y = np.arange(-10.0, 150.0, 20.0)
    segments = Segments(start, start + 2.0, np.arange(400), np.zeros(400), np.full(400, 8**0.5))
    many = (*cut_at_lines(strips, x, y), *segments.pairs(strips, 4.0))
    alone()
    few = (*cut_at_lines(strips, x, y), *segments.pairs(strips, 4.0))
    assert shapely.to_wkb(many[0]).tolist() == shapely.to_wkb(few[0]).tolist()
    for one, other in zip(many[1:], few[1:], strict=True):
        assert np.array_equal(one, other)
    assert len(many[3]) > 400
