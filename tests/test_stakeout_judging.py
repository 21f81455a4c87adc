"""Surveys judged before they are counted: names trusted, what moved everything, the receiver against planting.

Truth, bias and coverage come from simulation (scripts/simulate_surveys.py, few surveys here, 200 by the script).
"""

import importlib
from pathlib import Path

import numpy as np
import pytest
from builders import straight_beds, straight_rows
from hypothesis import given, settings
from hypothesis import strategies as st
from outputs_builders import plants_along
from stakeout_builders import EAST, NO_BEDS, NORTH, arc_rows, marks_along
from test_stakeout_survey import survey_of

from geoagro.errors import LayoutError
from geoagro.stakeout.alignment import aligned
from geoagro.stakeout.as_built import as_built
from geoagro.stakeout.plots import PlotRule, lay_plots


@pytest.fixture
def simulate(monkeypatch):
    monkeypatch.syspath_prepend(Path(__file__).parents[1] / "scripts")
    return importlib.import_module("simulate_surveys")


def planted(step_m=2.0):
    rows = straight_rows()
    return rows, plants_along(rows, step_m=step_m).frame


def said(result):
    return " ".join(f"{f.level}: {f.text}" for f in result.findings)


# names


def test_all_trees_by_number_with_a_phone_come_out_as_they_are():
    """The case of 3 m noise and 7 % dead: by place it would be 3.4 % alive."""
    rows, plants = planted(step_m=1.0)
    chance = np.random.default_rng(7)
    dead = chance.uniform(size=len(plants)) < 0.07
    xy = plants[["x", "y"]].to_numpy() + chance.normal(0, 3.0, (len(plants), 2))
    survey = survey_of(xy, what="plants", names=plants["plant"], status=np.where(dead, "dead", "planted"))
    result = as_built(survey, rows, straight_beds(rows), plants=plants)
    whole = result.survival.iloc[0]
    assert (whole["alive"], whole["dead"], whole["missing"]) == ((~dead).sum(), dead.sum(), 0)
    assert result.replant["plant"].tolist() == plants["plant"][dead].tolist()
    assert result.accuracy.scatter_m == pytest.approx(3.0, rel=0.03)
    assert result.extra == ()
    assert not result.row_offsets["off_place"].any()
    assert "the receiver's error is at most that" in said(result)
    assert result.areas.set_index("item").loc["tree_beds_planted", "built_m2"] == pytest.approx(
        2200 * (1 - dead.mean()), rel=0.01
    )


def test_unknown_names_are_told_by_name_and_most_of_them_are_refused():
    rows, plants = planted()
    xy = plants[["x", "y"]].to_numpy()
    names = plants["plant"].astype(str).to_numpy().copy()
    names[:2] = ["T-1", "oak"]
    moved = xy.copy()
    moved[:2] += 1.4  # beside no plant
    result = as_built(survey_of(moved, what="plants", names=names), rows, NO_BEDS, plants=plants)
    assert "2 surveyed points match no plant of the design: T-1, oak" in said(result)
    chance = np.random.default_rng(1).normal(0, 3, xy.shape)
    wrong = survey_of(xy + chance, what="plants", names=[f"T-{k}" for k in range(len(xy))])
    with pytest.raises(LayoutError, match=r"(?s)T-0, T-1, T-2 aren't names of plants here|can't be matched by place"):
        as_built(wrong, rows, NO_BEDS, plants=plants)


def test_an_unknown_name_that_is_taken_by_place_for_a_plant_is_said():
    rows, plants = planted()
    names = plants["plant"].astype(str).to_numpy().copy()
    names[4] = "X4"
    result = as_built(
        survey_of(plants[["x", "y"]].to_numpy(), what="plants", names=names), rows, NO_BEDS, plants=plants
    )
    assert f"taken for the nearest free plant: X4 (plant {plants['plant'].iloc[4]}, {plants['crop'].iloc[4]})" in said(
        result
    )
    assert result.extra == ()


def test_a_phone_without_numbers_is_refused_with_the_likely_cause():
    rows, plants = planted()
    xy = plants[["x", "y"]].to_numpy()
    phone = survey_of(xy + np.random.default_rng(1).normal(0, 3, xy.shape), what="plants")
    with pytest.raises(LayoutError, match=r"the receiver's error is likely larger than half the distance"):
        as_built(phone, rows, NO_BEDS, plants=plants, covers="all")


def test_numbers_mixed_up_between_two_plants_are_doubted_only_where_positions_can_tell():
    rows, plants = planted()
    xy = plants[["x", "y"]].to_numpy()
    names = plants["plant"].to_numpy().copy()
    names[[3, 900]] = names[[900, 3]]
    result = as_built(survey_of(xy, what="plants", names=names), rows, NO_BEDS, plants=plants)
    assert "2 names lie more than 5.0 m" in said(result)
    assert (result.plants["state"] == "alive").all()


def test_a_number_with_another_crop_is_not_the_plant_planned():
    rows, plants = planted()
    crop = plants["crop"].to_numpy().copy()
    crop[4] = "eucalypt" if crop[4] != "eucalypt" else "banana"
    survey = survey_of(plants[["x", "y"]].to_numpy(), what="plants", names=plants["plant"], crop=crop)
    result = as_built(survey, rows, NO_BEDS, plants=plants)
    assert result.plants["state"].iloc[4] == "missing"
    assert f"5 ({crop[4]}, planned {plants['crop'].iloc[4]})" in said(result)


def test_numbers_without_positions_are_counted():
    rows, plants = planted()
    nowhere = np.full((len(plants), 2), np.nan)
    status = np.select([plants["plant"] == 5, plants["plant"] == 9], ["dead", "not looked at"], "planted")
    result = as_built(
        survey_of(nowhere, what="plants", names=plants["plant"], status=status), rows, NO_BEDS, plants=plants
    )
    whole = result.survival.iloc[0]
    assert (whole["surveyed"], whole["dead"], whole["missing"]) == (len(plants) - 1, 1, 0)


def test_plants_replaced_since_live_and_are_told_apart():
    rows, plants = planted()
    status = np.where(plants["plant"] <= 10, "replaced", "planted")
    survey = survey_of(plants[["x", "y"]].to_numpy(), what="plants", names=plants["plant"], status=status)
    result = as_built(survey, rows, straight_beds(rows), plants=plants)
    assert result.survival.iloc[0][["alive", "replaced"]].tolist() == [len(plants), 10]
    assert len(result.replant) == 0


# everything moved


@settings(max_examples=8, deadline=None)
@given(
    east=st.floats(-8, 8), north=st.floats(-8, 8), turn=st.floats(-15, 15), grow=st.floats(0.98, 1.02),
    seed=st.integers(0, 99),
)  # fmt: skip
def test_a_similarity_is_found_again_though_a_third_of_the_pairs_are_wrong(east, north, turn, grow, seed):
    chance = np.random.default_rng(seed)
    design = chance.uniform(0, 200, (300, 2)) + np.array([EAST, NORTH])
    middle = design.mean(axis=0)
    z = (design - middle) @ np.array([1, 1j]) * grow * np.exp(-1j * np.radians(turn)) + east + 1j * north
    survey = np.column_stack([z.real, z.imag]) + middle + chance.normal(0, 0.02, design.shape)
    survey[:100] += chance.uniform(-50, 50, (100, 2))
    found = aligned(design, survey, np.arange(300)).similarity
    worst = np.abs(found.undone(survey[100:]) - design[100:]).max()
    assert worst < 0.20
    assert found.done(design[100:]) == pytest.approx(survey[100:], abs=0.20)


@pytest.mark.parametrize("named", [True, False])
def test_stakes_shifted_by_a_wrong_base_are_said_and_undone_only_when_asked(named):
    rows = arc_rows(12)
    marks = marks_along(rows)
    off = 1.20 * np.sqrt(0.5)
    xy = marks[["x", "y"]].to_numpy() + off + np.random.default_rng(2).normal(0, 0.02, (len(marks), 2))
    survey = survey_of(xy, names=marks["stake"] if named else None)
    if named:
        result = as_built(survey, rows, NO_BEDS, marks=marks)
        assert "all points lie alike: 1.20 m north-east of their places; check the base" in said(result)
        assert result.marks["away_m"].median() == pytest.approx(1.20, abs=0.01)
        assert result.alignment.after_m < 0.03
    else:
        with pytest.raises(
            LayoutError,
            match=r"all points lie alike: 1.20 m north-east of their places; check the base.*--repair shift",
        ):
            as_built(survey, rows, NO_BEDS, marks=marks)
    result = as_built(survey, rows, NO_BEDS, marks=marks, undo=True)
    assert result.marks["found"].all()
    assert result.marks["away_m"].median() < 0.04
    assert result.survey.points["x"].iloc[0] == xy[0, 0]  # the survey stays as it was read
    assert [f.level for f in result.findings if "undone" in f.text] == ["repair"]


def test_a_turn_by_magnetic_north_is_told_with_its_angle():
    rows = arc_rows(12)
    marks = marks_along(rows)
    middle = marks[["x", "y"]].to_numpy().mean(axis=0)
    z = (marks[["x", "y"]].to_numpy() - middle) @ np.array([1, 1j]) * np.exp(-1j * np.radians(4.0))
    xy = np.column_stack([z.real, z.imag]) + middle
    result = as_built(survey_of(xy, names=marks["stake"]), rows, NO_BEDS, marks=marks)
    assert "turned clockwise by 4.00 degrees; check whether bearings were taken from magnetic" in said(result)
    unnamed = survey_of(xy)
    with pytest.raises(LayoutError, match=r"turned clockwise by 4\.0. degrees"):
        as_built(unnamed, rows, NO_BEDS, marks=marks)
    assert as_built(unnamed, rows, NO_BEDS, marks=marks, undo=True).marks["found"].mean() > 0.98


def test_nothing_to_undo_is_said():
    rows = arc_rows(6)
    marks = marks_along(rows)
    with pytest.raises(LayoutError, match="--repair shift has nothing to undo"):
        as_built(survey_of(marks[["x", "y"]].to_numpy(), names=marks["stake"]), rows, NO_BEDS, marks=marks, undo=True)


def test_the_difference_between_the_two_feet_is_recognised_by_its_shift():
    """US survey feet taken for feet: 2 parts in a million, 10 m at a northing of 5,000 km (legal definitions)."""
    rows = arc_rows(12)
    marks = marks_along(rows)
    xy = marks[["x", "y"]].to_numpy() * (0.3048 / (1200 / 3937))
    result = as_built(survey_of(xy, names=marks["stake"]), rows, NO_BEDS, marks=marks)
    assert "feet were probably taken where the file holds US survey feet" in said(result)


# rows and receiver


def test_a_row_off_its_place_is_named_with_side_and_distance():
    rows, plants = planted()
    xy = plants[["x", "y"]].to_numpy().copy()
    xy[plants["row"] == 3, 1] -= 0.40  # south is downslope
    xy[plants["row"] == 9, 1] += 0.25
    xy += np.random.default_rng(3).normal(0, 0.03, xy.shape)
    result = as_built(survey_of(xy, what="plants", names=plants["plant"]), rows, NO_BEDS, plants=plants)
    assert "2 rows off their place: row 3 stands 0.40 m downslope, row 9 stands 0.2" in said(result)
    assert "m upslope" in said(result)


def test_points_measured_again_tell_the_receiver_from_planting(simulate):
    told = simulate.simulated("measured_again", 3, rows=8)
    assert np.mean([t.said for t in told["the receiver's own, m"]]) == pytest.approx(0.30, abs=0.04)
    assert np.mean([t.said for t in told["receiver and plants, m"]]) == pytest.approx(np.hypot(0.3, 0.1), abs=0.02)


# simulated surveys

SIMULATED: dict = {}  # each case is simulated once for all its quantities


@pytest.mark.parametrize(
    ("case", "quantity", "tolerance"),
    [
        ("phone_with_numbers", "survival", 0.02),
        ("phone_with_numbers", "noise of the receiver, m", 0.15),
        ("phone_with_numbers", "area as built, share", 0.01),
        ("drifting_phone", "survival", 0.02),
        ("drifting_phone", "area as built, share", 0.01),
        ("drifting_phone", "told that all points moved", 0.0),
        ("phone_without_numbers", "refused for its receiver", 0.0),
        ("without_numbers", "survival", 0.02),
        ("rows_off", "row 8, m across", 0.02),
        ("rows_off", "rows named rightly, of 2", 0.0),
        ("rows_off", "rows named wrongly", 0.0),
        ("wrong_base", "shift east, m", 0.005),
        ("magnetic_north", "turn, degrees", 0.01),
        ("nothing_wrong", "told that all points moved", 0.0),
        ("feet_of_another_kind", "shift north, m", 0.01),
        ("feet_of_another_kind", "told that it is the unit", 0.0),
        ("undone_shift", "half lie within, m", 0.003),
        ("undone_shift", "survival", 0.02),
        ("undone_shift", "rows named though in place", 0.0),
        ("unknown_points", "points that match nothing", 0.0),
        ("unknown_points", "first of them named", 0.0),
        ("replanting_list", "of the dead listed, share", 0.0),
        ("replanting_list", "listed though alive", 0.0),
    ],
)
def test_surveys_by_chance_come_out_at_the_truth(simulate, case, quantity, tolerance):
    if case not in SIMULATED:
        SIMULATED[case] = simulate.simulated(case, 3, rows=16)
    told = SIMULATED[case][quantity]
    assert np.mean([t.said - t.truth for t in told]) == pytest.approx(0.0, abs=tolerance)


def test_a_slow_drift_is_not_taken_for_a_shift(simulate):
    """Drift of 2 m that goes together over three rows of 24, noise of 3 m: aim 1 in 1,000, at most 2 of 250 here."""
    one = simulate.field(24)
    xy, row = one.plants[["x", "y"]].to_numpy()[::4], one.plants["row"].to_numpy()[::4]
    false = 0
    for seed in range(250):
        chance = np.random.default_rng(seed)
        seen = xy + chance.normal(0, 3.0, xy.shape) + simulate.drift(chance, row, 2.0)
        false += bool(aligned(xy, seen, row).told)
    assert false <= 2


def test_intervals_of_sample_plots_hold_the_truth(simulate):
    told = simulate.simulated("sample_plots", 12, rows=16)["survival of the field"]
    assert simulate.coverage(told) >= 0.75  # 0.95 expected; 200 surveys by the script


# areas and words


def test_rows_staked_whole_keep_their_area_whatever_the_receiver():
    rows = straight_rows()
    marks = marks_along(rows)
    xy = marks[["x", "y"]].to_numpy() + np.random.default_rng(4).normal(0, 3.0, (len(marks), 2))
    result = as_built(survey_of(xy, names=marks["stake"]), rows, straight_beds(rows), marks=marks)
    assert result.areas.iloc[0]["built_m2"] == pytest.approx(result.areas.iloc[0]["designed_m2"])
    assert (result.rows_found["state"] == "found").all()


def test_crops_not_asked_for_are_left_out_of_the_tables():
    rows, plants = planted()
    bananas = (plants["crop"] == "banana").to_numpy()
    survey = survey_of(plants[["x", "y"]].to_numpy()[bananas], what="plants", crop="banana")
    result = as_built(survey, rows, NO_BEDS, plants=plants, crops=("banana",))
    assert set(result.survival["crop"]) == {"all", "banana"}
    assert result.survival["survival_pct"].notna().all()
    assert result.survival.iloc[0]["planned"] == bananas.sum()


def test_plots_say_that_they_cover_plots_and_what_that_means_for_the_field():
    rows, plants = planted()
    xy = plants[["x", "y"]].to_numpy()
    area = straight_beds(rows).tree_beds.geometry.union_all().buffer(2)
    plots, _ = lay_plots(area, xy, crs=plants.crs, rule=PlotRule(radius_m=5.642, precision_pct=10, correlation=0.0))
    lives = np.random.default_rng(8).uniform(size=len(xy)) < 0.7
    survey = survey_of(xy, what="plants", names=plants["plant"], status=np.where(lives, "planted", "dead"))
    result = as_built(survey, rows, NO_BEDS, plants=plants, plots=plots, covers="plots")
    (text,) = [f.text for f in result.findings if f.where == "plots"]
    assert f"cover the sample plots only: {plots['plants'].sum()} of {len(plants):,} plants" in text
    low, high = (int(v) for v in text.split("(")[1].split(",")[0].split(" to "))
    assert low <= (~lives).sum() <= high
