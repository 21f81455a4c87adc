"""What changes over the years: thinning, coppice, pruning in season, replacing, turns of the beds, cover crops."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest
import season_cases as cases
from plants_builders import crop, stand
from pydantic import ValidationError

from geoagro.inputs.design.crop_library import read_crop_library
from geoagro.inputs.design.file import read_design
from geoagro.season.harvest import bearing_with_deaths
from geoagro.season.husbandry.work_rates import fell_rate
from geoagro.season.records.figures import Key
from geoagro.season.records.tables import COVER_PLANTING
from geoagro.values.design import Design
from geoagro.values.recipe import Crop, Planting
from geoagro.values.rules.care import WEEKS_PER_YEAR, coppice_weeks, pruning_weeks, prunings_a_year
from geoagro.values.rules.turns import in_turns
from geoagro.values.season import CropSeason, SeasonRule
from geoagro.values.timeline import Stay, Timeline

LIBRARY = read_crop_library()


def with_crop(code, **changes):
    crops = {**cases.RULE["crops"], code: {**cases.RULE["crops"][code], **changes}}
    return cases.rule(crops=crops)


def hours(plan, task):
    return plan.labour.loc[plan.labour["task"] == task, "hours"].sum()


# --- thinning ----------------------------------------------------------------------------------------------------


def test_thinning_leaves_the_share_asked_for_evenly_along_the_row():
    thin = [{"year": 5, "keep_pct": 50}, {"year": 10, "keep_pct": 25}]
    plants, _ = stand([{"crop": "a", "spacing_m": 0.5, "thin": thin}], {"a": crop(harvest_weeks=(1500, 2000))})
    weeks = plants.frame["harvest_to_week"]
    step = [round(y * WEEKS_PER_YEAR) for y in (5, 10)]
    for _, line in plants.frame.groupby("bed"):
        assert (line["harvest_to_week"] == 2000).mean() == pytest.approx(0.25, abs=1 / len(line))
        assert (line["harvest_to_week"] >= step[1]).mean() == pytest.approx(0.5, abs=1 / len(line))
        stays = line.loc[line["harvest_to_week"] == 2000, "station_m"].sort_values().diff().dropna()
        assert np.allclose(stays, 4 * 0.5)
    assert set(weeks) == {*step, 2000}


def test_thinned_plants_are_gone_from_the_timeline():
    rules = {"a": crop(harvest_weeks=(1500, 2000))}
    plants, _ = stand([{"crop": "a", "spacing_m": 0.5, "thin": [{"year": 5, "keep_pct": 50}]}], rules)
    timeline = Timeline.of(plants.frame, rules)
    before, after = timeline.standing(100), timeline.standing(400)
    assert after == pytest.approx(before / 2, abs=len(plants.frame["bed"].unique()))


def test_steps_of_thinning_must_take_more_each_time():
    with pytest.raises(ValidationError, match="smaller share"):
        Planting(crop="teak", bed="tree", thin=[{"year": 5, "keep_pct": 50}, {"year": 8, "keep_pct": 60}])


def test_felling_a_tree_grows_with_the_square_of_its_height_at_that_age():
    trees = (("teak", "teak", "tree", 4.0, 0, 1500, 104), *cases.RECIPE[2:])
    young = (("teak", "teak", "tree", 4.0, 0, 1500, 52), *cases.RECIPE[2:])
    cases.CROPS["teak"] = Crop(
        habit="tree", harvest="cut", material="seedling", height_m=10.0, full_size_weeks=208, harvest_weeks=(1500, 1560)
    )
    try:
        crops = {**cases.RULE["crops"], "teak": {"deaths_pct": []}}
        rule = cases.rule(crops={c: v for c, v in crops.items() if c not in ("lemon", "gliricidia")})
        old_plan, young_plan = (cases.plan(rule, size_m=30, recipe=recipe) for recipe in (trees, young))
    finally:
        del cases.CROPS["teak"]
    assert hours(old_plan, "fell") == pytest.approx(4 * hours(young_plan, "fell"), rel=0.01)
    places = old_plan.calendar.loc[old_plan.calendar["task"] == "fell", "places"].sum()
    full = fell_rate(Crop(height_m=10.0), "hand").likely
    assert hours(old_plan, "fell") / places == pytest.approx(full * 0.25, rel=0.01)
    told = old_plan.calendar.loc[old_plan.calendar["task"] == "fell", "caution"]
    assert told.str.contains("licensed").all()


# --- pruning in season and coppice ---------------------------------------------------------------------------------


def test_pruning_falls_into_the_months_that_are_named():
    own = CropSeason(prune_months=(2, 8))
    weeks = pruning_weeks(0, 260, Crop(habit="tree"), own, date(2027, 3, 1))
    months = [(np.datetime64("2027-03-01") + 7 * w).astype("datetime64[M]").astype(int) % 12 + 1 for w in weeks]
    assert set(months) == {2, 8}
    assert len(weeks) == 9  # from half a year after planting to the end of five years: Feb 2028 to Feb 2032


def test_pruning_without_a_date_is_spread_over_the_year():
    assert pruning_weeks(0, 105, Crop(habit="tree"), CropSeason(prune_months=(2, 8))) == (26, 52, 78, 104)


def test_light_and_work_read_the_same_prunings():
    _beds, plants = cases.field(30.0)
    rule = with_crop("lemon", prune_months=[2])
    plan = cases.plan(rule, size_m=30)
    lemon = next(k for k in Timeline.of(plants.frame, cases.CROPS, rule, start=cases.START).kinds if k.crop == "lemon")
    cut = plan.calendar[(plan.calendar["task"] == "prune") & (plan.calendar["crop"] == "lemon")]
    assert set(cut["earliest"].dt.month) == {2}
    within = [w for w in lemon.stays[0].prunings if 7 * w <= 6 * 365]
    assert len(cut) == len(within)


def test_a_coppiced_tree_is_cut_to_the_stump_and_grows_again():
    weeks = coppice_weeks(0, 1000, CropSeason(coppice_years=4))
    assert weeks == (209, 417, 626, 835)
    stay = Stay(1, 0, 52, 1000, 1000, (), weeks)
    assert stay.size(208, 104) == 1.0
    assert stay.size(209, 104) == 0.0
    assert stay.size(261, 104) == pytest.approx(0.5)


def test_coppice_bears_the_years_since_the_last_cut_and_is_felled_for_it():
    yearly = cases.plan(with_crop("gliricidia", price=0.1), size_m=30)
    coppiced = cases.plan(with_crop("gliricidia", price=0.1, coppice_years=2), size_m=30)
    mine = coppiced.yields[coppiced.yields["crop"] == "gliricidia"]
    assert sorted(mine["month"].dt.year.unique()) == [2029, 2031, 2033] or sorted(mine["month"].dt.year.unique()) == [
        2029,
        2031,
    ]
    every = yearly.yields[yearly.yields["crop"] == "gliricidia"]
    assert mine["kg_likely"].max() < 2.2 * every.groupby(every["month"].dt.year)["kg_likely"].sum().max()
    assert hours(coppiced, "fell") > 0
    assert hours(yearly, "fell") == 0


def test_mulch_of_a_year_is_the_yield_of_a_year_however_often_it_is_pruned():
    """5 kg of prunings a tree and year (the record's yield) come in two or four parts, not two or four times."""
    given = {}
    for rounds in (2, 4):
        plan = cases.plan(with_crop("gliricidia", prune_rounds=rounds), size_m=30)
        table = plan.nutrients[(plan.nutrients["way"] == "given") & (plan.nutrients["month"].dt.year == 2030)]
        given[rounds] = table["kg"].sum()
    trees = (cases.field(30.0)[1].frame["crop"] == "gliricidia").sum()
    assert given[2] == pytest.approx(5 * trees, rel=0.01)
    assert given[4] == pytest.approx(given[2], rel=0.01)


def test_own_weight_of_prunings_comes_back_as_mulch():
    plan = cases.plan(with_crop("lemon", prunings_kg=3.0), size_m=30)
    table = plan.nutrients[(plan.nutrients["way"] == "given") & (plan.nutrients["crop"] == "lemon")]
    trees = (cases.field(30.0)[1].frame["crop"] == "lemon").sum()
    assert table.loc[table["month"].dt.year == 2031, "kg"].sum() == pytest.approx(3.0 * trees, rel=0.01)


def test_rounds_of_pruning_by_kind_of_plant():
    assert prunings_a_year(LIBRARY["apple"], CropSeason()) == 1
    assert prunings_a_year(LIBRARY["gliricidia"], CropSeason()) == 2
    assert prunings_a_year(LIBRARY["maize"], CropSeason()) == 0
    assert prunings_a_year(LIBRARY["gliricidia"], CropSeason(coppice_years=3)) == 0


# --- replacing what dies -------------------------------------------------------------------------------------------


def test_what_dies_is_bought_and_planted_again_a_year_later():
    none, some = (cases.plan(with_crop("lemon", deaths_pct=d), size_m=60) for d in ([], [10]))
    trees = (cases.field(60.0)[1].frame["crop"] == "lemon").sum()
    again = some.calendar[some.calendar["task"] == "replace"]
    assert again["places"].sum() == round(0.1 * trees)
    assert (again["earliest"].dt.year == 2028).all()
    pieces = [plan.material.set_index("crop").loc["lemon", "total"] for plan in (none, some)]
    assert pieces[1] - pieces[0] == pytest.approx(0.1 * trees / 0.95, abs=2)
    assert some.figure(Key.MATERIAL_COST) > none.figure(Key.MATERIAL_COST)
    assert some.figure(Key.INCOME) < none.figure(Key.INCOME)


def test_replaced_trees_bear_as_much_later():
    curve = bearing_with_deaths((0, 0, 0.5, 1), (0.2,))
    assert curve.tolist() == pytest.approx([0, 0, 0.4, 0.9, 1.0])
    assert bearing_with_deaths((0, 1), ()).tolist() == [0, 1]


# --- another recipe in the next round --------------------------------------------------------------------------------


def design(plantings, **season):
    return Design.model_validate(
        {
            "name": "turns",
            "inputs": {"boundary": {"file": "b.gpkg"}, "elevation": {"file": "e.tif"}},
            "start_date": "2027-03-01",
            "plantings": plantings,
            "season": {"years": 8, **season},
        }
    )


def test_turns_put_another_recipe_into_the_next_round():
    asked = [
        {"crop": "cassava", "bed": "vegetable"},
        {"crop": "maize", "bed": "vegetable", "turn": 2, "week": 3},
        {"crop": "velvet_bean", "bed": "vegetable", "turn": 3},
        {"crop": "citrus", "bed": "tree"},
    ]
    found = in_turns(design(asked, vegetables={"years": 6}))
    assert [p.week for p in found.plantings] == [0, 55, 104, 0]
    assert found.season.vegetables.by_planting == {"cassava": 156, "maize": 156, "velvet_bean": 156}


def test_turns_come_round_within_the_years_of_the_beds():
    asked = [{"crop": c, "bed": "vegetable", "turn": k} for k, c in enumerate(("cassava", "maize", "bean"), 1)]
    found = in_turns(design(asked, vegetables={"years": 7}))
    first = {p.label: (p.week, p.week + 12, p.week + 20) for p in found.plantings}
    recipe = [(code, code, "vegetable", 1.0, *weeks) for code, weeks in first.items()]
    _, plants = cases.field(20.0, 4.5, tuple(recipe))
    starts = {
        kind.crop: [stay.plant_week for stay in kind.stays]
        for kind in Timeline.of(plants.frame, LIBRARY, found.season).kinds
    }
    assert starts == {"cassava": [0, 156, 312], "maize": [52, 208], "bean": [104, 260]}


def test_trees_take_no_turns():
    with pytest.raises(ValidationError, match="trees stand through"):
        Planting(crop="apple", bed="tree", turn=2)


# --- cover crops on free beds ----------------------------------------------------------------------------------------


def covered(**changes):
    crops = cases.CROPS | {
        code: LIBRARY[code] for code in ("jack_bean", "velvet_bean", "cowpea", "rye", "hairy_vetch", "phacelia")
    }
    before = dict(cases.CROPS)
    cases.CROPS.update(crops)
    try:
        return cases.plan(cases.rule(**changes), size_m=30)
    finally:
        cases.CROPS.clear()
        cases.CROPS.update(before)


def test_cover_crops_are_sown_on_free_beds_with_seed_work_and_a_place_in_the_calendar():
    bare, sown = cases.plan(cases.rule(), size_m=30), covered(free_beds={"cover": "auto"})
    mine = sown.calendar[sown.calendar["planting"] == COVER_PLANTING]
    assert set(mine["task"]) == {"plant"}
    assert {"jack_bean", "velvet_bean"} & set(mine["crop"])
    seed = sown.material.set_index("crop")
    assert (seed.loc[list(set(mine["crop"])), "weight_kg"] > 0).all()
    assert sown.free_beds["weeks"].sum() < bare.free_beds["weeks"].sum()
    assert sown.bed_months["crops"].str.contains("bean").any()
    assert sown.figure(Key.PLACES) == bare.figure(Key.PLACES)


def test_where_frost_comes_hardy_covers_are_proposed_even_if_no_crop_of_the_field_minds_it():
    hardy = {code: {**cases.RULE["crops"].get(code, {}), "frost_tender": False} for code in cases.RULE["crops"]}
    frost = [{"name": "frost", "kind": "frost", "first": "07-01", "last": "06-30"}]
    warm, cold = (
        set(cases.plan(cases.rule(crops=hardy, windows=w), size_m=30).free_beds["cover_crop"]) for w in ([], frost)
    )
    assert "jack_bean" in warm
    assert not {"jack_bean", "velvet_bean", "cowpea"} & cold
    assert cold & {"rye+hairy_vetch", "phacelia"}


def test_a_cover_crop_is_gone_before_the_next_planting():
    plan = covered(free_beds={"cover": "auto"}, vegetables={"every_weeks": 104, "years": 5})
    tasks = plan.bed_tasks
    sown = tasks[tasks["planting"] == COVER_PLANTING]
    assert len(sown)
    cut = tasks[tasks["task"] == "cut"]
    made = tasks[tasks["task"] == "prepare"]
    for bed, part in sown.groupby("bed"):
        for begin in part["earliest"]:
            later = made.loc[(made["bed"] == bed) & (made["earliest"] > begin), "earliest"]
            ends = cut.loc[(cut["bed"] == bed) & (cut["earliest"] > begin), "earliest"]
            assert len(ends)
            assert not len(later) or ends.min() <= later.min()


def test_cover_crops_that_are_named_are_the_ones_sown():
    plan = covered(free_beds={"cover": ["rye", "hairy_vetch"], "least_weeks": 20})
    mine = plan.calendar[plan.calendar["planting"] == COVER_PLANTING]
    assert set(mine["crop"]) == {"rye", "hairy_vetch"}


def test_rules_say_what_they_hold():
    assert SeasonRule().free_beds.cover == "none"
    assert "free_beds" in SeasonRule.model_fields


def test_a_recipe_file_can_be_the_second_round(tmp_path):
    recipe = "name: after\nturn: 2\nplantings:\n  - { crop: maize, bed: vegetable }\n  - { crop: apple, bed: tree }\n"
    (tmp_path / "second.yaml").write_text(recipe)
    (tmp_path / "design.yaml").write_text(
        "name: two rounds\ninputs: { boundary: { file: b.gpkg }, elevation: { file: e.tif } }\n"
        "recipes: [second.yaml]\nplantings: [{ crop: cassava, bed: vegetable }]\nseason: { years: 4 }\n"
    )
    read = read_design(tmp_path / "design.yaml")
    assert {p.label: p.week for p in read.plantings} == {"maize": 52, "apple": 0, "cassava": 0}
    assert read.season.vegetables.by_planting == {"maize": 104, "cassava": 104}


def test_each_turn_has_its_own_bed_making_and_weeds_only_while_it_stands():
    asked = [{"crop": c, "bed": "vegetable", "turn": k} for k, c in enumerate(("cassava", "maize"), 1)]
    found = in_turns(design(asked, vegetables={"years": 4}))
    recipe = (("cassava", "cassava", "vegetable", 0.6, 0, 20, 30), ("maize", "maize", "vegetable", 0.5, 52, 65, 69))
    rule = cases.rule(
        vegetables=found.season.vegetables, crops={c: cases.RULE["crops"][c] for c in ("cassava", "maize")}
    )
    plan = cases.plan(rule, size_m=20, recipe=recipe)
    made = plan.calendar[plan.calendar["task"] == "prepare"]
    assert sorted(made["planting_no"]) == [1, 2, 3, 4]
    weeded = plan.calendar[plan.calendar["task"] == "weed"]
    week = (weeded["earliest"] - cases.pd.Timestamp(cases.START)).dt.days / 7
    assert ((week % 52) < 35).all()
