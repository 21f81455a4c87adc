"""Row ends run on where that wins most, what it wins is foretold, and no limit is broken by it."""

from dataclasses import replace

import numpy as np
import pytest
import row_judge
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from landforms import EAST, NORTH, broken, laid_on, plane, square, surface
from shapely import LineString

from geoagro.planar.segments import segments_of
from geoagro.rows import drawn_on as module
from geoagro.rows.candidates import cut_to_limits, weighed, with_best_ends
from geoagro.rows.drawn_back import GIVEN_UP
from geoagro.rows.drawn_on import MOST_M, STEP_M, longer
from geoagro.rows.finishing import VERTEX_ERROR_M
from geoagro.rows.quality import holds_spacing, in_runs, view_rows
from geoagro.rows.task import Around, Task
from geoagro.values.design import RowRule
from geoagro.values.rows import Lines

D, SHORTEST_M = 4.5, 20.0
GROUND = surface(plane, size_m=200.0)
TASK = Task(square(160.0), GROUND, GROUND, RowRule(max_grade_pct=4))


def line(*xy):
    return LineString([(EAST + x, NORTH + y) for x, y in xy])


BELOW, SHORT = line((-80, 0), (80, 0)), line((-80, D), (20, D))
ABOVE = line((-80, 2 * D), (80, 2 * D))


def made(rows, task=TASK):
    """Rows after ends ran on once, or the same ones."""
    every = [*task.around.kept, *rows]
    view = view_rows(every, task.judged, D, near_m=0.0, step_m=0.5)
    found = longer(view, every, task)
    return every if found is None else found.rows


def test_an_end_runs_on_between_its_neighbours_as_far_as_an_end_may_at_once():
    after = made([BELOW, SHORT, ABOVE])
    assert after[1].length == pytest.approx(SHORT.length + MOST_M)
    assert (after[0], after[2]) == (BELOW, ABOVE)
    assert shapely.get_coordinates(after[1])[:, 1] == pytest.approx(NORTH + D)


def test_an_end_stays_where_its_neighbour_would_lose_more_than_it_wins():
    apart = line(
        (-80, 1.3 * D), (20, 1.3 * D)
    )  # too far from the row below to hold the spacing, too near for an open side
    assert made([BELOW, apart])[1] is apart


def test_an_end_does_not_turn_along_the_field_s_edge_for_a_metre_of_row():
    after = made([line((-80, D), (76, D))])[0]
    assert shapely.get_coordinates(after)[:, 1] == pytest.approx(NORTH + D)


def test_an_end_runs_on_only_where_ground_is_plantable():
    west = shapely.box(EAST - 80, NORTH - 80, EAST + 25.2, NORTH + 80)
    field = shapely.MultiPolygon([west])
    assert made([SHORT], replace(TASK, plantable=field))[0].length == pytest.approx(SHORT.length + 5)


def test_no_end_runs_on_across_a_slit_narrower_than_its_steps():
    slit = shapely.box(EAST + 22.1, NORTH - 70, EAST + 22.3, NORTH + 70)
    field = shapely.MultiPolygon([square(160.0).geoms[0].difference(slit)])
    for row in made([SHORT], replace(TASK, plantable=field)):
        assert field.covers(row)


def test_an_end_keeps_the_least_distance_from_a_row_ahead():
    ahead = line((31, -60), (31, 60))
    task = replace(TASK, rule=RowRule(max_grade_pct=40, preferred_grade_pct=20))
    after = made([SHORT, ahead], task)
    assert after[0].length > SHORT.length
    assert after[0].distance(ahead) >= task.nearest_m


@pytest.mark.parametrize("off_m", [0.0, 0.1, 0.25, 0.4])
@pytest.mark.parametrize("spacing_m", [1.5, 3.0, 4.5])
@pytest.mark.parametrize("short_by_m", [0.001, 0.004, 0.008, 0.012])
def test_an_end_that_passes_another_row_s_tip_keeps_the_least_distance_between_its_steps_too(
    spacing_m, off_m, short_by_m
):
    task = replace(TASK, rule=RowRule(spacing_m=spacing_m, max_grade_pct=40, preferred_grade_pct=20))
    tip = line((26 + off_m, task.nearest_m - short_by_m), (26 + off_m, 60))
    row = line((-80, 0), (20, 0))
    task = replace(task, around=Around(kept=(tip,)))
    view = view_rows([tip, row], task.judged, spacing_m, near_m=0.0, step_m=0.5)
    found = longer(view, [tip, row], task)
    assert found is not None
    assert found.rows[1].length > row.length
    assert found.rows[1].distance(tip) >= task.nearest_m


def ran_on(row, spacing_m):
    """A single row of some spacing after its ends ran on once."""
    rule = RowRule(spacing_m=spacing_m, max_grade_pct=40, preferred_grade_pct=20, min_turn_radius_m=0)
    view = view_rows([row], TASK.judged, spacing_m, near_m=0.0, step_m=0.5)
    found = longer(view, [row], replace(TASK, rule=rule))
    return row if found is None else found.rows[0]


@pytest.mark.parametrize("backwards", [False, True])
def test_an_end_keeps_the_least_distance_from_its_own_row_as_far_along_it_as_counts_once_it_ran_on(backwards):
    turn = np.radians(np.arange(-90, 121, 10))
    row = line((-79.9, 0), (40, 0), *zip(40 + 3 * np.cos(turn), 3 + 3 * np.sin(turn), strict=True))
    after = ran_on(row.reverse() if backwards else row, 8.0)
    assert after.length > row.length
    stations = np.arange(0, after.length, 0.5)
    assert min(row_judge.nearest([after], 0, station, 8.0) for station in stations) >= 0.9 * 8.0 - 0.01


def test_no_end_runs_on_across_its_own_row():
    row = line((5, 70), (5, -6), (-6, -6), (-6, 0), (0, 0))
    assert ran_on(row, 20.0).is_simple


@pytest.mark.parametrize("gap_m", [16.0, 20.0, 26.0, 32.0])
def test_two_ends_that_run_on_at_once_keep_the_least_distance_from_each_other(gap_m):
    """Each may run on by 12 m, and two rows must stay 4.05 m apart."""
    west, east = line((-80, 0), (-gap_m / 2, 0)), line((gap_m / 2, 0), (80, 0))
    after = made([west, east])
    assert after[0].length + after[1].length > west.length + east.length
    assert after[0].distance(after[1]) >= TASK.nearest_m


def test_an_end_stays_where_the_ground_ahead_is_too_steep():
    uphill = line((0, -60), (0, 20))
    assert made([uphill])[0] is uphill
    slanting = line((-80, 0), (20, 5))  # rises by 0.4 %; straight on it goes on so
    gentle = replace(TASK, rule=RowRule(max_grade_pct=0.5, preferred_grade_pct=0.2))
    after = made([slanting], gentle)[0]
    assert after.length > slanting.length
    assert after.hausdorff_distance(LineString([*slanting.coords, after.coords[-1]])) < 0.05


def test_an_end_runs_on_as_far_as_a_bank_ahead_and_no_chord_over_it_is_too_steep():
    bank = surface(lambda x, y: 0.5 * np.clip((x - 26) / 2, 0, 1), size_m=200.0)
    for radius_m in (3, 60):
        rule = RowRule(max_grade_pct=4, min_turn_radius_m=radius_m)
        task = replace(TASK, smooth=bank, judged=bank, rule=rule)
        after = made([line((-80, 0), (20, 0))], task)[0]
        assert cut_to_limits([after], task).held.kept[0].length == pytest.approx(after.length, abs=0.01)
        # in narrow bends the end turns along the bank, in wide ones it stops before it has risen by what a chord may
        assert after.length == pytest.approx(100 + (MOST_M if radius_m == 3 else 6.5), abs=1)


def test_an_end_bends_with_its_neighbours_no_tighter_than_rows_may():
    middle, heights = np.array([EAST, NORTH - 16.0]), surface(lambda x, y: 0.0 * x, size_m=200.0)
    turn = np.radians(np.arange(0, 91, 3))
    arcs = [np.column_stack([r * np.sin(turn), r * np.cos(turn)]) + middle for r in (16.0 - D, 16.0, 16.0 + D)]
    inner, own, outer = (np.vstack([[EAST - 80, xy[0, 1]], xy]) for xy in arcs)
    short = LineString(own[:6])
    task = replace(TASK, smooth=heights, judged=heights)
    after = made([LineString(inner), short, LineString(outer)], task)[1]
    assert after.length > short.length + 8
    assert shapely.distance(shapely.points(after.coords), LineString(own)).max() < 1
    assert after.distance(LineString(outer)) > (1 - task.rule.spacing_tolerance) * D
    sharp = replace(task, rule=RowRule(min_turn_radius_m=40))
    assert made([LineString(inner), short, LineString(outer)], sharp)[1].length < after.length


def test_rows_that_stay_rings_and_ends_on_guides_are_left_alone():
    assert made([BELOW, ABOVE], replace(TASK, around=Around(kept=(SHORT,))))[0] is SHORT
    assert made([BELOW, SHORT, ABOVE], replace(TASK, guides=(SHORT,)))[1] is SHORT
    ring = LineString(shapely.Point(EAST, NORTH).buffer(10).exterior.coords)
    assert made([ring], replace(TASK, rule=RowRule(max_grade_pct=40, preferred_grade_pct=20)))[0] is ring


def test_of_one_row_one_end_runs_on_at_once_and_ends_near_each_other_take_turns():
    middle = line((-20, D), (20, D))
    assert made([BELOW, middle, ABOVE])[1].length == pytest.approx(middle.length + MOST_M)
    rows = [BELOW, SHORT, ABOVE, line((-80, 3 * D), (20, 3 * D)), line((-80, 4 * D), (80, 4 * D))]
    assert sum(one is not row for one, row in zip(made(rows), rows, strict=True)) == 1


@st.composite
def rows_that_end(draw):
    """Rows side by side whose ends lie anywhere, and that drift off at one place."""
    rows = []
    for number in range(draw(st.integers(2, 5))):
        west, east = draw(st.integers(-60, -25)), draw(st.integers(0, 45))
        off, bend = draw(st.sampled_from([0.0, 0.0, 0.2, 0.3, 0.7])) * D, draw(st.integers(-20, -5))
        y = number * D
        rows.append(line((west, y), (bend, y), (bend + 4, y + off), (east, y + off)))
    return rows


LEVEL = replace(TASK, rule=RowRule(max_grade_pct=40, preferred_grade_pct=20, min_turn_radius_m=0))


def seen_ok(xy, tangent, rows, standing):
    """Whether both neighbours of places hold the spacing."""
    ok = np.ones(len(xy), dtype=bool)
    for side in (1, -1):
        way = side * np.column_stack([-tangent[:, 1], tangent[:, 0]])
        met = segments_of(rows).first_hit(xy, way, 0.0, 2.5 * D, standing=standing)
        ok &= holds_spacing(met.distance, spacing_m=D, tolerance=0.1)
    return ok


def legal_m(view, rows, which):
    """Length of legal row at the samples of some rows of a view, as they would see these rows."""
    samples = view.samples
    ok = seen_ok(samples.xy, np.column_stack([samples.tx, samples.ty]), rows, samples.standing(3 * D))
    runs = in_runs(ok, samples, SHORTEST_M)
    return float(samples.weight[runs & np.isin(samples.row, which)].sum())


def own_m(view, rows, number, more):
    """Length of legal row of one row and what it ran on by (places, outward), in order from its far end."""
    samples = view.samples
    ok = seen_ok(samples.xy, np.column_stack([samples.tx, samples.ty]), rows, samples.standing(3 * D))
    mine = np.flatnonzero(samples.row == number)
    at_last = shapely.Point(more[0]).distance(shapely.Point(rows[number].coords[-1])) < 1e-9
    mine = mine if at_last else mine[::-1]
    middle, along = (more[1:] + more[:-1]) / 2, np.diff(more, axis=0) / STEP_M
    end = samples.standing(3 * D).take(mine[-1:])
    end = replace(end, station=np.array([samples.row_length[number] if at_last else 0.0]))
    there = end.take(np.zeros(len(middle), dtype=np.int64))
    flags = np.concatenate([ok[mine], seen_ok(middle, along, rows, there)])
    weight = np.concatenate([samples.weight[mine], np.full(len(middle), STEP_M)])
    total = run = 0.0
    for good, size in zip([*flags, False], [*weight, 0.0], strict=True):
        run, total = (run + size, total) if good else (0.0, total + (run if run >= SHORTEST_M - 1e-6 else 0.0))
    return total


@settings(max_examples=100, deadline=None)
@given(rows_that_end())
def test_what_an_end_wins_is_what_measuring_the_longer_row_anew_gives(rows):
    view = view_rows(rows, None, D, near_m=0.0, step_m=1.0)
    told = []

    def keep(ways, seen, *more):
        won = wins_of_ways(ways, seen, *more)
        told.append((ways[0], ways[4], won))
        return won

    wins_of_ways = module.wins_of_ways
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(module, "wins_of_ways", keep)
        longer(view, rows, LEVEL)
    for number, places, (win, steps) in (entry for part in told for entry in zip(*part, strict=True)):
        if steps == 0:
            continue
        more = places[: int(steps) + 1]
        others = np.delete(np.arange(len(rows)), number)
        xy = shapely.get_coordinates(rows[number])
        at_last = np.allclose(xy[-1], more[0])
        new = LineString(np.concatenate([xy, more[1:]] if at_last else [more[:0:-1], xy]))
        after = [*rows[:number], new, *rows[number + 1 :]]
        won = legal_m(view, after, others) - legal_m(view, rows, others)
        won += own_m(view, rows, number, more) - own_m(view, rows, number, more[:1])
        assert win == pytest.approx(won + GIVEN_UP * STEP_M * steps, abs=1e-6)


@pytest.fixture(scope="module")
def laid():
    """Rows on broken ground as cuts leave them, no end drawn back or on yet."""
    ground = surface(broken, size_m=90.0)
    task = Task(square(90.0), ground, ground, RowRule())
    rows = [row for row in laid_on(broken).kept if row.length > 25]
    return cut_to_limits([shapely.ops.substring(row, 2, row.length - 2) for row in rows], task), task


def test_ends_that_run_on_win_legal_row_and_break_no_limit(laid):
    found, task = laid
    better = with_best_ends(found, task, sweeps=6)
    assert better.share > found.share
    again = cut_to_limits(list(better.held.kept), task)
    assert not again.held.cut
    lengths = [sum(row.length for row in rows) for rows in (again.held.kept, better.held.kept)]
    assert lengths[0] == pytest.approx(lengths[1], abs=VERTEX_ERROR_M)  # corners are drawn anew


def test_nothing_runs_on_where_nothing_is_to_be_won(laid):
    found, task = laid
    assert with_best_ends(found, task, sweeps=0).worth <= with_best_ends(found, task, sweeps=6).worth
    whole = weighed([BELOW], Lines([BELOW], []), replace(TASK, plantable=square(160.0)))
    assert with_best_ends(whole, replace(TASK, plantable=square(160.0)), sweeps=6) is whole
