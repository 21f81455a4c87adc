"""What beds ask of the distance between rows, and what the row engine makes of it."""

import re

import numpy as np
import pytest
from bed_builders import all_of, assert_sound, rows_of
from pydantic import ValidationError
from shapely import LineString, box

from geoagro.beds.layout import lay_beds
from geoagro.beds.room import ALLEY_LENGTH, BED_SHARE, BEDS_LOST, bed_findings, bed_measures, beds_lost_m2
from geoagro.beds.widths import row_window, working_widths
from geoagro.ground.leftover import leftover_ground
from geoagro.ground.limit_costs import limit_costs
from geoagro.rows.relaxation import Wishes, relax_rows
from geoagro.rows.slopes import Slopes
from geoagro.values.design import BedRule, Design, RowRule
from geoagro.values.grid import Grid
from geoagro.values.rows import RowWindow, TreeRows

RULE = BedRule(tree_bed_width_m=1.0, bed_width_m=1.1, path_width_m=0.35)


def test_need_is_tree_bed_path_and_each_bed_with_its_path():
    assert row_window(RULE, 4.5, 0.1).need_m == pytest.approx(1.0 + 0.35 + 2 * (1.1 + 0.35))


@pytest.mark.parametrize("spacing_m", [1.5, 3.0, 4.25, 4.5, 6.1, 9.0])
@pytest.mark.parametrize("tolerance", [0.02, 0.1, 0.3])
def test_rows_aim_between_what_beds_need_and_the_spacing(spacing_m, tolerance):
    window = row_window(RULE, spacing_m, tolerance)
    assert window.need_m <= spacing_m + 1e-9
    assert max(window.need_m, (1 - tolerance) * spacing_m) - 1e-9 <= window.aim_m <= spacing_m + 1e-9


@pytest.mark.parametrize("spacing_m", [3.0, 4.5, 6.1, 9.0])
def test_the_need_carries_the_beds_of_the_spacing_and_no_less_would(spacing_m):
    widths, window = working_widths(RULE, spacing_m), row_window(RULE, spacing_m, 0.1)
    beds = widths.whole_beds(spacing_m)
    assert widths.whole_beds(window.need_m) == beds
    assert beds == 0 or widths.whole_beds(window.need_m - 0.001) == beds - 1


def nudged_gap(window):
    """Gap between two level rows 4.10 m apart, inside 4.5 m +-10 %, after nudging."""
    flat = Grid(np.zeros((60, 160)), west=-30.0, north=40.0, cell_m=1.0, crs=None)
    rows = [LineString([(0, y), (100, y)]) for y in (0.0, 4.10)]
    wishes = Wishes(4.5, 0.1, 0.04, 0.02, 3.0, window=window)
    moved = relax_rows(rows, Slopes.of(flat), box(-10, -5, 110, 25), wishes, steps_m=(5 / 3,) * 4)
    return moved[0].distance(moved[1])


def test_rows_are_pulled_above_the_need_of_their_beds_whatever_they_aim_at():
    assert nudged_gap(RowWindow(need_m=3.0, aim_m=4.1)) < 4.25
    assert nudged_gap(RowWindow(need_m=4.25, aim_m=4.1)) >= 4.25


def rows_apart(distance_m, count=5, length_m=60.0, **more):
    lines = [LineString([(0, -k * distance_m), (length_m, -k * distance_m)]) for k in range(count)]
    height = (count - 1) * distance_m
    return rows_of(lines, **more), all_of(box(0, -height - 0.6, length_m, 0.6))


@pytest.mark.parametrize(
    ("distance_m", "narrowest_m", "beds"),
    [(4.25, None, 2), (4.20, None, 1), (4.20, 0.30, 2), (4.15, 0.25, 2), (4.13, 0.25, 1), (4.40, 0.25, 2)],
)
def test_the_middle_path_narrows_at_pinches_as_far_as_asked_and_no_farther(distance_m, narrowest_m, beds):
    rows, ground = rows_apart(distance_m)
    rule = RULE.model_copy(update={"narrowest_path_m": narrowest_m})
    laid = lay_beds(rows, ground.plantable, rule)
    assert len(laid.beds) == beds * 4
    assert_sound(ground, rows, laid, path_m=narrowest_m or 0.35)


@pytest.mark.parametrize(
    ("distance_m", "narrowest_m", "beds"), [(2.80, None, 1), (2.75, None, 0), (2.75, 0.30, 1), (2.72, 0.30, 0)]
)
def test_the_path_beside_a_single_bed_narrows_too(distance_m, narrowest_m, beds):
    rows, ground = rows_apart(distance_m, spacing_m=2.8)  # tree bed 1.0, bed 1.1, two paths of 0.35
    laid = lay_beds(rows, ground.plantable, RULE.model_copy(update={"narrowest_path_m": narrowest_m}))
    assert len(laid.beds) == beds * 4
    assert_sound(ground, rows, laid, path_m=narrowest_m or 0.35)


def test_pinches_add_no_bed_beyond_the_number_that_the_spacing_carries():
    rule = BedRule(tree_bed_width_m=1.0, bed_width_m=1.1, path_width_m=0.35, narrowest_path_m=0.05)
    rows, ground = rows_apart(5.5)  # three beds need 5.70 m, 5.40 m with a path of 0.05 m
    assert len(lay_beds(rows, ground.plantable, rule).beds) == 2 * 4


def test_what_alleys_lack_is_measured_and_told_with_what_would_win_it_back():
    rows, ground = rows_apart(4.20)
    laid = lay_beds(rows, ground.plantable, RULE)
    measured = bed_measures(laid, ground.plantable, RULE, 4.5)
    assert measured[BEDS_LOST] == pytest.approx(4 * 60 * 1.1, rel=0.01)
    assert measured.at(ALLEY_LENGTH) == pytest.approx({0: 0.0, 1: 240.0, 2: 0.0}, abs=2.0)
    could = ground.plantable.area * 2 * 1.1 / 4.5
    assert measured[BED_SHARE] == pytest.approx(laid.beds.area.sum() / could)
    told = " ".join(f.text for f in bed_findings(laid, RULE, RowRule(spacing_m=4.5)))
    assert "Beds between two rows: 2, which need 4.25 m; rows may stand 4.05 to 4.95 m" in told
    # a narrower path lets all four alleys of 60 m carry their second bed of 1.10 m: 264 m²
    won = re.search(r"beds\.path_width_m: 0\.30 would win about ([\d,]+) m² back", told)
    assert float(won[1].replace(",", "")) == pytest.approx(4 * 60 * 1.1, rel=0.01)


def test_a_need_above_the_spacing_is_warned_of():
    rows, ground = rows_apart(2.6)
    rows = TreeRows(rows.frame, 2.6, rows.cut)
    laid = lay_beds(rows, ground.plantable, RULE)
    found = bed_findings(laid, RULE, RowRule(spacing_m=2.6))
    assert [f.level for f in found if "needs 2.80 m, above the row spacing" in f.text] == ["warning"]


def test_a_narrowest_path_wider_than_the_path_is_refused():
    with pytest.raises(ValidationError, match="must not be above"):
        BedRule(path_width_m=0.3, narrowest_path_m=0.4)


def test_costs_tell_beds_that_alleys_lack_on_a_line_of_their_own():
    rows, ground = rows_apart(4.20)
    laid = lay_beds(rows, ground.plantable, RULE)
    design = Design.model_validate(
        {"name": "a", "inputs": {"boundary": {"file": "a"}, "elevation": {"file": "a"}}, "beds": RULE.model_dump()}
    )
    rest = leftover_ground(ground, laid, rows.cut, spacing_m=4.5)
    costs = limit_costs(ground, rest, design, beds_lost_m2=beds_lost_m2(laid, RULE, 4.5))
    assert costs.set_index("reason")["part_of"]["narrow_alley"] == "paths"
    assert costs.set_index("reason")["setting"]["narrow_alley"] == "beds.path_width_m 0.35"
