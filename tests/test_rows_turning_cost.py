"""What two turns cost is the designer's to say: dearer, rows are fewer and longer; what wins in one place is kept there alone."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from builders import plane as even_slope
from builders import square_ground
from landforms import EAST, NORTH, broken, plane, saddle, square, surface
from shapely import LineString, MultiPolygon

from geoagro.errors import LayoutError
from geoagro.rows import candidates
from geoagro.rows.candidates import cut_to_limits, drawn_back
from geoagro.rows.contour import contour_rows
from geoagro.rows.layout import lay_rows
from geoagro.rows.mending import fill_holes
from geoagro.rows.stitching.place_by_place import where_it_wins, worth_around
from geoagro.rows.task import Task
from geoagro.values.design import RowRule

D = 4.5


def laid(shape, cost_m):
    rule = RowRule(turning_cost_m=cost_m)
    ground = surface(shape)
    task = Task(square(), ground, ground, rule)
    return cut_to_limits(contour_rows(square(), ground, ground, rule).kept, task), task


@pytest.mark.parametrize("shape", [broken, saddle])
def test_dearer_turns_give_fewer_and_longer_rows(shape):
    (cheap, _), (dear, _) = laid(shape, 0.0), laid(shape, 60.0)
    assert len(dear.held.kept) < len(cheap.held.kept)
    assert shapely.length(dear.held.kept).mean() > shapely.length(cheap.held.kept).mean()


def test_each_set_is_worth_most_at_the_cost_that_it_was_laid_for():
    (cheap, at_cheap), (dear, at_dear) = laid(broken, 0.0), laid(broken, 60.0)
    for mine, other, task in ((cheap, dear, at_cheap), (dear, cheap, at_dear)):
        assert worth_of(mine, task) > worth_of(other, task)


def worth_of(found, task):
    return cut_to_limits(found.held.kept, task).worth


def test_worth_is_legal_ground_less_what_the_turns_of_every_row_cost():
    found, task = laid(broken, 20.0)
    turns_m2 = 20.0 * len(found.held.kept) * D
    assert found.worth == pytest.approx(found.share - turns_m2 / task.plantable.area)
    everywhere = np.array([shapely.box(*task.plantable.bounds).buffer(1)], dtype=object)
    assert worth_around(found, task, everywhere)[0] * D == pytest.approx(found.worth * task.plantable.area)


def test_a_strip_whose_rows_are_shorter_than_their_turns_cost_is_refused_for_that():
    strip = MultiPolygon([shapely.box(EAST + 40, NORTH, EAST + 54, NORTH + 100)])
    ground = replace(square_ground(), boundary=strip, plantable=strip)
    worth, dear = (RowRule(min_row_length_m=10.0, turning_cost_m=cost_m) for cost_m in (8.0, 16.0))
    assert len(lay_rows(ground, even_slope(), worth).frame) > 15
    with pytest.raises(LayoutError, match=r"worth its two turns, 16 m of row\. Lower rows\.turning_cost_m"):
        lay_rows(ground, even_slope(), dear)


def test_no_row_is_drawn_in_a_hole_that_is_shorter_than_its_turns_cost():
    rows = [level(y) for y in np.arange(-45, 46, D) if abs(y) > 0.1]
    rows += [level(0, east=-18), level(0, west=18)]
    assert len(holes(rows, 20.0)) == 1
    assert not holes(rows, 40.0)


def holes(rows, cost_m):
    """What is drawn where a row lacks 36 m, as `mended` asks for it."""
    drawn = []

    def noted(*args, **given):
        drawn.extend(fill_holes(*args, **given))
        return drawn

    task = Task(square(), surface(plane), surface(plane), RowRule(turning_cost_m=cost_m))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(candidates, "run_on", lambda rows, *args, **given: list(rows))
        patch.setattr(candidates, "fill_holes", noted)
        candidates.mended(cut_to_limits(rows, task), task, rounds=1)
    return list(drawn)


def level(y, west=-45.0, east=45.0):
    return LineString([(EAST + west, NORTH + y), (EAST + east, NORTH + y)])


def test_a_row_not_worth_its_turns_goes_as_a_whole():
    # 60 m long, it wins less than 100 m, and beyond it nobody misses it
    outer = [level(0.0), level(1.96 * D)]
    between = level(0.98 * D, west=-45.0, east=15.0)
    for cost_m, left in ((0.0, 3), (100.0, 2)):
        ground = surface(plane, size_m=240.0)
        task = Task(square(240.0), ground, ground, RowRule(turning_cost_m=cost_m, max_grade_pct=9))
        held = drawn_back(cut_to_limits([*outer, between], task), task).held
        assert len(held.kept) == left
        assert [reason for reason, _ in held.cut] == ["turning_cost"] * (3 - left)


def test_a_row_that_is_in_its_neighbours_way_all_along_goes_for_the_spacing_whatever_turns_cost():
    # 1.2 spacings from both, which see no row at all without it
    rows = [level(0.0), level(2.4 * D), level(1.2 * D, west=-20.0, east=20.0)]
    for cost_m in (0.0, 8.0, 80.0):
        task = Task(square(), surface(plane), surface(plane), RowRule(turning_cost_m=cost_m))
        held = drawn_back(cut_to_limits(rows, task), task).held
        assert len(held.kept) == 2
        assert [reason for reason, _ in held.cut] == ["spacing_limit"]


@pytest.mark.parametrize("shape", [plane, broken])
def test_however_dear_turns_are_a_small_plot_on_which_all_rows_are_short_is_planted(shape):
    field, ground = square(32.0), surface(shape, size_m=32.0)
    rows = {c: contour_rows(field, ground, ground, RowRule(turning_cost_m=c)).kept for c in (8.0, 200.0)}
    assert shapely.length(rows[200.0]).sum() > 0.7 * shapely.length(rows[8.0]).sum() > 0


def test_turns_cost_what_the_rule_says_but_on_small_ground_and_parts_count_by_themselves():
    rule = RowRule(turning_cost_m=40.0)
    ground = surface(plane)
    small = square(30.0)
    parts = MultiPolygon([part for x in (0.0, 50.0) for part in shapely.affinity.translate(small, x).geoms])
    assert Task(square(), ground, ground, rule).turning_cost_m == 40.0
    assert Task(small, ground, ground, rule).turning_cost_m == pytest.approx(15.0)
    assert Task(parts, ground, ground, rule).turning_cost_m == pytest.approx(15.0)


def test_changes_are_kept_where_they_win_and_only_there():
    tried = []

    def changed(some):
        tried.append(some.tolist())
        return some

    found, good = where_it_wins(3, changed, lambda some: np.where(some, [5.0, 0.5, -3.0], 0.0))
    assert good.tolist() == [True, False, False]
    assert tried == [[True] * 3, [True, False, False]]
    assert found.tolist() == good.tolist()


@pytest.mark.parametrize("won", [[2.0, 2.0], [0.0, 0.0]])
def test_where_all_or_none_win_nothing_is_tried_twice(won):
    tried = []
    where_it_wins(2, lambda some: tried.append(some) or some, lambda some: np.array(won))
    assert len(tried) == 1
