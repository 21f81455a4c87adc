"""What is known of crops, the tasks that follow, and what is said of them: each step by hand."""

from datetime import date
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from season_cases import CROPS, RULE, rule
from season_steps import CLOCK, NAN, crop, lots, stands

from geoagro.season.by_zone import _shares, _worth
from geoagro.season.clock import Clock, last_day
from geoagro.season.crops import OWN, season_crops
from geoagro.season.defaults import (
    CLIMB,
    DEATHS,
    LOSSES,
    MULCH_H_PER_M2,
    NURSERY_H,
    NURSERY_LOSSES,
    NURSERY_WEEKS_HERB,
    NURSERY_WEEKS_TREE,
    PER_MOTHER,
    PIT_CANOPY_M,
    SLACK_WEEKS,
    WEED_H_PER_M2,
    WOOD_KG_PER_M3,
)
from geoagro.season.findings import _frost_on_standing, _late, _own_money, _planted_over, _unpriced, _whose
from geoagro.season.husbandry.work_rates import (
    PIT_H,
    PLANT_H,
    carry_h_per_kg,
)
from geoagro.season.schedule import NEVER
from geoagro.season.sensitivity import TOGETHER, sensitivity_words
from geoagro.season.tasks import _bed_cycles, _leaves, _mulch, _nursery, _prepare, _with_crop_values
from geoagro.season.windows import PlantingDays, _allowed, _holds, _inside, breaks
from geoagro.values.recipe import Crop
from geoagro.values.season import Range, Window
from geoagro.values.timeline import Standing, Stay, Timeline

# --- what is known of crops --------------------------------------------------------------------------------------


def settled(code, own=None, **asked):
    crops = dict(RULE["crops"]) | {code: own or {}}
    return season_crops([code], CROPS, rule(crops=crops, **asked))[code]


def test_values_of_a_crop_are_the_users_before_the_records_before_the_defaults():
    maize = settled("maize")
    assert (maize.per_place, maize.piece_g, maize.losses) == (2, 0.35, 0.15) and maize.weighed and not maize.perennial
    assert (
        (maize.slack_days, maize.nursery_days, maize.per_mother) == (14, 0, 0)
        and maize.sold == 1.0
        and not maize.is_tree
    )
    own = settled("maize", {"losses_pct": 30, "slack_weeks": 1, "sold_pct": 50, "nursery_weeks": 3, "price": 2})
    assert (own.losses, own.slack_days, own.sold, own.nursery_days) == (0.3, 7, 0.5, 21)
    assert own.whose("losses") == "yours" and maize.whose("losses") == "library"
    lemon = settled("lemon")
    assert lemon.perennial and lemon.bearing == (0.0, 0.0, 0.0, 0.25, 0.5, 0.75, 1.0) and lemon.deaths == (0.05, 0.02)
    assert lemon.harvest_months == tuple(range(1, 13)) and settled(
        "lemon", {"harvest_months": [12, 1, 12]}
    ).harvest_months == (1, 12)
    assert (
        settled("cassava").per_mother == 4
        and settled("cassava").frost_tender
        and settled("gliricidia").nursery_days == 112
    )
    assert lemon.plant_h == PIT_H.likely == settled("gliricidia").plant_h and maize.plant_h == PLANT_H["seed"].likely
    carried = settled("maize", carry_m=150.0)
    assert carried.harvest_h_per_kg - maize.harvest_h_per_kg == pytest.approx(
        carry_h_per_kg(150) - carry_h_per_kg(rule().carry_m)
    )
    assert settled("maize", hours={"plant_h": {"seed": 0.5}}).plant_h == 0.5
    assert settled("maize", {"hours": {"plant": 0.7}}, hours={"plant_h": {"seed": 0.5}}).plant_h == 0.7


def test_trees_cut_to_the_stump_give_the_years_since_the_last_cut():
    tree = settled("gliricidia", {"coppice_years": 3})
    assert tree.coppice_kg == 15.0 and settled("gliricidia").coppice_kg is None
    timber = Crop(
        name="T",
        habit="tree",
        harvest="cut",
        material="sucker",
        yield_kg=(50, 100, 150),
        harvest_weeks=(1000, 1000),
        height_m=20.0,
    )
    one = season_crops(["t"], {"t": timber}, rule(crops={}))["t"]
    assert one.felled_at_harvest and one.deaths == (0.05, 0.02) and one.fell_h == pytest.approx(1.6)
    assert one.harvest_h_per_kg == pytest.approx(1.6 / 100 + carry_h_per_kg(rule().carry_m))
    wide = timber.model_copy(update={"habit": "herb", "canopy_width_m": 2.0})
    assert season_crops(["t"], {"t": wide}, rule(crops={}))["t"].plant_h == PIT_H.likely  # a banana is set into a pit
    narrow = season_crops(["t"], {"t": wide.model_copy(update={"canopy_width_m": 1.0})}, rule(crops={}))["t"]
    assert narrow.plant_h == PLANT_H["sucker"].likely


def test_usual_rates_and_losses_stand_in_the_order_that_practice_knows():
    """Seed loses most; grafted trees and what is divided least, one in twenty (common practice, no source)."""
    rates = {kind: rate for kind, (rate, _) in LOSSES.items()}
    assert {kind for kind, rate in rates.items() if rate == 0.05} == {"grafted tree", "sucker", "corm", "set"}
    assert {kind for kind, rate in rates.items() if rate == 0.10} == {
        "seedling",
        "stem cutting",
        "slip",
        "sett",
        "rhizome",
    }
    assert rates["seed"] == NURSERY_LOSSES[0] == 0.15
    assert 4 <= PER_MOTHER["stem cutting"][0] <= 5 and PER_MOTHER["slip"][0] == 10 and PER_MOTHER["sucker"][0] == 3
    assert WEED_H_PER_M2[0] * 1e4 == pytest.approx(431 / 2.7)
    assert CLIMB == (0.25, 0.5, 0.75, 1.0) and 7 * NURSERY_WEEKS_HERB[0] <= 30 and NURSERY_WEEKS_TREE[0] == 16.0
    assert WOOD_KG_PER_M3[0].values == (400, 600, 800) and MULCH_H_PER_M2[0] * 1e4 == 150 and NURSERY_H[0] * 100 == 1.0
    first, second = DEATHS[0]
    assert second < first <= 0.05 and first + second < 0.1 and SLACK_WEEKS[0] == 2.0 and PIT_CANOPY_M == 1.5


# --- tasks -------------------------------------------------------------------------------------------------------


def test_beds_are_made_mulched_and_raised_for_in_time():
    given = lots(
        3,
        bed=["a", "a", "b"],
        plant_day=[5, 9, 20],
        to_day=[98, 900, 50],
        slack=[4, 2, 9],
        wanted_day=[3, 9, 20],
        walk=[1, 1, 0],
    )
    beds = _bed_cycles(given, CLOCK)
    assert beds[["bed", "plant_day", "wanted_day", "to_day", "slack", "places"]].values.tolist() == [
        ["a", 5, 3, CLOCK.last, 2, 20], ["b", 20, 20, 50, 9, 10],
    ]  # fmt: skip
    asked = rule(prepare_lead_weeks=2)
    made = _prepare(beds, asked, SimpleNamespace(prepare=0.1))
    assert (
        made["release"].tolist() == [-9, 6]
        and made["slack"].tolist() == [16, 23]
        and made["hours"].tolist() == [2.0, 2.0]
    )
    two = Clock(date(2027, 3, 10), -20, last_day(date(2027, 3, 10), 3))
    long = beds.assign(to_day=[5 + 730, 20 + 729])
    yearly = _mulch(long, rule(mulch="yearly"), SimpleNamespace(mulch=0.2), two)
    assert yearly.groupby("bed")["release"].apply(list).to_dict() == {"a": [5, 370, 735], "b": [20, 385]} and set(
        yearly["hours"]
    ) == {4.0}
    assert len(_mulch(long, rule(mulch="never"), SimpleNamespace(mulch=0.2), two)) == 0
    raised = _nursery(
        given.assign(nursery_days=[7, 7, 0], round=1), {"maize": crop(nursery_h=0.1, per_place=2, losses=0.2)}
    )
    assert raised["release"].tolist() == [-2, 2] and raised["hours"].tolist() == pytest.approx([10 * 0.1 * 2 / 0.8] * 2)
    harvest = pd.DataFrame({"crop": ["maize", "maize", "lemon"], "lot": [0, 0, 1], "release": [60, 80, 90]})
    kinds = {"maize": crop(picked=False), "lemon": crop("lemon")}
    assert _leaves(lots(2, crop=["maize", "lemon"]), harvest, kinds).tolist() == [80, 98]


def test_planting_moves_to_the_first_day_allowed_and_keeps_its_slack_within_the_window():
    allowed = np.zeros((1, len(CLOCK.days)), dtype=bool)
    allowed[0, 20 + 10 : 20 + 20] = True
    days = PlantingDays(CLOCK, {"maize": 0}, allowed, {})
    moved = _with_crop_values(
        lots(2, plant_day=[3, 15]), {"maize": crop(slack_days=14, plant_h=0.5, nursery_days=3)}, days
    )
    assert (
        moved["plant_day"].tolist() == [10, 15]
        and moved["wanted_day"].tolist() == [3, 15]
        and moved["slack"].tolist() == [9, 4]
    )
    assert (
        moved["from_day"].tolist() == [77, 70]
        and moved["to_day"].tolist() == [105, 98]
        and moved["plant_hours"].tolist() == [5.0, 5.0]
    )


def test_windows_hold_for_their_crops_and_pass_over_new_year():
    rains = Window(name="r", kind="rains", first="11-15", last="02-20")
    inside = _inside(rains, CLOCK)
    shown = [
        inside[int(day) - CLOCK.first]
        for day in (
            np.array(
                ["2027-02-20", "2027-02-21", "2027-11-14", "2027-11-15", "2028-02-20", "2028-02-21"],
                dtype="datetime64[D]",
            )
            - np.datetime64(CLOCK.start)
        ).astype(int)
    ]
    assert shown == [True, False, False, True, True, False]
    frost = Window(name="f", kind="frost", first="03-01", last="03-31")
    tender, hardy = crop(frost_tender=True), crop(frost_tender=False)
    assert _holds(frost, tender) and not _holds(frost, hardy) and _holds(rains, hardy)
    named = frost.model_copy(update={"crops": ("maize",)})
    assert _holds(named, hardy) and not _holds(named, crop("lemon"))
    assert [w.name for w in breaks(tender, (rains, frost), CLOCK, 0)] == ["r", "f"] and breaks(
        hardy, (frost,), CLOCK, 0
    ) == []
    ground = _allowed(tender, (rains, frost), CLOCK)
    assert ground[0] and not ground[5] and ground[-10] == inside[-10]
    assert _allowed(hardy, (), CLOCK).all() and not _allowed(tender, (frost,), CLOCK)[20]


# --- findings and zones ------------------------------------------------------------------------------------------


def test_places_planted_over_before_their_time_are_told():
    def said(*weeks):
        kind = Standing("vegetable", "m", "p", "maize", 1, (Stay(1, *weeks),))
        return [(level, str(text)) for level, _, text in _planted_over(Timeline((kind,), np.zeros(1, dtype=int)))]

    assert said(2, 15, 20, 20) == []
    ((level, text),) = said(2, 15, 10, 20)
    assert level == "warning" and "every 8 weeks, but isn't ready before week 13" in text and "to 14 or more" in text
    ((level, text),) = said(2, 15, 15, 20)
    assert (
        level == "note"
        and "could stand for 18 weeks, but is planted again every 13 weeks" in text
        and "from week 13" in text
    )


def test_late_work_is_told_with_its_cases():
    dated_ = pd.DataFrame(
        {"task": ["weed", "weed", "weed", "plant"], "late_days": [0, 3, 9, 0], "end": [5, 5, NEVER, 5]}
    )
    work = SimpleNamespace(enough=4, people=2, clock=CLOCK)
    ((level, task, text),) = _late(dated_, work)
    assert (level, task) == ("warning", "weed") and "With 2 people" in str(text) and "in 2 of 3 cases" in str(text)
    assert (
        "worst by 9 days" in str(text)
        and "not done within the plan: 1" in str(text)
        and "With 4 people nothing" in str(text)
    )
    work.enough = 2
    assert "More people wouldn't help" in str(next(_late(dated_, work))[2])


def test_frost_on_what_stands_is_told_with_its_first_day():
    frost = np.zeros(len(CLOCK.days), dtype=bool)
    frost[[20 + 10, 20 + 50]] = True
    days = PlantingDays(CLOCK, {}, np.ones((1, len(frost)), dtype=bool), {"maize": frost})

    def said(begin, end, **changes):
        frame = stands(("a", "p", "maize", begin, end)).assign(planting_no=1)
        return [str(text) for _, _, text in _frost_on_standing(frame, {"maize": crop(**changes)}, days)]

    assert "harvest before" in said(11, 50)[0] and "protect" in said(10, 20, habit="tree")[0]
    assert said(11, 49) == [] and len(said(0, 10)) == 1


def test_crops_without_a_price_are_told_where_they_bear():
    def said(**changes):
        return [
            str(text)
            for _, _, text in _unpriced(
                {"maize": crop(**({"price": Range(low=1, likely=1, high=1), "unit_cost": 1.0} | changes))}, rule()
            )
        ]

    assert said() == [] and "No price" in said(price=None)[0] and "No unit cost" in said(unit_cost=None)[0]
    assert said(price=None, yield_kg=Range(low=0, likely=0, high=0)) == [] == said(price=None, yield_kg=None)


def test_work_and_harvest_are_shared_out_by_where_plants_stand():
    plants = pd.DataFrame({"bed": ["a", "a", "a", "b"], "planting": "p", "crop": "maize"})
    inside = np.array([0, 0, 1, 1])
    work = pd.DataFrame(
        {"bed": ["a", "b", "", ""], "planting": ["p", "x", "p", ""], "crop": ["maize", "y", "maize", ""]}
    )
    assert _shares(work, plants, inside, 2) == pytest.approx(np.array([[2 / 3, 1 / 3], [0, 1], [0.5, 0.5], [0.5, 0.5]]))
    one = crop(price=Range(low=1, likely=3, high=4), sold=0.5)
    kg, income = _worth(
        SimpleNamespace(tasks=SimpleNamespace(frame=work), crops={"maize": one}), np.array([10.0, 0.0, 20.0, 5.0])
    )
    assert kg.tolist() == [1.0, 0.0, 2.0, 0.0] and income.tolist() == [1.5, 0.0, 3.0, 0.0]


def test_whose_assumptions_a_plan_rests_on_is_said():
    given = str(_own_money(rule(discount_rate_pct=7, labour_range=[0.5, 1, 2])))
    assert "discount rate is yours: 7 %" in given and "range of hours is yours: 0.5 to 2" in given
    assert str(_own_money(rule())).count("the program's default") == 2
    own, library = crop(name="Mine", sources=(("yield", "", "", OWN),)), crop("cassava", name="Theirs")
    none = crop("lemon", name="None", yield_kg=Range(low=0, likely=0, high=0))
    nothing = pd.DataFrame({"subject": [], "item": [], "whose": [], "turns": []})
    ((_, _, text),) = _whose({"m": own, "t": library, "n": none}, nothing, rule(), company=False)
    assert "Yields of Mine are yours" in str(text) and "Yields of Theirs are the library's" in str(text)
    assert "None" not in str(text) and "as if it stood alone" in str(text)
    assert "light model" in str(next(_whose({"m": own}, nothing, rule(), company=True))[2])


def test_what_decides_most_is_named_first_and_four_that_turn_the_result():
    rows = [
        {
            "subject": f"crop_{k}",
            "item": "price",
            "whose": "yours",
            "at_low": -10.0 * k,
            "at_high": 100.0,
            "likely": 2.0,
            "zero_at": 1.5,
            "turns": k > 0,
        }
        for k in range(6)
    ]
    together = {
        "subject": TOGETHER,
        "item": "yield",
        "whose": "library",
        "at_low": -40.0,
        "likely": 1.0,
        "zero_at": 0.5,
        "turns": True,
        "at_high": 9.0,
    }
    first, turning, all_low, nought = map(str, sensitivity_words(pd.DataFrame([*rows, together])))
    assert "price of crop 0" in first and "from 0 to 100" in first
    assert "crop 4 (your assumption) at 1.5 (likely 2)" in turning and "crop 5" not in turning
    assert "All yields at their low end together (from the library): -40." in all_low and "0.50 of the likely" in nought
    calm = pd.DataFrame([rows[0], together | {"zero_at": NAN}])
    assert ["No single figure" in str(s) for s in sensitivity_words(calm)] == [False, True, False]
    assert list(sensitivity_words(pd.DataFrame([together]))) == []


def test_hours_of_carrying_are_told_where_anything_is_carried():
    """Half a kilogram is carried as well; nothing, or no way, isn't. 150 m and back at 3 km/h with 23 kg are 6 minutes."""
    little = Crop(habit="herb", harvest="cut", material="seed", yield_kg=(0.1, 0.3, 0.5), harvest_weeks=(10, 12))

    def told(record, **asked):
        one = season_crops(["t"], {"t": record}, rule(crops={}, **asked))["t"]
        return [(row[1], row[2]) for row in one.sources if row[0] == "carry hours"], one.harvest_h_per_kg

    assert told(little, carry_m=150.0) == ([(f"{0.1 / 23:.4g}", "h per kg")], pytest.approx(0.01 + 0.1 / 23))
    assert told(little, carry_m=0.0) == ([], 0.01)
    nothing = little.model_copy(update={"yield_kg": (0.0, 0.0, 0.0)})
    assert told(nothing, carry_m=150.0)[0] == []
    unknown = little.model_copy(update={"yield_kg": None})
    assert told(unknown, carry_m=150.0)[0] == []


def test_a_tree_is_felled_at_harvest_only_where_it_is_cut_once_and_yields():
    timber = Crop(habit="tree", harvest="cut", material="sucker", yield_kg=(0.0, 0.5, 1.0), harvest_weeks=(1000, 1000))

    def felled(own=None, **changes):
        record = timber.model_copy(update=changes)
        return season_crops(["t"], {"t": record}, rule(crops={"t": own or {}}))["t"].felled_at_harvest

    assert felled()
    assert not felled(harvest="pick") and not felled(habit="herb")
    assert not felled(yield_kg=(0.0, 0.0, 1.0)) and not felled(yield_kg=None)
    assert not felled({"bearing_pct": [50, 100]})


def test_times_and_sizes_of_a_crop_are_those_of_its_record_in_days():
    record = Crop(
        habit="herb", harvest="cut", material="set", material_g=30.0, plants_per_place=3, full_size_weeks=6.5,
        harvest_weeks=(10, 12), height_m=0.8, canopy_width_m=0.4, frost_tender=False,
    )  # fmt: skip
    one = season_crops(["t"], {"t": record}, rule(crops={"t": {"slack_weeks": 1.5}}))["t"]
    assert (one.full_days, one.slack_days, one.piece_g, one.per_place) == (round(7 * 6.5), round(7 * 1.5), 10.0, 3)
    assert (one.height_m, one.crown_m, one.frost_tender, one.weighed) == (0.8, 0.4, False, True)
    bare = season_crops(["t"], {"t": Crop(habit="herb", harvest="cut", material="corm")}, rule(crops={}))["t"]
    assert (bare.full_days, bare.piece_g, bare.height_m, bare.crown_m) == (0, None, 0.0, 0.0)
    assert bare.frost_tender and not bare.weighed  # held for tender where nothing is known
    assert not season_crops(["t"], {"t": record.model_copy(update={"material_g": None})}, rule(crops={}))["t"].weighed


def test_what_is_cut_again_and_again_begins_to_bear_in_the_year_of_its_first_harvest():
    """Harvest from week 103 on: one idle year of 52 weeks; trees and shrubs climb by quarters, herbs bear at once."""
    lasting = Crop(habit="shrub", harvest="pick", material="seedling", yield_kg=(1, 2, 3), harvest_weeks=(103, 520))
    found = {
        habit: season_crops(["t"], {"t": lasting.model_copy(update={"habit": habit})}, rule(crops={}))["t"].bearing
        for habit in ("shrub", "herb")
    }
    assert found == {"shrub": (0.0, *CLIMB), "herb": (0.0, 1.0)}
    later = lasting.model_copy(update={"harvest_weeks": (104, 520)})
    assert season_crops(["t"], {"t": later}, rule(crops={}))["t"].bearing == (0.0, 0.0, *CLIMB)


def test_rates_that_a_crop_never_needs_are_left_out_of_what_is_told():
    """Without weeks in a nursery its losses and hours say nothing; what isn't pruned has no hours of pruning."""
    plain = {row[0] for row in settled("maize").sources}
    assert not {"nursery_losses", "nursery hours", "prune hours", "per_mother"} & (
        plain - {"nursery_weeks", "prune_rounds"}
    )
    raised = {row[0] for row in settled("maize", {"nursery_weeks": 3, "prune_rounds": 1}).sources}
    assert {"nursery_losses", "nursery hours", "prune hours"} <= raised
