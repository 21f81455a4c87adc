"""Settings side by side: which are tried, and that each line says what a layout at that setting would say."""

from dataclasses import replace

import numpy as np
import pytest
from builders import EAST, NORTH, plane, square_ground
from shapely import LineString

from geoagro.errors import DesignError
from geoagro.rows import quality_table as q
from geoagro.rows.comparison import compare_settings, settings_around
from geoagro.rows.layout import lay_rows
from geoagro.rows.records.comparison import ROW_COMPARISON
from geoagro.values.design import RowRule

GUIDE = [LineString([(EAST, NORTH + 30), (EAST + 60, NORTH + 30)])]


def kinds(rules):
    return [(rule.method, rule.max_grade_pct, rule.spacing_tolerance) for rule in rules]


def test_settings_bracket_the_designs_own_which_stands_among_them_once():
    rule = RowRule(max_grade_pct=4, spacing_tolerance=0.1)
    rules = settings_around(rule)
    assert kinds(rules) == [
        *(("contour", grade, width) for width in (0.05, 0.1, 0.15) for grade in (2, 4, 6)),
        *(("straight", grade, 0.1) for grade in (2, 4, 6)),
    ]
    assert rules.count(rule) == 1


def test_guides_are_followed_only_where_there_are_any():
    rule = RowRule(method="straight")
    assert {r.method for r in settings_around(rule)} == {"contour", "straight"}
    rules = settings_around(rule, with_guide=True)
    assert {r.method for r in rules} == {"contour", "straight", "guide"}
    assert rules.count(rule) == 1


def test_every_setting_is_a_rule_that_a_design_file_could_hold():
    rule = RowRule(
        max_grade_pct=1.5, preferred_grade_pct=1.2, spacing_tolerance=0.35, target_grade_pct=1, fall_toward="ridge"
    )
    for one in settings_around(rule):
        assert RowRule.model_validate(one.model_dump()) == one  # below the target grade and above 0.4 nothing is tried
    assert {r.max_grade_pct for r in settings_around(rule)} == {1.5, 2.25}
    assert {r.spacing_tolerance for r in settings_around(rule)} == {0.175, 0.35}


def test_asked_values_replace_the_multiples_but_not_the_own_value():
    rules = settings_around(RowRule(), grades_pct=(3, 8), tolerances=(0.2,))
    assert {r.max_grade_pct for r in rules} == {3, 4, 8}
    assert {r.spacing_tolerance for r in rules} == {0.1, 0.2}


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ({"grades_pct": (0,)}, "grade limit of 0"),
        ({"grades_pct": (-2,)}, "grade limit of -2"),
        ({"tolerances": (0.5,)}, "spacing tolerance of 0.5.*at most 0.4"),
        ({"grades_pct": (0.5,)}, "at least 1"),
    ],
)
def test_values_that_no_design_may_hold_are_refused(asked, words):
    rule = RowRule(target_grade_pct=1, fall_toward="ridge")
    with pytest.raises(DesignError, match=words):
        settings_around(rule, **asked)


def test_each_line_holds_what_a_layout_at_that_setting_measures():
    ground, terrain = square_ground(60), plane(size_m=60)
    own = RowRule(method="straight")
    rules = (own, RowRule(method="guide", max_grade_pct=3), RowRule())
    table = compare_settings(ground, terrain, rules, own=own, guides=GUIDE)
    assert list(table.columns) == ROW_COMPARISON.columns
    assert table["own"].tolist() == [True, False, False]
    assert table["problem"].tolist() == ["", "", ""]
    for rule, line in zip(rules, table.to_dict("records"), strict=True):
        rows = lay_rows(ground, terrain, rule, guides=GUIDE)
        found = q.row_quality(rows, ground.plantable, terrain, rule)
        assert line["rows"] == len(rows.frame)
        assert line["covered"] == found[q.COVERED]
        assert line["in_limits"] == found.at(q.IN_LIMITS)[rule.max_grade_pct]
        assert line["row_ends_per_ha"] == pytest.approx(2 * len(rows.frame) / 0.36)
        assert line["spacing_p05_m"] == pytest.approx(4.5 * found[q.SPACING_P05])
    # a plane lets every method hold everything: rows straight, one spacing apart
    np.testing.assert_allclose(table["in_tolerance"], 1.0)
    assert (table["grade_max_pct"] <= table["max_grade_pct"]).all()


def test_a_setting_that_gives_no_rows_keeps_its_line_with_the_reason():
    ground, terrain = square_ground(60), plane(size_m=60)
    hopeless = RowRule(method="straight", min_row_length_m=500)
    table = compare_settings(ground, terrain, (hopeless, RowRule(method="straight")), own=hopeless)
    assert table["rows"].tolist()[0] == 0
    assert "No row of 500 m" in table["problem"][0]
    assert np.isnan(table["covered"][0])
    assert table["problem"][1] == ""


def test_ground_without_heights_compares_what_it_can():
    terrain = replace(plane(size_m=60), heights=None, smooth=None, judged=None, aspect_deg=None)
    table = compare_settings(square_ground(60), terrain, settings_around(RowRule())[-4:], own=RowRule())
    assert table["method"].tolist() == ["contour", "straight", "straight", "straight"]
    assert "needs heights" in table["problem"][0]
    assert (table["covered"][1:] > 0.9).all()
    assert table["grade_p95_pct"].isna().all()


def test_progress_names_the_setting_and_never_goes_back():
    told = []
    rules = (RowRule(method="straight"), RowRule())
    compare_settings(
        square_ground(60),
        plane(size_m=60),
        rules,
        own=RowRule(),
        progress=lambda what, share: told.append((what, share)),
    )
    names = list(dict.fromkeys(what for what, _ in told))
    assert names == [
        "setting 1 of 2: straight, 4 % grade, 10 % spacing",
        "setting 2 of 2: contour, 4 % grade, 10 % spacing",
    ]
    for name in names:
        shares = [share for what, share in told if what == name]
        assert shares[0] == 0.0
        assert shares[-1] == 1.0
