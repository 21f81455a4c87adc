"""Where only some rows changed, looking again at what changed tells the same as looking at all of them."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from landforms import EAST, NORTH, broken, surface
from shapely import LineString

from geoagro.planar.polylines import stretch
from geoagro.rows import quality
from geoagro.rows.quality import view_again, view_rows

D, STEP_M = 4.5, 1.0
GROUND = surface(broken, size_m=200.0)


def drawn(random, y):
    """A row that winds a little, from somewhere in the west to somewhere in the east."""
    x = np.sort(random.uniform(-80, 80, 6))
    return LineString(np.column_stack([EAST + x, NORTH + y + random.uniform(-1, 1, 6)]))


def ran_on(random, row):
    """The row with a way on from its last end, and that way."""
    x, y = row.coords[-1]
    way = [(x, y), (x + 4, y + random.uniform(-3, 3)), (x + 8, y + random.uniform(-6, 6))]
    return LineString([*row.coords, *way[1:]]), LineString(way)


def changed(random, rows):
    """Rows of which some are gone, shorter or longer, and what is drawn where no row was."""
    after, fresh = [], []
    for row in rows:
        match random.integers(0, 6):
            case 0:
                continue
            case 1:
                after.append(stretch(row, random.uniform(0, 5), row.length - random.uniform(0, 5)))
            case 2:
                longer, way = ran_on(random, row)
                after.append(longer)
                fresh.append(way)
            case _:
                after.append(row)
    return after, fresh


def assert_same(again, anew):
    for one, other in ((again.up, anew.up), (again.down, anew.down)):
        assert one.line.tolist() == other.line.tolist()
        np.testing.assert_allclose(one.distance, other.distance, atol=1e-6)
        np.testing.assert_allclose(one.station, other.station, atol=1e-6)
    np.testing.assert_array_equal(again.grade, anew.grade)
    np.testing.assert_array_equal(again.samples.xy, anew.samples.xy)
    assert np.isinf(again.nearest).all() and len(again.nearest) == len(again.samples)


def both(before, after, fresh, step_m=STEP_M):
    seen = view_rows(before, GROUND, D, near_m=0.0, step_m=STEP_M)
    again = view_again(after, seen, fresh, GROUND, spacing_m=D, step_m=step_m)
    return again, view_rows(after, GROUND, D, near_m=0.0, step_m=step_m)


@given(st.integers(0, 2**32 - 1))
@settings(max_examples=60, deadline=None)
def test_rows_some_of_which_changed_are_seen_as_if_all_were_looked_at_anew(seed):
    random = np.random.default_rng(seed)
    before = [drawn(random, y) for y in np.arange(-60, 60, 5)]
    after, fresh = changed(random, before)
    assert_same(*both(before, random.permutation(np.array(after, dtype=object)).tolist(), fresh))


@pytest.mark.parametrize("step_m", [STEP_M, 0.4])
def test_rows_looked_at_more_finely_are_looked_at_anew(step_m):
    random = np.random.default_rng(1)
    rows = [drawn(random, y) for y in np.arange(-30, 30, 5)]
    assert_same(*both(rows, rows, [], step_m))


@pytest.mark.parametrize("gone", ["before", "after"])
def test_there_may_be_no_rows_before_or_after(gone):
    random = np.random.default_rng(2)
    rows = [drawn(random, y) for y in np.arange(-30, 30, 5)]
    assert_same(*(both([], rows, rows) if gone == "before" else both(rows, [], [])))


def test_only_what_changed_is_looked_at(monkeypatch):
    looked = []
    random = np.random.default_rng(3)
    rows = [drawn(random, y) for y in np.arange(-60, 60, 5)]
    cast = quality.cast
    monkeypatch.setattr(quality, "cast", lambda samples, *a, **k: looked.append(len(samples)) or cast(samples, *a, **k))
    again, _ = both(rows, [*rows[:-1], stretch(rows[-1], 0, rows[-1].length - 3)], [])
    assert 0 < sum(looked) < len(again.samples) / 2
