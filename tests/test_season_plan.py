from datetime import date

import numpy as np
import pandas as pd
import pytest
import season_cases as cases
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError
from shapely import MultiPolygon, box

from geoagro.errors import DesignError, LayoutError
from geoagro.season.crops import season_crops
from geoagro.season.lots import walking_order
from geoagro.season.plan import plan_season
from geoagro.season.records.figures import Key
from geoagro.values.plants import Plants
from geoagro.values.recipe import Crop
from geoagro.values.season import Range, SeasonRule
from geoagro.values.zones import ZONES

STANDARD = cases.standard_plan()


def texts(plan, level="warning"):
    return " ".join(plan.findings.loc[plan.findings["severity"] == level, "text"])


# --- sums -----------------------------------------------------------------------------------------------------


def test_hours_are_the_same_by_day_month_year_and_task():
    total = STANDARD.days["hours"].sum()
    assert STANDARD.labour["hours"].sum() == pytest.approx(total)
    assert STANDARD.years["hours"].sum() == pytest.approx(total)
    assert STANDARD.figure(Key.ALL_WORK) == pytest.approx(total)
    calendar = STANDARD.calendar
    begun_at_the_end = calendar["likely_to"].isna()  # work that the last day of the plan cuts off
    assert (calendar.loc[begun_at_the_end, "latest"] > "2033-02-28").all()
    assert calendar.loc[~begun_at_the_end, "hours"].sum() <= total <= calendar["hours"].sum()


def test_money_adds_up_from_months_to_years_to_the_balance():
    cash, years = STANDARD.cash, STANDARD.years
    for k, labour in (("low", "high"), ("likely", "likely"), ("high", "low")):
        paid = cash["material"] + cash["other"] + cash[f"labour_{labour}"]
        np.testing.assert_allclose(cash[f"net_{k}"], cash[f"income_{k}"] - paid)
        assert years[f"net_{k}"].sum() == pytest.approx(cash[f"balance_{k}"].iloc[-1])
        assert cash[f"income_{k}"].sum() == pytest.approx(STANDARD.yields[f"income_{k}"].sum())
    assert cash["material"].sum() == pytest.approx(STANDARD.material["cost"].sum())
    assert cash["labour_likely"].sum() == pytest.approx(3.0 * STANDARD.days["hours"].sum())
    assert cash["other"].sum() == pytest.approx(500 + 6 * 100 * 0.36)


def test_what_matters_most_starts_from_the_likely_present_value():
    levers = STANDARD.sensitivity
    assert levers["swing"].is_monotonic_decreasing
    assert set(levers["subject"]) == {"cassava", "sweet_potato", "maize", "lemon", "all work", "all crops"}
    likely = STANDARD.figure(Key.WORTH)
    assert (
        (levers[["at_low", "at_high"]].min(axis=1) <= likely + 1e-6)
        & (levers[["at_low", "at_high"]].max(axis=1) >= likely - 1e-6)
    ).all()


def test_harvest_of_a_crop_is_places_times_yield_whatever_the_month():
    got = STANDARD.yields.groupby("crop")[["kg_low", "kg_likely", "kg_high"]].sum()
    places = STANDARD.material.set_index("crop")["places"]
    for crop in ("cassava", "sweet_potato", "maize"):
        np.testing.assert_allclose(got.loc[crop], np.array(cases.CROPS[crop].yield_kg) * places[crop])


def test_trees_come_into_bearing_year_by_year():
    """From the third year on 25, 50, 75, 100 % of 40 kg a tree, in three harvest months."""
    lemon = STANDARD.yields.query("crop == 'lemon'")
    trees = STANDARD.material.set_index("crop").loc["lemon", "places"]
    by_winter = lemon.groupby((lemon["month"] - pd.DateOffset(months=2)).dt.year)["kg_likely"].sum()
    np.testing.assert_allclose(by_winter, trees * 40 * np.array([0.25, 0.5, 0.75]))
    assert set(lemon["month"].dt.month) == {11, 12, 1}


def test_trees_planted_later_come_into_bearing_by_their_own_age():
    first, *others = cases.RECIPE
    assert first[0] == "lemon"
    later = ((*first[:4], 104, 260, 1144), *others)  # two years after the others
    winters = []
    for recipe in (cases.RECIPE, later):
        lemon = cases.plan(cases.rule(years=8), recipe=recipe).yields.query("crop == 'lemon'")
        winters.append(lemon.groupby((lemon["month"] - pd.DateOffset(months=2)).dt.year)["kg_likely"].sum())
    early, late = winters
    assert list(late.index) == [year + 2 for year in early.index][: len(late)]
    np.testing.assert_allclose(late, early.iloc[: len(late)])


def test_prunings_of_service_trees_are_mulch_unless_they_have_a_price():
    assert "gliricidia" not in set(STANDARD.yields["crop"])
    assert (STANDARD.calendar.query("crop == 'gliricidia' and task == 'prune'")["hours"] > 0).all()
    crops = cases.RULE["crops"] | {"gliricidia": {"price": 0.05}}
    sold = cases.plan(cases.rule(crops=crops)).yields.query("crop == 'gliricidia'")
    assert sold["income_likely"].sum() == pytest.approx(0.05 * sold["kg_likely"].sum())


def test_what_lives_long_bears_every_year_and_timber_is_cut_once():
    own = {"habit": "herb", "harvest": "cut", "material": "sucker", "yield_kg": (8, 15, 25)}
    records = {
        "banana": Crop(**own, harvest_weeks=(43, 260)),  # first bunch at 10-15 months (IITA ProPAS)
        "timber": Crop(**own | {"habit": "tree", "yield_kg": (100, 180, 300)}, harvest_weeks=(312, 520)),
        "pineapple": Crop(**own | {"harvest": "pick"}, harvest_weeks=(78, 104)),
    }
    settled = season_crops(records, records, cases.rule(crops={}))
    assert {code: crop.perennial for code, crop in settled.items()} == {
        "banana": True,
        "timber": False,
        "pineapple": False,
    }
    assert settled["banana"].bearing == (1.0,)


def test_a_bearing_curve_of_the_user_replaces_the_default():
    crops = cases.RULE["crops"] | {"lemon": {"bearing_pct": [0, 50, 100], "harvest_months": [12], "deaths_pct": []}}
    lemon = cases.plan(cases.rule(crops=crops)).yields.query("crop == 'lemon'")
    assert list(lemon["month"].dt.year) == [2030, 2031, 2032]  # the record's first harvest week still holds
    assert lemon["kg_likely"].nunique() == 1


# --- time -----------------------------------------------------------------------------------------------------


def test_earliest_likely_latest_are_in_order_and_nothing_is_late():
    table = STANDARD.calendar
    assert (table["earliest"] <= table["latest"]).all()
    done = table[table["likely_to"].notna()]
    assert len(done) > 0.9 * len(table)
    assert (done["likely_from"] >= done["earliest"]).all()
    assert (done["likely_to"] <= done["latest"]).all()
    assert (table["late_days"] == 0).all()


def test_nobody_works_more_than_a_day_or_on_a_day_of_rest():
    by_day = STANDARD.days.groupby("day").agg(person_days=("person_days", "sum"), people=("people", "first"))
    assert (by_day["person_days"] <= by_day["people"] + 1e-9).all()
    assert (by_day.index.day_of_week < 5).all()


def test_weeks_hold_the_same_work_and_never_more_than_the_crew_can_do():
    weeks = STANDARD.weeks
    assert weeks["person_days"].sum() == pytest.approx(STANDARD.days["person_days"].sum())
    assert (weeks["person_days"] <= weeks["capacity"] + 1e-9).all()
    assert (weeks["week"].dt.day_of_week == 0).all()
    spent = STANDARD.calendar[STANDARD.calendar["latest"] <= "2033-02-28"]["hours"].sum() / 7
    assert spent <= weeks["wanted"].sum() <= STANDARD.calendar["hours"].sum() / 7 + 1e-6


def test_helpers_and_pauses_change_what_a_week_can_hold():
    crew = {
        "people": 4,
        "pauses": [{"name": "feast", "first": "2027-03-08", "last": "2027-03-12"}],
        "helpers": [{"name": "neighbours", "first": "2027-03-15", "last": "2027-03-19", "people": 6}],
    }
    weeks = cases.plan(cases.rule(crew=crew)).weeks.set_index("week")["capacity"]
    assert weeks["2027-03-01":"2027-03-22"].tolist() == [20, 0, 50, 20]


def test_one_person_fewer_than_auto_found_would_be_late():
    fewer = cases.plan(cases.rule(crew={"people": STANDARD.people - 1}))
    assert (fewer.calendar["late_days"] > 0).any()
    assert "this work ends after its latest day" in texts(fewer)
    assert f"With {STANDARD.people:g} people nothing would be late" in texts(fewer)


def test_rows_are_planted_one_after_the_other_by_a_small_crew():
    plan = cases.plan(cases.rule(crew={"people": 1}))
    first = plan.bed_tasks.query("planting == 'cassava' and task == 'plant'").groupby("row")["likely_from"].min()
    assert first.is_monotonic_increasing
    assert first.nunique() > 5


def test_beds_are_walked_row_by_row_and_pieces_forth_and_back():
    beds, _ = cases.field(size_m=20)
    frame = beds.beds.copy()
    frame["bed"] = [f"{b}{p}" for b, p in zip(frame["bed"], ["", "a", "", "b"] * 4, strict=False)]
    order = walking_order(type(beds)(beds.tree_beds, frame, beds.paths))
    assert list(order["bed"][:3]) == ["R001-U1", "R001-T", "R001-D1a"]
    pieces = frame.iloc[[0, 0, 2, 2]].assign(bed=["R001-U1a", "R001-U1b", "R002-U1a", "R002-U1b"], row=[1, 1, 2, 2])
    order = walking_order(type(beds)(beds.tree_beds.iloc[:0], pieces, beds.paths))
    assert list(order["bed"]) == ["R001-U1a", "R001-U1b", "R002-U1b", "R002-U1a"]
    later = pieces.assign(bed=["R003-U1a", "R003-U1b", "R004-U1a", "R004-U1b"], row=[3, 3, 4, 4])
    order = walking_order(type(beds)(beds.tree_beds.iloc[:0], later, beds.paths))
    assert list(order["bed"]) == ["R003-U1a", "R003-U1b", "R004-U1b", "R004-U1a"]


def test_planting_outside_the_rains_is_moved_and_said():
    rains = [{"name": "long rains", "kind": "rains", "first": "04-01", "last": "06-15"}]
    plan = cases.plan(cases.rule(windows=rains))
    planted = plan.calendar.query("task == 'plant'")
    assert (planted["likely_from"] >= "2027-04-01").all()
    assert (planted["likely_to"] <= "2027-06-15").all()
    assert "wanted outside 'long rains' (04-01 to 06-15) on 2027-03-01 (first allowed 2027-04-01)" in texts(plan)
    assert "up to 31 days later" in texts(plan)
    assert plan.findings["severity"].tolist().count("warning") == 1


def test_frost_over_new_year_keeps_tender_crops_out_and_warns_of_standing_ones():
    frost = [{"name": "winter", "kind": "frost", "first": "11-15", "last": "03-20"}]
    plan = cases.plan(cases.rule(windows=frost))
    assert (plan.calendar.query("task == 'plant'")["likely_from"] >= "2027-03-21").all()
    assert "Lemon (planting no. 1) still stands when frost may come (2027-11-15)" in texts(plan)
    assert "Maize (planting no. 1)" not in texts(plan)


def test_a_window_without_a_day_is_refused():
    windows = [
        {"name": "rains", "kind": "rains", "first": "04-01", "last": "04-30"},
        {"name": "frost", "kind": "frost", "first": "03-01", "last": "05-31"},
    ]
    with pytest.raises(DesignError, match="leave no day to plant"):
        cases.plan(cases.rule(windows=windows))


def test_a_crew_too_small_for_the_window_plants_the_rest_next_year_and_says_so():
    rains = [{"name": "short rains", "kind": "rains", "first": "03-01", "last": "03-05"}]
    plan = cases.plan(cases.rule(windows=rains, crew={"people": 1}))
    planted = plan.material_days["day"]
    assert planted.dt.strftime("%m-%d").between("03-01", "03-05").all()
    assert planted.dt.year.nunique() > 1
    assert "this work ends after its latest day" in texts(plan)


def test_vegetable_beds_are_planted_again_with_the_yield_share_of_the_round():
    again = {"every_weeks": 52, "years": 3, "yield_pct": [100, 80, 50]}
    plan = cases.plan(cases.rule(vegetables=again))
    maize = plan.yields.query("crop == 'maize'").groupby("month")["kg_likely"].sum()
    assert list(maize.groupby(maize.index.year).sum() / maize.groupby(maize.index.year).sum().iloc[0]) == pytest.approx(
        [1, 0.8, 0.5]
    )
    assert plan.calendar.query("task == 'plant' and crop == 'maize'")["planting_no"].tolist() == [1, 2, 3]
    assert (
        plan.material.set_index("crop").loc["lemon", "places"]
        == STANDARD.material.set_index("crop").loc["lemon", "places"]
    )


def test_the_next_crop_waits_until_the_one_before_is_off_the_bed():
    recipe = (("maize", "maize", "vegetable", 0.5, 0, 13, 17), ("sweet_potato", "vines", "vegetable", 0.33, 17, 33, 43))
    pause = [{"name": "gap", "first": "2027-05-20", "last": "2027-07-20"}]
    plan = cases.plan(cases.rule(crew={"people": 8, "pauses": pause}), size_m=30, recipe=recipe)
    days = plan.bed_tasks.set_index(["bed", "crop", "task"])
    reaped = days.loc[(slice(None), "maize", "harvest"), "likely_to"].droplevel(["crop", "task"])
    planted = days.loc[(slice(None), "sweet_potato", "plant"), "likely_from"].droplevel(["crop", "task"])
    assert (planted >= reaped).all()
    assert (planted > "2027-07-20").all()  # 17 weeks after the start is 28 June
    assert "this work ends after its latest day" in texts(plan)
    assert "More people wouldn't help" in texts(plan)


def test_beds_are_made_anew_only_after_the_last_harvest_of_the_round_before():
    recipe = (("cassava", "cassava", "vegetable", 0.6, 0, 35, 52),)
    again = {"every_weeks": 52, "years": 2}
    plan = cases.plan(cases.rule(vegetables=again, crew={"people": 1}), size_m=20, recipe=recipe)
    tasks = plan.bed_tasks.set_index(["bed", "task", "planting_no"])
    reaped = tasks.loc[(slice(None), "harvest", 1), "likely_to"].droplevel(["task", "planting_no"])
    made = tasks.loc[(slice(None), "prepare", 2), "likely_from"].droplevel(["task", "planting_no"])
    assert (made >= reaped).all()


def test_perennials_in_vegetable_beds_are_not_planted_again():
    recipe = (("lemon", "nursery row", "vegetable", 2.0, 0, 156, 1040), ("maize", "maize", "vegetable", 0.5, 0, 13, 17))
    plan = cases.plan(cases.rule(vegetables={"years": 3}), size_m=20, recipe=recipe)
    cycles = plan.calendar.query("task == 'plant'").groupby("crop")["planting_no"].max()
    assert cycles.to_dict() == {"lemon": 1, "maize": 3}


def test_planting_again_before_the_first_harvest_is_said_and_yields_nothing_before_the_last_round():
    plan = cases.plan(cases.rule(vegetables={"every_weeks": 26, "years": 1}))
    assert "cassava is planted again every 26 weeks, but isn't ready before week 35" in texts(plan)
    reaped = plan.calendar.query("task == 'harvest' and crop == 'cassava'")
    assert set(reaped["planting_no"]) == {2}


def test_planting_again_within_the_harvest_window_ends_the_life_then():
    plan = cases.plan(cases.rule(vegetables={"every_weeks": 52, "years": 2}))
    assert "The crop (cassava) could stand for 56 weeks, but is planted again every 52 weeks" in texts(plan, "note")


def test_a_hectare_of_cassava_takes_the_hours_that_were_counted_elsewhere():
    """778-830 man-hours in Zaire, 1,868-2,206 in Uganda, up to 494 in South America (FAO cassava processing text)."""
    recipe = (("cassava", "cassava", "vegetable", 1.0, 0, 35, 56),)
    plan = cases.plan(cases.rule(mulch="never", years=2), size_m=60, recipe=recipe, vegetable=(5, 20, 45, 70, 85))
    area = 2 * 13 * 60.0 / 1e4  # beds of 1 m with a plant every metre: 10,000 a hectare of bed
    assert 494 < plan.days["hours"].sum() / area < 2206


# --- ground ---------------------------------------------------------------------------------------------------


def test_beds_by_month_agree_with_the_calendar_by_bed():
    bed = STANDARD.bed_months.query("bed == 'R005-D1'").set_index("month")["crops"]
    tasks = STANDARD.bed_tasks.query("bed == 'R005-D1'")
    for crop in ("cassava", "maize", "sweet_potato"):
        begin = tasks.query("crop == @crop and task == 'plant'")["likely_from"].iloc[0]
        end = tasks.query("crop == @crop and task == 'harvest'")["likely_to"].iloc[0]
        months = bed.index[bed.str.split("+").map(lambda names, c=crop: c in names)]
        assert months[0] == begin.to_period("M").to_timestamp()
        assert months[-1] == end.to_period("M").to_timestamp()


def test_a_bed_is_free_from_the_day_after_its_last_harvest():
    free = STANDARD.free_beds.query("bed == 'R005-D1'").iloc[-1]
    last = STANDARD.bed_tasks.query("bed == 'R005-D1' and task == 'harvest'")["likely_to"].max()
    assert free["free_from"] == last + pd.Timedelta(days=1)
    assert free["free_to"] == pd.Timestamp("2033-02-28")


def test_free_days_and_crops_exclude_each_other():
    months = STANDARD.bed_months
    length = months["month"].dt.days_in_month
    empty = months["crops"] == ""
    assert (months.loc[empty, "free_days"] == length[empty]).all()
    assert (months.loc[~empty, "free_days"] < length[~empty]).all()


# --- what is refused, what is said ------------------------------------------------------------------------------


def test_tasks_of_weeding_come_from_the_cover():
    closed = cases.plan(vegetable=(90, 95), tree=(90,))
    assert closed.calendar.query("task == 'weed'")["hours"].sum() < 1
    bare = cases.plan(vegetable=(0, 0), tree=(90,))
    assert bare.calendar.query("task == 'weed' and bed_kind == 'vegetable'")["round"].max() == 14  # 56 weeks / 4


def test_the_weeds_of_a_later_round_are_told_by_the_cover_of_its_own_time():
    covers = (95,) * 18 + (0,) * 22
    plan = cases.plan(cases.rule(vegetables={"every_weeks": 78, "years": 3}), vegetable=covers)
    weeds = plan.bed_tasks.query("task == 'weed' and bed == 'R004-U1'")
    assert (weeds["planting_no"] == 2).sum() > 5 * (weeds["planting_no"] == 1).sum()


def test_missing_prices_are_said_and_count_as_nothing():
    plan = cases.plan(cases.rule(crops={"lemon": {"price": 1}}))
    assert "No price for Cassava, Maize, Sweet potato" in texts(plan)
    assert (plan.yields.query("crop == 'cassava'")["income_high"] == 0).all()


def test_cautions_about_food_are_carried():
    assert "10 mg HCN per kg" in texts(STANDARD, "caution")


def test_missing_cover_and_an_empty_field_are_refused():
    beds, plants = cases.field(size_m=20)
    cover = cases.cover(beds)
    given = {"name": "x", "start": cases.START, "area_ha": 1.0}
    with pytest.raises(LayoutError, match="ground cover is given for bed R001-T"):
        plan_season(plants, beds, cases.CROPS, cover.query("bed != 'R001-T'"), cases.rule(), **given)
    with pytest.raises(LayoutError, match="same months in every bed"):
        plan_season(plants, beds, cases.CROPS, cover.iloc[:-1], cases.rule(), **given)
    with pytest.raises(LayoutError, match="nothing to plan"):
        plan_season(Plants(plants.frame.iloc[:0]), beds, cases.CROPS, cover, cases.rule(), **given)


def test_a_crew_that_never_works_is_refused():
    pause = [{"name": "away", "first": "2026-01-01", "last": "2040-01-01"}]
    with pytest.raises(DesignError, match="Nothing can be planted within the plan"):
        cases.plan(cases.rule(crew={"people": 2, "pauses": pause}), size_m=14)


def test_every_rate_names_its_source_and_the_users_own_is_marked():
    own = cases.plan(cases.rule(hours={"weed_h_per_m2": 0.02}, crops={"cassava": {"hours": {"plant": 0.01}}}))
    assert (own.rates["source"].str.len() > 0).all()
    rates = own.rates.set_index(["subject", "item"])
    assert rates.loc[("all beds", "weed hours"), "source"] == "design file"
    assert rates.loc[("cassava", "plant hours"), "value"] == "0.01"
    assert "IITA 1996" in rates.loc[("cassava", "harvest hours"), "source"]


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"windows": [{"name": "w", "kind": "frost", "first": "02-29", "last": "03-01"}]}, "month and day"),
        ({"labour_range": [2, 1, 3]}, "must rise"),
        ({"crops": {"lemon": {"price": [1, 2]}}}, "one number, or three"),
        ({"crops": {"lemon": {"price": "cheap"}}}, "one number, or three"),
        ({"wage": 3}, "Extra inputs"),
        ({"crew": {"pauses": [{"name": "p", "first": "2027-02-02", "last": "2027-02-01"}]}}, "must not be before"),
    ],
)
def test_wrong_values_are_refused(change, message):
    with pytest.raises(ValidationError, match=message):
        cases.rule(**change)


def test_one_number_is_a_sure_range():
    assert Range.model_validate(2.5).values == (2.5, 2.5, 2.5)
    assert SeasonRule().labour_range.values == (0.8, 1.0, 1.4)


def test_the_same_input_gives_the_same_plan_and_leaves_the_input_alone():
    beds, plants = cases.field()
    before = plants.frame.copy()
    again = plan_season(
        plants,
        beds,
        cases.CROPS,
        cases.cover(beds),
        cases.rule(),
        name="invented field",
        start=date(2027, 3, 1),
        area_ha=0.36,
    )
    for (spec, ours), (_, theirs) in zip(again.tables(), STANDARD.tables(), strict=True):
        pd.testing.assert_frame_equal(ours, theirs, obj=spec.name)
    pd.testing.assert_frame_equal(pd.DataFrame(plants.frame), pd.DataFrame(before))


crews = st.fixed_dictionaries(
    {
        "people": st.sampled_from(["auto", 1, 3, 0.5]),
        "hours_per_day": st.floats(2, 12),
        "weekdays": st.sampled_from(
            [["mon"], ["mon", "wed", "sat"], ["mon", "tue", "wed", "thu", "fri", "sat", "sun"]]
        ),
    }
)
month_days = st.sampled_from(["01-01", "02-28", "03-05", "06-30", "11-15", "12-31"])
weather = st.fixed_dictionaries(
    {"name": st.just("w"), "kind": st.sampled_from(["rains", "frost"]), "first": month_days, "last": month_days}
)


@settings(max_examples=12, deadline=None)
@given(
    crews,
    st.lists(weather, max_size=2),
    st.integers(1, 4),
    st.fixed_dictionaries({"every_weeks": st.integers(20, 60), "years": st.integers(1, 3)}),
    st.sampled_from(["never", "at planting", "yearly"]),
)
def test_whatever_is_asked_the_books_balance(crew, windows, years, vegetables, mulch):
    asked = cases.rule(
        crew=crew, windows=windows, years=years, vegetables=vegetables, mulch=mulch, simulation={"runs": 100}
    )
    try:
        plan = cases.plan(asked, size_m=14)
    except DesignError as error:
        assert "leave no day" in str(error)
        return
    total = plan.days["hours"].sum()
    assert plan.labour["hours"].sum() == pytest.approx(total)
    assert plan.years["net_likely"].sum() == pytest.approx(plan.cash["balance_likely"].iloc[-1], abs=1e-6)
    by_day = plan.days.groupby("day").agg(done=("person_days", "sum"), people=("people", "first"))
    assert (by_day["done"] <= by_day["people"] * (1 + 1e-9)).all()
    done = plan.calendar.dropna(subset=["likely_from", "likely_to"])
    assert (done["likely_from"] >= done["earliest"]).all()
    assert (plan.bed_months["free_days"] <= plan.bed_months["month"].dt.days_in_month).all()
    assert (plan.cash["balance_low"] <= plan.cash["balance_high"] + 1e-6).all()
    assert (plan.material["places"] <= plan.material["pieces"]).all()


def test_work_and_harvest_by_zone_add_up_to_the_whole_plan():
    beds, plants = cases.field()
    rows = plants.frame["row"].to_numpy()
    x = np.where(rows <= 5, 1.0, 100.0)  # the first five rows are the nursery
    moved = Plants(plants.frame.assign(x=x, y=1.0))
    named = {"zone": ["nursery"], "purpose": ["nursery"], "row_spacing_m": [4.5], "bed_width_m": [1.0]}
    counted = {"area_m2": [4.0], "rows": [5], "vegetable_beds": [10], "bed_area_m2": [0.0], "plants": [0]}
    zones = ZONES.frame(named | counted, geometry=[MultiPolygon([box(0, 0, 2, 2)])], crs=plants.frame.crs)
    got = plan_season(
        moved,
        beds,
        cases.CROPS,
        cases.cover(beds),
        cases.rule(),
        zones=zones,
        name="f",
        start=cases.START,
        area_ha=0.36,
    )
    table = got.by_zone.set_index("zone")
    assert table["hours"].sum() == pytest.approx(got.days["hours"].sum())
    assert table["kg_likely"].sum() == pytest.approx(got.yields["kg_likely"].sum())
    assert table["income_likely"].sum() == pytest.approx(got.yields["income_likely"].sum())
    share = (rows <= 5).mean()
    assert table.loc["nursery", "hours"] / table["hours"].sum() == pytest.approx(share, abs=0.03)
    assert STANDARD.by_zone.empty
