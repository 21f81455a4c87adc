"""Paths between beds that are drawn as they are, where nothing else lies there: the same as overlays would give."""

import dataclasses

import numpy as np
import pytest
import shapely
from bed_builders import all_of, assert_sound, overlaps_m2, rows_of
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, box

from geoagro.beds import shares
from geoagro.beds.alleys import alleys
from geoagro.beds.filled import DrawnBeds, filled_beside
from geoagro.beds.fit import Pieces, join_pieces
from geoagro.beds.layout import lay_beds
from geoagro.beds.paths import _CRUMB_M2
from geoagro.beds.tree_beds import tree_strips
from geoagro.beds.widths import Widths
from geoagro.planar.strips import Stretches, ring_between
from geoagro.values.design import BedRule

WIDTHS = Widths(tree=1.0, bed=1.0, path=0.3)
"""Beds lie from .8 to 1.8 and from 2.1 to 3.1 m beside their row."""
UP, DOWN = 1, -1


def level(*heights, length=30.0):
    return np.array([LineString([(0, y), (length, y)]) for y in heights], dtype=object)


def prepared(lines, ground=None):
    return alleys(np.asarray(lines, dtype=object), all_of(ground or box(-50, -50, 90, 90)).plantable, WIDTHS, 4.5)


def pieces(*each):
    """Beds as (line, side, order, begin, end)."""
    line, sign, order, begin, end = (np.array(column) for column in zip(*each, strict=True))
    stretch = Stretches(line, begin.astype(float), end.astype(float))
    return Pieces(stretch, sign, order, np.full(len(line), -1), np.ones(len(line), dtype=bool))


def drawn(ground, laid, *, cut_trees=(), cut_beds=()):
    """Beds of which all but the named ones are whole."""
    trees, beds = (np.full(n, shapely.Point(), dtype=object) for n in (len(ground.lines), len(laid.stretch)))
    whole = [~np.isin(np.arange(len(some)), cut) for some, cut in ((trees, cut_trees), (beds, cut_beds))]
    return DrawnBeds(trees, whole[0], beds, whole[1])


# --- what beds fill ----------------------------------------------------------------------------------------------


def test_the_edge_of_what_beds_fill_steps_where_a_bed_begins_or_ends():
    """Tree bed to .5, first bed to 1.8 from 5 to 25 m, second to 3.1 from 10 to 20."""
    ground = prepared(level(0.0))
    laid = pieces((0, UP, 1, 5, 25), (0, UP, 2, 10, 20), (0, DOWN, 1, 0, 30))
    filled = filled_beside(ground, UP, laid, drawn(ground, laid))
    assert filled.whole.tolist() == [True]
    line, edge = filled.edge(ground)
    assert set(line.tolist()) == {0}
    steps = [(0, 0.5), (5, 0.5), (5, 1.8), (10, 1.8), (10, 3.1), (20, 3.1), (20, 1.8), (25, 1.8), (25, 0.5), (30, 0.5)]
    assert edge == pytest.approx(np.array(steps))
    below = filled_beside(ground, DOWN, laid, drawn(ground, laid)).edge(ground)[1]
    assert below == pytest.approx(np.array([(0, -1.8), (30, -1.8)]))


@pytest.mark.parametrize(
    ("begin", "end", "whole"), [(5, 25, True), (4.9, 25, False), (5, 25.1, False), (10, 12, True), (26, 28, False)]
)
def test_beds_fill_a_side_only_if_each_lies_behind_another_for_its_whole_length(begin, end, whole):
    ground = prepared(level(0.0, 9.0))
    laid = pieces((0, UP, 1, 5, 25), (0, UP, 2, begin, end), (1, UP, 1, 0, 30))
    assert filled_beside(ground, UP, laid, drawn(ground, laid)).whole.tolist() == [whole, True]


def test_a_bed_behind_none_or_behind_one_of_another_row_or_side_fills_nothing():
    ground = prepared(level(0.0, 9.0, 18.0))
    laid = pieces((0, UP, 2, 5, 25), (1, UP, 1, 0, 30), (1, DOWN, 2, 5, 25), (2, UP, 1, 0, 30), (2, UP, 3, 1, 2))
    assert filled_beside(ground, UP, laid, drawn(ground, laid)).whole.tolist() == [False, True, False]
    assert filled_beside(ground, DOWN, laid, drawn(ground, laid)).whole.tolist() == [True, False, True]
    only_second = pieces((0, UP, 2, 5, 25))
    assert not filled_beside(ground, UP, only_second, drawn(ground, only_second)).whole[0]


def test_a_side_with_a_bed_that_was_cut_is_not_whole_and_a_cut_tree_bed_counts_on_both():
    ground = prepared(level(0.0, 9.0))
    laid = pieces((0, UP, 1, 5, 25), (0, DOWN, 1, 5, 25), (1, UP, 1, 5, 25))
    one = drawn(ground, laid, cut_beds=[1])
    assert filled_beside(ground, UP, laid, one).whole.tolist() == [True, True]
    assert filled_beside(ground, DOWN, laid, one).whole.tolist() == [False, True]
    for sign in (UP, DOWN):
        assert filled_beside(ground, sign, laid, drawn(ground, laid, cut_trees=[1])).whole.tolist() == [True, False]


def test_without_any_bed_a_tree_bed_alone_is_filled():
    ground = prepared(level(0.0))
    none = join_pieces([])
    filled = filled_beside(ground, UP, none, drawn(ground, none))
    assert (filled.whole.tolist(), filled.beds.tolist()) == ([True], [0])
    assert filled.edge(ground)[1] == pytest.approx(np.array([(0, 0.5), (30, 0.5)]))


@pytest.mark.parametrize(("south", "plain"), [(0.3, False), (9.0, True)])
def test_a_tree_bed_that_moved_no_longer_lies_between_parallels_of_its_row(south, plain):
    ground = prepared(level(0.0), box(-1, -south, 31, 9))
    assert tree_strips(ground, join_pieces([]), np.array([], dtype=object))[1].tolist() == [plain]


def test_a_tree_bed_round_a_hairpin_is_told_from_the_strip_between_its_parallels():
    hairpin = LineString([(0, 0), (20, 0), (0, 4)])  # its mitre is blunted
    ground = prepared([hairpin, *level(30.0)])
    assert tree_strips(ground, join_pieces([]), np.array([], dtype=object))[1].tolist() == [False, True]


def test_a_ring_may_have_more_points_on_its_way_back():
    owner, back_owner = np.array([0, 0, 1, 1]), np.array([0, 0, 0, 1, 1])
    out = np.array([(0, 0), (9, 0), (20, 0), (25, 0)], dtype=float)
    back = np.array([(0, 2), (5, 3), (9, 2), (20, 1), (25, 1)], dtype=float)
    rings = ring_between(owner, out, back, back_owner=back_owner)
    assert shapely.area(rings) == pytest.approx([18 + 4.5, 5])


# --- the same paths as overlays give ----------------------------------------------------------------------------


def _none_whole(filled):
    return dataclasses.replace(filled, whole=np.zeros_like(filled.whole))


def wave(y, bend, length, phase):
    x = np.linspace(0, length, 60)
    return LineString(np.column_stack([x, y + bend * np.sin(x / 9 + phase)]))


@st.composite
def fields(draw):
    """Rows side by side that bend each in its own way, some of them short, on ground with a slanting edge and perhaps a hole."""
    apart = [draw(st.floats(2.8, 9.0)) for _ in range(draw(st.integers(1, 4)))]
    rows = [
        wave(y, draw(st.floats(0.0, 2.2)), draw(st.floats(12.0, 60.0)), draw(st.floats(0.0, 1.0)))
        for y in np.cumsum([0.0, *apart])
    ]
    ground = shapely.Polygon([(2, -6), (55, -6), (50, 40), (0, 40)])
    hole = box(20, 4, 26, draw(st.floats(4.5, 9.0))) if draw(st.booleans()) else shapely.Polygon()
    return rows, ground.difference(hole), draw(st.sampled_from([0.0, 0.3, 1.0]))


@settings(max_examples=25)
@given(field=fields(), bed_m=st.sampled_from([0.6, 1.0, 1.3]))
def test_paths_drawn_as_they_are_fill_what_paths_cut_by_overlays_fill(field, bed_m):
    lines, ground, wider_m = field
    cut = [part for line in lines for part in shapely.get_parts(line.intersection(ground)) if part.length > 3]
    if not cut:
        return
    rows, rule = rows_of(cut), BedRule(bed_width_m=bed_m)
    plantable = all_of(ground).plantable
    open_ground = all_of(ground.buffer(wider_m)).plantable if wider_m else None
    laid = lay_beds(rows, plantable, rule, path_ground=open_ground)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(shares, "filled_beside", lambda *some: _none_whole(filled_beside(*some)))
        other = lay_beds(rows, plantable, rule, path_ground=open_ground)
    mine, theirs = (shapely.union_all(some.paths.geometry.to_numpy(), grid_size=1e-4) for some in (laid, other))
    apart = shapely.get_parts(mine.symmetric_difference(theirs).buffer(-2e-3))
    assert shapely.area(apart).max(initial=0.0) < _CRUMB_M2  # crumbs that border on nothing may be left out
    assert laid.paths["area_m2"].sum() == pytest.approx(other.paths["area_m2"].sum(), rel=1e-4, abs=0.3)
    if not wider_m:
        assert_sound(all_of(ground), rows, laid)


def test_the_middle_path_of_a_wide_alley_has_no_gaps_inside_a_bend():
    """Ground within the bend was left out where the share's edge crossed itself, though nothing else lay there."""
    turn = np.linspace(-2.0, 2.0, 60)
    bend = LineString(np.column_stack([12 * turn, 6 * np.sqrt(1 + (turn * 4) ** 2)]))
    ground = all_of(bend.buffer(12, cap_style="flat"))
    beds = lay_beds(rows_of([bend], 9.0), ground.plantable, BedRule())
    whole = shapely.union_all(
        np.concatenate([layer.geometry for layer in (beds.tree_beds, beds.beds, beds.paths)]), grid_size=1e-5
    )
    gaps = [shapely.Polygon(hole).area for part in shapely.get_parts(whole) for hole in part.interiors]
    assert max(gaps, default=0.0) < 0.01
    assert_sound(ground, rows_of([bend], 9.0), beds)


def test_a_row_that_passes_before_its_own_start_has_no_path_over_its_tree_bed():
    """Rays across the alley miss the row's start, which the share of its last leg then lies over, both halves of its tree bed."""
    hook = LineString([(0, 0), (20, 0), (24, 5), (20, 6), (2, 6), (-3.4, 3), (-4.5, -7.5)])
    ground = all_of(box(-12, -12, 34, 20))
    beds = lay_beds(rows_of([hook], 9.0), ground.plantable, BedRule())
    strips = np.concatenate([layer.geometry for layer in (beds.tree_beds, beds.beds, beds.paths)])
    assert overlaps_m2(strips) < 2e-4
