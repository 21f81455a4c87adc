"""Layouts put together along seams: what a cut may take, what stays untouched, and that it only ever gains."""

from dataclasses import replace
from itertools import product

import numpy as np
import pytest
import scipy.sparse as sp
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from landforms import EAST, NORTH, all_of, broken, square, surface
from scipy.sparse.csgraph import breadth_first_order, maximum_flow
from shapely import LineString, Point

from geoagro.rows.candidates import cut_to_limits, mended, nudged
from geoagro.rows.contour import contour_rows
from geoagro.rows.fall import Fall
from geoagro.rows.loops.least_cut import least_cut
from geoagro.rows.slopes import Slopes
from geoagro.rows.stitching import stitch
from geoagro.rows.stitching.maps import CELL_M, RowMap, cells_of, row_map
from geoagro.rows.stitching.place_by_place import worth_around
from geoagro.rows.stitching.seams import Patch, cheapest_cut, patches
from geoagro.rows.stitching.smoothing import smoothed
from geoagro.rows.stitching.splice import spliced
from geoagro.rows.stitching.stitch import stitched
from geoagro.rows.stitching.variants import VARIANTS, variants_of
from geoagro.rows.task import Task
from geoagro.values.design import RowRule

D = 4.5
COUNT = 8


def asked(shape=broken):
    ground = surface(shape)
    return Task(all_of(square()).plantable, ground, ground, RowRule(max_grade_pct=4, preferred_grade_pct=2))


def levels(offset=0.0, turn=0.0):
    x = np.array([-60.0, 60.0])
    return [LineString(np.column_stack([EAST + x, NORTH + y + offset + turn * x])) for y in np.arange(-58.0, 60.0, D)]


def sets(task):
    """Two sets of rows that differ, and what mending makes of them."""
    starts = [cut_to_limits(nudged(levels(offset), task, 6), task) for offset in (1.0, 3.0)]
    return [*starts, *(mended(start, task, 6) for start in starts)]


@pytest.fixture(scope="module")
def task():
    return asked()


@pytest.fixture(scope="module")
def donors(task):
    return sets(task)


def test_a_map_of_rows_adds_up_to_what_they_are_worth(task, donors):
    cells = cells_of(task.plantable)
    ground_m = len(cells.xy) * CELL_M**2 / D
    for found in donors:
        worth_m = found.worth * task.plantable.area / D
        assert ground_m - row_map(found, task, cells).cost_m.sum() == pytest.approx(worth_m, rel=1e-9)


def test_a_map_of_rows_adds_up_to_what_they_are_worth_where_a_fall_is_wanted(task):
    falling = replace(task, fall=Fall(0.01, Point(EAST + 400, NORTH), Slopes.of(task.smooth)))
    cells, ground_m = cells_of(task.plantable), task.plantable.area / D
    found = cut_to_limits(nudged(levels(1.0), falling, 6), falling)
    assert (
        0.01 < found.share - found.worth - 8 * len(found.held.kept) / ground_m < found.share / 2
    )  # some of it falls as wanted, some not
    whole_m = len(cells.xy) * CELL_M**2 / D - row_map(found, falling, cells).cost_m.sum()
    assert whole_m == pytest.approx(found.worth * ground_m, rel=1e-9)
    everywhere = np.array([shapely.box(*task.plantable.bounds).buffer(1)], dtype=object)
    assert worth_around(found, falling, everywhere)[0] == pytest.approx(found.worth * ground_m)


@pytest.mark.parametrize(("offset", "wanted"), [(0.0, 0.0), (1.0, 1.0), (2.0, 2.0), (3.5, 1.0), (D, 0.0)])
def test_rows_shifted_sideways_mismatch_by_the_shift_up_to_half_a_spacing(offset, wanted):
    task = asked(lambda x, y: 0 * x)
    cells = cells_of(task.plantable)
    mine, other = (row_map(cut_to_limits(levels(k), task), task, cells) for k in (0.0, offset))
    both = mine.served & other.served
    assert np.median(mine.mismatch(other, D)[both]) == pytest.approx(wanted, abs=1e-6)


def maps_of(cost, other_cost, offset):
    """Two maps of level rows on cells, the second shifted by `offset`."""
    count = len(cost)
    tangent = np.tile([1.0, 0.0], (count, 1))
    served = np.ones(count, dtype=bool)
    return RowMap(np.zeros(count), tangent, served, cost), RowMap(offset, tangent, served, other_cost)


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_the_cut_is_the_best_of_all_ways_of_taking_cells(seed):
    rng = np.random.default_rng(seed)
    win = rng.normal(0, 2, COUNT).round(2)
    first, second = np.triu_indices(COUNT, 1)
    link = np.where(rng.random(len(first)) < 0.4, rng.uniform(0, 2, len(first)).round(2), 0.0)

    def value(taken):
        return float(win @ taken - link[taken[first] != taken[second]].sum())

    best = max(value(np.array(taken)) for taken in product((0, 1), repeat=COUNT))
    assert value(cheapest_cut(win, first, second, link).astype(int)) == pytest.approx(best, abs=1e-9)


@settings(max_examples=10, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_the_cut_is_the_smallest_one_that_a_library_for_graphs_finds(seed):
    rng = np.random.default_rng(seed)
    number = np.arange(600).reshape(20, 30)
    first = np.concatenate([number[:, :-1].ravel(), number[:-1].ravel()])
    second = np.concatenate([number[:, 1:].ravel(), number[1:].ravel()])
    win, link = rng.integers(-9, 10, 600), rng.integers(0, 7, len(first))
    gains, loses = np.flatnonzero(win > 0), np.flatnonzero(win < 0)
    start = np.concatenate([first, second, np.full(len(gains), 600), loses])
    end = np.concatenate([second, first, gains, np.full(len(loses), 601)])
    room = np.concatenate([link, link, win[gains], -win[loses]]).astype(np.int32)
    graph = sp.csr_array((room, (start, end)), shape=(602, 602))
    left = graph - maximum_flow(graph, 600, 601).flow
    left.eliminate_zeros()
    expected = np.zeros(602, dtype=bool)
    expected[breadth_first_order(left, 600, return_predecessors=False)] = True
    assert np.array_equal(least_cut(win, first, second, link), expected[:600])


def test_the_better_half_of_another_set_is_taken_and_no_more():
    cells = cells_of(shapely.box(0, 0, 80, 40))
    east = cells.xy[:, 0] > 40
    mine, other = maps_of(np.where(east, 0.5, 0.0), np.where(east, 0.0, 0.5), np.zeros(len(east)))
    (patch,) = patches(mine, other, cells, D, donor=3)
    assert patch.donor == 3
    assert patch.gain_m == pytest.approx(0.5 * east.sum())
    assert patch.area.intersection(shapely.box(0, 0, 80, 40)).area == pytest.approx(1600, rel=0.01)
    assert not patch.area.intersects(shapely.box(0, 0, 39, 40))


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_rows_spliced_with_themselves_are_the_same_rows(seed):
    rng = np.random.default_rng(seed)
    rows = levels(turn=0.2)
    middle = np.array([EAST, NORTH]) + rng.uniform(-30, 30, 2)
    area = shapely.union_all(
        [shapely.Point(*(middle + rng.uniform(-14, 14, 2))).buffer(rng.uniform(4, 12)) for _ in range(3)]
    )
    mixed = spliced(rows, [rows], [Patch(0, area, 1.0)])
    assert len(mixed) == len(rows)
    assert sum(row.length for row in mixed) == pytest.approx(sum(row.length for row in rows), abs=0.01)
    assert shapely.hausdorff_distance(shapely.union_all(mixed), shapely.union_all(rows)) < 1e-3


def test_rows_of_another_set_a_metre_off_are_linked_across_the_seam():
    area = shapely.box(EAST, NORTH - 70, EAST + 70, NORTH + 70)
    rows = spliced(levels(), [levels(1.0)], [Patch(0, area, 1.0)])
    through = [row for row in rows if row.bounds[0] < EAST - 50 and row.bounds[2] > EAST + 50]
    assert len(through) >= len(levels()) - 1


def test_smoothing_leaves_what_lies_outside_its_zone_where_it_was(task, donors):
    rows = donors[0].held.kept
    zone = shapely.Point(EAST, NORTH).buffer(15)
    moved = smoothed(rows, zone, task, 3)
    away = zone.buffer(13)
    before, after = (shapely.difference(shapely.union_all(lines), away) for lines in (rows, moved))
    assert shapely.hausdorff_distance(before, after) < 1e-6
    assert any(not shapely.equals_exact(a, b) for a, b in zip(rows, moved, strict=False))


def test_a_stitched_set_is_worth_more_than_each_of_its_donors_and_the_same_every_time(task, donors):
    best = max(donors, key=lambda found: found.worth)
    done, _ = stitched(best, donors, task, 8)
    assert done.worth > best.worth
    again, _ = stitched(best, donors, task, 8)
    assert [row.wkb for row in done.held.kept] == [row.wkb for row in again.held.kept]
    assert min(row.length for row in done.held.kept) >= task.rule.min_row_length_m


def test_a_search_that_ends_while_it_gains_says_so(task, donors):
    best = max(donors, key=lambda found: found.worth)
    better, gains = stitched(best, donors, task, 1)
    assert gains == (better.worth > best.worth)
    last, gains = stitched(best, donors, task, 60)
    assert last.worth > best.worth
    assert not gains


def test_ground_that_carries_no_row_and_ground_narrower_than_a_cell_are_no_failure():
    steep = surface(lambda x, y: 0.9 * np.abs(x) + 0.9 * np.abs(y) + 2 * np.sin(x) * np.sin(y))
    rule = RowRule(max_grade_pct=0.2, preferred_grade_pct=0.1, min_row_length_m=80)
    assert contour_rows(square(), steep, steep, rule).kept == []
    strip = shapely.MultiPolygon([shapely.box(EAST - 40, NORTH + 0.01, EAST + 40, NORTH + 0.9)])
    flat = surface(lambda x, y: 0.05 * y)
    contour_rows(strip, flat, flat, RowRule())


@pytest.mark.parametrize("variant", VARIANTS)
def test_every_variant_of_a_set_holds_the_limits_and_none_is_the_set_itself(task, donors, variant):
    best = max(donors, key=lambda found: found.worth)
    made = variants_of(best, task, variant)
    assert made
    for found in made:
        again = cut_to_limits(found.held.kept, task).held.kept
        assert sum(row.length for row in again) == pytest.approx(sum(row.length for row in found.held.kept), rel=1e-4)
        assert [row.wkb for row in found.held.kept] != [row.wkb for row in best.held.kept]


def test_no_more_sets_are_kept_than_there_is_room_for_and_the_worst_one_goes(task, donors, monkeypatch):
    monkeypatch.setattr(stitch, "MOST_DONORS", 2)
    by_worth = sorted(donors, key=lambda found: found.worth)
    stitching = stitch.Stitching(by_worth[-1], by_worth[:3], task)
    assert [drawn is None for drawn in stitching._maps] == [True, False, False]
    assert all(found is not by_worth[0] for found in stitching._donors)


def test_a_thorough_search_ends_by_itself(task, donors):
    best = max(donors, key=lambda found: found.worth)
    long, gains = stitched(best, donors, task, 10_000)
    assert not gains
    assert long.worth >= stitched(best, donors, task, 8)[0].worth
