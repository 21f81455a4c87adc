"""Tape, baseline, level and receiver tables, on rows whose answers can be worked by hand."""

import re
from pathlib import Path

import numpy as np
import pytest
from builders import square_site, straight_beds, straight_rows
from hypothesis import given, settings
from hypothesis import strategies as st
from ruamel.yaml import YAML
from shapely import LineString
from stakeout_builders import EAST, NO_BEDS, NORTH, StakeRule, arc_rows, marks_along, plane, rows_from

from geoagro.errors import LayoutError
from geoagro.stakeout.figures import fixed_count, safe_step, worst_off_tape
from geoagro.stakeout.offsets import baseline_offsets, choose_baseline, level_checks, tape_offsets
from geoagro.stakeout.receivers import CLASSES, advice, spacing_errors, spacing_samples
from geoagro.stakeout.records import figures
from geoagro.stakeout.stake_out import stake_out
from geoagro.values import survey as survey_values
from geoagro.values.layers import LayerSpec
from geoagro.values.rows import TREE_ROWS, TreeRows


def marks_of(rows, terrain=None, **rule):
    return marks_along(rows, terrain=terrain, **rule)


def test_between_straight_rows_the_tape_is_the_spacing_on_either_side():
    rows = straight_rows(slope=0.10)
    table = tape_offsets(rows, marks_of(rows, plane()), plane())
    assert table["level_m"].to_numpy() == pytest.approx(4.5)
    assert table["ground_m"].to_numpy() == pytest.approx(4.5 * np.hypot(1, 0.10))
    assert (table.loc[table["side"] == "up", "to_row"] == table.loc[table["side"] == "up", "row"] - 1).all()
    assert table.loc[table["side"] == "up", "rise_m"].to_numpy() == pytest.approx(0.45)
    assert table.loc[table["side"] == "down", "rise_m"].to_numpy() == pytest.approx(-0.45)
    assert len(table) == 2 * 5 * 22 - 2 * 5  # the first row has none above, the last none below


def test_the_tape_ends_beside_the_mark_that_is_named():
    rows = arc_rows(5)
    marks = marks_of(rows)
    at = marks.set_index("stake")[["x", "y"]]
    table = tape_offsets(rows, marks, None)
    assert table["ground_m"].isna().all()
    line = dict(zip(rows.frame["row"], rows.frame.geometry, strict=True))
    for item in table.itertuples():
        end = line[item.to_row].interpolate(item.to_station_m)
        x, y = at.loc[item.stake]
        assert np.hypot(end.x - x, end.y - y) == pytest.approx(item.level_m, abs=1e-6)
        near_x, near_y = at.loc[item.near_stake]
        gap = np.hypot(end.x - near_x, end.y - near_y)
        assert gap == pytest.approx(abs(item.from_near_stake_m), rel=1e-2, abs=1e-3)


@settings(max_examples=10, deadline=None)
@given(ax=st.floats(-50, 50), ay=st.floats(-50, 50), bearing=st.floats(0, 2 * np.pi), length=st.floats(20, 200))
def test_a_mark_can_be_set_again_from_its_offsets(ax, ay, bearing, length):
    a = np.array([EAST + ax, NORTH + ay])
    b = a + length * np.array([np.cos(bearing), np.sin(bearing)])
    marks = marks_of(arc_rows(3))
    table = baseline_offsets(marks, choose_baseline(marks, (tuple(a), tuple(b))))
    along = (b - a) / np.hypot(*(b - a))
    left = np.array([-along[1], along[0]])
    offset = np.where(table["side"] == "left", 1, -1) * table["offset_m"]
    again = a + np.outer(table["baseline_m"], along) + np.outer(offset, left)
    assert again == pytest.approx(marks[["x", "y"]].to_numpy(), abs=1e-6)
    assert np.hypot(table["baseline_m"], table["offset_m"]).to_numpy() == pytest.approx(table["from_a_m"].to_numpy())


def test_without_a_baseline_the_row_ends_farthest_apart_are_pegged():
    marks = marks_of(straight_rows())
    baseline = choose_baseline(marks, "auto")
    assert {baseline.a_name[:2], baseline.b_name[:2]} == {"1-", "22"}
    assert np.hypot(*(np.subtract(baseline.b, baseline.a))) == pytest.approx(np.hypot(100, 21 * 4.5))


def test_level_checks_follow_the_slope():
    rows = rows_from([LineString([(EAST, NORTH), (EAST + 30, NORTH + 40)])])
    table = level_checks(marks_of(rows, plane(slope=0.05)), a_frame_m=2.0)
    assert table["distance_m"].tolist() == pytest.approx([25, 25])
    assert table["rise_m"].tolist() == pytest.approx([1.0, 1.0])
    assert table["grade_pct"].tolist() == pytest.approx([4.0, 4.0])
    assert table["a_frame_mm"].tolist() == pytest.approx([80.0, 80.0])


# receivers


def test_spacing_error_of_straight_rows_agrees_with_the_formula():
    """At a stake two independent errors meet (sigma root 2); between stakes at share t each is a weighted mean."""
    rows = straight_rows()
    marks = marks_of(rows)
    samples = spacing_samples(marks, 4.5)
    sigma = 0.05
    error = spacing_errors(samples, sigma, rounds=60)
    share = samples.share
    expected = sigma * np.sqrt(2 * np.mean((1 - share) ** 2 + share**2))
    assert error.std() == pytest.approx(expected, rel=0.05)
    assert error.mean() == pytest.approx(0.0, abs=0.005)


def test_the_same_seed_gives_the_same_errors():
    marks = marks_of(arc_rows(4))
    samples = spacing_samples(marks, 4.5)
    assert np.array_equal(spacing_errors(samples, 0.3), spacing_errors(samples, 0.3))
    assert spacing_errors(samples, 0.0) == pytest.approx(0.0)


def test_receiver_classes_keep_to_their_published_figures():
    chance = np.random.default_rng(1).normal(size=(200_000, 2))
    away = np.hypot(*chance.T)
    assert np.quantile(away, 0.95) * CLASSES["phone"].sigma_m == pytest.approx(4.9, rel=0.01)
    assert away.mean() * CLASSES["phone_under_trees"].sigma_m == pytest.approx(10.0, rel=0.01)
    assert np.sqrt((away**2).mean()) * CLASSES["rtk"].sigma_m == pytest.approx(0.013, rel=0.01)


def test_advice_goes_from_every_stake_to_tape_only():
    assert str(advice(0.02, 0.45, "7")) == "Set every stake with it."
    assert "check the distance" in str(advice(0.40, 0.45, "7"))
    assert "every second row" in str(advice(0.63, 0.45, "7"))
    assert "row 7 first, as the base row" in str(advice(4.0, 0.45, "7"))


# figures


def test_fixed_steps_are_counted_with_both_ends():
    lines = np.array([LineString([(0, 0), (95, 0)]), LineString([(0, 5), (40, 5)])])
    assert fixed_count(lines, 10.0) == 11 + 5


def test_the_longest_safe_step_keeps_the_tolerance_and_one_more_breaks_it():
    rows = arc_rows(3)
    lines, rule = rows.frame.geometry.to_numpy(), StakeRule()
    step = safe_step(lines, rule)
    assert worst_off_tape(lines, step) <= rule.tolerance_m < worst_off_tape(lines, step + 1)


def test_a_field_is_staked_out_whole():
    rows = straight_rows()
    result = stake_out(rows, straight_beds(rows), square_site(), plane(), StakeRule(tolerance_m=0.05))
    found = result.summary
    assert found[figures.MARKS] == len(result.marks) == 110
    assert found[figures.MARKS_PER_HA] == pytest.approx(110 / 0.99)
    assert found.at(figures.COMMON_PER_HA) == {10.0: pytest.approx(22 * 11 / 0.99)}
    assert found[figures.BETWEEN] == pytest.approx(21 * 4.5)
    assert set(found.at(figures.MARKS_AT_TOLERANCE)) == {0.1, 0.2}
    assert result.receivers["error_p95_m"].is_monotonic_increasing is False
    assert result.height_source == "a plane built by a test"


def test_nothing_to_stake_out_is_said():
    nothing = TreeRows(TREE_ROWS.empty(), 4.5, None)
    with pytest.raises(LayoutError, match="no rows to stake out"):
        stake_out(nothing, NO_BEDS, square_site(), None, StakeRule())


def test_the_guide_shows_settings_that_exist_and_layers_that_are_written():
    text = (Path(__file__).parents[1] / "geoagro" / "guide" / "stakes.md").read_text(encoding="utf-8")
    shown = YAML(typ="safe").load(text.split("```yaml")[1].split("```")[0])
    assert StakeRule.model_validate(shown["stakeout"]).paper == "a4"
    named = set(re.findall(r"`(\w+)`", text))
    specs = {spec.name for spec in vars(survey_values).values() if isinstance(spec, LayerSpec)} - {"plants"}
    assert specs <= named
