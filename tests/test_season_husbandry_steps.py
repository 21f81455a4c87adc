"""Watering, weeds, covers, rotation, nutrients and rates of work: each step by hand or by its source."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from season_cases import rule
from season_steps import BEDS, CLOCK, crop, lots, stands

from geoagro.season.husbandry.climate import climate_findings, runs, with_windows
from geoagro.season.husbandry.field_tasks import fence_task, watering_tasks
from geoagro.season.husbandry.free_ground import (
    COVER_ROUND,
    _asked,
    _cover,
    _frosty,
    _wanted,
    covers_asked,
    cut_tasks,
    grown_covers,
    proposal,
    upkeep_findings,
    whole_cuts,
    with_upkeep,
)
from geoagro.season.husbandry.nutrients import _given, _taken, nutrient_findings, nutrient_table
from geoagro.season.husbandry.outlets import WEEKS_PER_MONTH, outlet_findings
from geoagro.season.husbandry.rotation import returns, rotation_findings
from geoagro.season.husbandry.work_rates import (
    CUT_H_PER_M2,
    FELL_H_PER_M2,
    LOAD_KG,
    PIT_H,
    PLANT_H,
    PREPARE_H_PER_M2,
    SOW_H_PER_M2,
    carry_h_per_kg,
    fell_rate,
    harvest_rate,
    prune_rate,
)
from geoagro.season.schedule import NEVER
from geoagro.season.successions import succession_edges
from geoagro.season.weeding import BedCover, bed_cover, rounds_of_beds, weeding_rounds
from geoagro.season.windows import PlantingDays
from geoagro.values.recipe import Crop
from geoagro.values.season import Climate, Weeding

# --- husbandry ---------------------------------------------------------------------------------------------------


def test_a_fence_stands_before_the_first_planting_and_young_trees_are_watered_by_the_week():
    asked = rule(
        fence_m=100.0, hours={"fence_h_per_m": 0.2, "water_h": 0.01}, watering={"weeks": 3, "times_a_week": 2.0}
    )
    fence = fence_task(lots(2, plant_day=[40, 60]), asked, CLOCK)
    assert fence["hours"].tolist() == [20.0] and fence["release"].tolist() == [12]
    assert fence_task(lots(1), asked, CLOCK)["release"].tolist() == [-20]  # not before the plan begins
    assert len(fence_task(lots(2), rule(), CLOCK)) == 0
    water = watering_tasks(lots(2, crop="lemon"), {"lemon": crop("lemon")}, asked, CLOCK)
    assert (
        water["release"].tolist() == [0, 7, 14]
        and water["hours"].tolist() == pytest.approx([20 * 0.01 * 2] * 3)
        and water["round"].tolist() == [1, 2, 3]
    )
    assert len(watering_tasks(lots(1), {"maize": crop()}, asked, CLOCK)) == 0
    assert len(watering_tasks(lots(1, crop="lemon"), {"lemon": crop("lemon")}, rule(), CLOCK)) == 0


def test_weeds_are_hoed_when_bare_ground_has_added_up():
    """Half bare: a round after 4 weeks, then every 8; closed from 80 % on."""
    bed, day, share = weeding_rounds(np.full((1, 140), 0.5), Weeding())
    assert day.tolist() == [28, 84, 140] and share.tolist() == [0.5] * 3 and bed.tolist() == [0] * 3
    assert len(weeding_rounds(np.full((1, 140), 0.8), Weeding())[1]) == 0
    frame = pd.DataFrame({"bed": ["a", "a", "b", "b"], "month": [1, 2, 1, 2], "cover_pct": [40.0, 60.0, 0.0, 0.0]})
    cover = bed_cover(frame, ["a", "b"])
    half = 365.25 / 24
    assert cover.of(["a", "b"], np.array([0.0, half / 2, half, 2 * half, 3 * half, 900.0]))[
        0
    ].tolist() == pytest.approx([0, 0.2, 0.4, 0.5, 0.6, 0.6])
    many = BedCover({f"b{k}": k for k in range(450)}, np.array([0.0]), np.zeros((450, 1)))
    bed, day, _ = rounds_of_beds(many, [f"b{k}" for k in range(450)], Weeding(), start=0, days=30)
    assert bed.tolist() == list(range(450)) and set(day.tolist()) == {14}


def test_the_next_crop_waits_for_the_one_before():
    given = lots(3, bed=["a", "a", "b"], planting_no=[1, 2, 1], plant_day=[0, 98, 98], to_day=[98, 200, 200])
    frame = pd.DataFrame(
        {
            "task": ["plant", "harvest", "plant", "prepare", "plant"],
            "lot": [0, 0, 1, -1, 2],
            "bed": ["a", "a", "a", "a", "b"],
            "planting_no": [1, 1, 2, 2, 1],
        }
    )
    before, after = succession_edges(frame, given, [False, False, False])
    assert sorted(zip(before.tolist(), after.tolist(), strict=True)) == [(1, 2), (1, 3)]
    assert len(succession_edges(frame, given, [True, True, True])[0]) == 0


def test_families_come_back_after_their_years():
    def back(gap, family="Fabaceae", **changes):
        frame = stands(("a", "p", "maize", 0, 100), ("a", "q", "bean", 100 + gap, 400 + gap))
        both = {"maize": crop(family="Fabaceae"), "bean": crop(family=family, **changes)}
        return returns(frame, both, rule())

    assert back(729)["gap_days"].tolist() == [729] and len(back(730)) == 0  # two years for legumes
    assert len(back(10, perennial=True)) == 0 and len(back(10, family="Poaceae")) == 0
    near = stands(("a", "p", "maize", 0, 100), ("a", "q", "bean", 28, 100), ("a", "r", "bean", 29, 100))
    both = {"maize": crop(family="Fabaceae"), "bean": crop(family="Fabaceae")}
    assert returns(near, both, rule())["gap_days"].tolist() == [-71]  # planted together up to four weeks apart
    (told,) = rotation_findings(near, both, rule())
    assert told[0] == "warning" and "after 0 weeks" in str(told[2])
    own = rule(rotation_years={"Poaceae": 1})
    grass = {"maize": crop(family="Poaceae"), "bean": crop(family="Poaceae")}
    assert len(returns(stands(("a", "p", "maize", 0, 100), ("a", "q", "bean", 300, 400)), grass, own)) == 1


def test_outlets_are_full_from_their_weekly_amount_on():
    month = 100.0 * WEEKS_PER_MONTH
    assert pytest.approx(30.44 / 7, rel=1e-3) == WEEKS_PER_MONTH
    table = pd.DataFrame({"crop": "maize", "kg_likely": [month, month * 1.5, 0.0]})
    one = crop(weekly_kg=100.0, keeps_days=(3, 10))
    full, soon = outlet_findings(table, {"maize": one})
    assert "months with more: 1, up to 150 kg a week" in str(full[2]) and f"{month / 2:.0f} kg more" in str(full[2])
    assert "about 125 kg a week" in str(soon[2])
    assert list(outlet_findings(table.iloc[:1], {"maize": replace(one, keeps_days=(3, 11))})) == []


def test_nutrients_given_and_taken_follow_from_masses():
    """10 places of 4 kg fresh at half size in height and width: a quarter of 40 kg, a quarter of it dry: 2.5 kg with 20 to 42 g of N a kilogram."""
    tree = crop("gliricidia", prunings_kg=4.0, coppice_kg=8.0, full_days=200)
    work = pd.DataFrame(
        {"task": ["prune", "fell", "plant"], "month": "2027-05-01", "crop": "gliricidia", "places": 10, "offset": 100}
    )
    one = _given(work, {"gliricidia": tree}).iloc[0]
    assert (
        one["kg"] == pytest.approx(10 + 20)
        and one["n_low"] == pytest.approx(7.5 * 0.02)
        and one["k_high"] == pytest.approx(7.5 * 0.025)
    )
    eaten = crop(taken_kg_per_t=((15.0, 20.0), (3.0, 4.0), (4.0, 6.0)))
    yields = pd.DataFrame(
        {
            "month": "2027-06-01",
            "crop": "maize",
            "kg_low": [500.0, 0.0],
            "kg_likely": [1000.0, 0.0],
            "kg_high": [2000.0, 0.0],
        }
    )
    (gone,) = _taken(yields, {"maize": eaten}).to_dict("records")
    assert (gone["n_high"], gone["n_low"]) == (-0.5 * 15, -2.0 * 20) and gone["kg"] == 1000.0
    table = nutrient_table(
        work.assign(month=pd.Timestamp("2027-05-01")),
        yields.assign(month=pd.Timestamp("2027-06-01")),
        {"maize": eaten, "gliricidia": tree},
    )
    assert table["way"].tolist() == ["given", "taken"]
    (note,) = nutrient_findings(table, {"maize": eaten, "gliricidia": replace(tree, yield_kg=None)}, 0.5, 2)
    assert "N 8-40, P 2-8, K 2-12 kg a hectare" in str(
        note[2]
    )  # one year and hectare: over two years on half a hectare


def test_rates_of_work_are_those_of_their_sources():
    """Hours a hectare by 8-hour man-days, places and tonnes as the sources give them."""
    assert (
        PREPARE_H_PER_M2["hand"].likely == pytest.approx(43.8 * 8 / 1e4, rel=0.01)
        and PREPARE_H_PER_M2["hand"].low == 70 / 1e4
    )
    assert PLANT_H["stem cutting"].likely == pytest.approx(28.3 * 8 / 1e4, rel=0.01)
    assert PLANT_H["rhizome"].likely == pytest.approx(150 * 8 / (1e4 / 0.04), rel=0.01)
    seed = PLANT_H["seed"]
    assert (seed.low, seed.high) == pytest.approx(
        (1 / 0.055 / 53_333, 1 / 0.020 / 53_333), rel=0.01
    ) and seed.low < seed.likely < seed.high
    tube = PLANT_H["seedling"]
    assert (tube.low, tube.likely) == pytest.approx((16.6 / 3600, 21 / 3600), rel=0.01)
    assert PIT_H.low >= 8 / 80 and PIT_H.high >= 8 / 30  # 30 to 80 pits a day
    assert (
        harvest_rate("cassava", "uproot").likely
        == pytest.approx(212 / 10_000, rel=0.01)
        == harvest_rate("x", "uproot").likely
    )
    assert harvest_rate("maize", "cut").likely == 0.110 == harvest_rate("sorghum", "cut").likely
    assert harvest_rate("groundnut", "uproot").low < 1 / 10.5 < harvest_rate("groundnut", "uproot").likely
    assert (harvest_rate("coffee", "pick").low, harvest_rate("coffee", "pick").high) == pytest.approx((8 / 128, 8 / 48))
    assert (
        CUT_H_PER_M2["hand"].likely * 1e4 == 50
        and CUT_H_PER_M2["machine"].likely * 1e4 == 10
        and SOW_H_PER_M2.likely * 1e4 == 40
    )
    assert FELL_H_PER_M2["hand"].likely * 400 == pytest.approx(1.6) and FELL_H_PER_M2[
        "machine"
    ].likely * 400 == pytest.approx(0.5, abs=0.03)
    assert prune_rate(Crop(height_m=4, canopy_width_m=4)).likely == pytest.approx(20 / 60, rel=0.05)  # 20 minutes
    pruned = Crop(height_m=4, canopy_width_m=4, pruned_height_m=2, pruned_width_m=3)
    assert prune_rate(pruned).likely == pytest.approx(6 * 0.02) and prune_rate(Crop()).likely == pytest.approx(9 * 0.02)
    assert fell_rate(Crop(height_m=10), "hand").likely == fell_rate(Crop(), "hand").likely == pytest.approx(0.4)
    assert LOAD_KG == 23.0  # the load constant of NIOSH
    assert carry_h_per_kg(150) == pytest.approx(0.3 / 3 / 23)
    for rate in (
        *PLANT_H.values(),
        *PREPARE_H_PER_M2.values(),
        *CUT_H_PER_M2.values(),
        *FELL_H_PER_M2.values(),
        SOW_H_PER_M2,
    ):
        assert rate.low < rate.likely < rate.high


def test_covers_are_sown_after_a_crop_and_cut_before_the_next():
    assert [proposal(w, "warm") for w in (8.9, 9, 14, 24)] == [(), ("cowpea",), ("velvet_bean",), ("jack_bean",)]
    assert [proposal(w, "cool") for w in (6.9, 7, 24)] == [(), ("phacelia",), ("rye", "hairy_vetch")]
    span = {"free_from": 100, "free_to": 300, "next_planting": "p", "row": 1, "bed": "a", "walk": 0, "area_m2": 20.0}
    clover = Crop(harvest_weeks=(8, 12), usual_per_m2=50.0)
    one = _cover(span, "clover", 2, 3, clover)
    assert (one["plant_day"], one["to_day"], one["places"], one["area_m2"]) == (103, 103 + 84, 500, 10.0)
    assert one["planting_no"] == COVER_ROUND + 3
    assert _cover(span | {"free_to": 150}, "clover", 1, 0, clover)["to_day"] == 143
    assert _cover(span | {"free_to": 150, "next_planting": ""}, "clover", 1, 0, clover)["to_day"] == 150
    sparse = _cover(span | {"free_to": 900}, "clover", 1, 0, Crop(spacing_m=0.5))
    assert (sparse["places"], sparse["to_day"]) == (80, 103 + 7 * 26)
    assert _cover(span | {"area_m2": 0.001}, "clover", 1, 0, clover)["places"] == 1
    late = pd.DataFrame({"crop": "clover", "plant_day": [113, 120], "wanted_day": [103, 103], "to_day": [187, 187]})
    kept = grown_covers(late, {"clover": clover.model_copy(update={"full_size_weeks": 8.0})})
    assert kept["to_day"].tolist() == [177]  # 64 days are left of eight weeks; 50 aren't enough


def test_free_ground_is_cut_as_often_as_the_rule_says():
    asked = rule(hours={"cut_h_per_m2": 0.01})
    rates = SimpleNamespace(cut=0.01)
    given = lots(1, bed="a", plant_day=250, leaves_day=360)
    work = cut_tasks(given, BEDS.iloc[:1], asked, rates, CLOCK)
    assert (
        work["release"].tolist() == [122, 244]
        and work["hours"].tolist() == pytest.approx([0.2, 0.2])
        and work["round"].tolist() == [1, 2]
    )
    assert whole_cuts(np.array([365.25 / 7 / 3, 17.3]), 3.0).tolist() == [1.0, 0.0]
    assert len(cut_tasks(given, BEDS.iloc[:1], rule(weeding={"free_cuts_a_year": 0}), rates, CLOCK)) == 0


def test_frost_lies_in_a_span_where_one_day_of_it_does():
    cold = np.zeros(len(CLOCK.days), dtype=bool)
    cold[20 + 50] = True
    days = PlantingDays(CLOCK, {}, np.ones((1, len(cold)), dtype=bool), {}, cold)
    first, last = pd.Series([0, 50, 51, 0]), pd.Series([50, 60, 90, 49])
    assert _frosty(first, last, days).tolist() == [True, True, False, False]
    assert not _frosty(first, last, replace(days, cold=None)).any()


def test_days_of_planting_are_looked_for_ahead_and_back():
    allowed = np.zeros((1, len(CLOCK.days)), dtype=bool)
    allowed[0, [20 + 5, 20 + 9]] = True
    days = PlantingDays(CLOCK, {}, allowed, {})
    group = np.zeros(5, dtype=int)
    wanted = np.array([0, 5, 6, 9, 10])
    assert days.next_allowed(group, wanted).tolist() == [5, 5, 9, 9, CLOCK.last + 1]
    assert days.last_allowed(group, wanted).tolist() == [CLOCK.first - 1, 5, 5, 9, 9]


def climate(wet=range(12), cold=()):
    return Climate(
        "c.csv",
        tuple(100.0 if k in wet else 10.0 for k in range(12)),
        (20.0,) * 12,
        tuple(0.0 if k in cold else 5.0 for k in range(12)),
    )


def test_rains_and_frost_are_the_runs_of_their_months():
    months = [k in (0, 1, 4, 11) for k in range(12)]
    assert runs(months) == [(5, 5), (12, 2)]
    made = with_windows(rule(), climate(wet=(2, 3, 4), cold=(11, 0, 1))).windows
    assert [(w.kind, w.first, w.last) for w in made] == [("rains", "03-01", "05-31"), ("frost", "12-01", "02-28")]
    assert with_windows(rule(), climate()).windows == ()
    own = rule(windows=[{"name": "r", "kind": "rains", "first": "04-01", "last": "06-30"}])
    assert [w.kind for w in with_windows(own, climate(wet=(2, 3), cold=(0,))).windows] == ["rains", "frost"]


def test_dry_months_are_told_with_what_stands_in_them():
    """April is dry: maize stands in it from the 1st to the 21st, three weeks; two lots, the longer one counts."""
    wet = [k for k in range(12) if k != 3]
    frame = stands(("a", "p", "maize", 0, 22 + 20), ("b", "p", "maize", 40, 45), ("c", "q", "lemon", 0, 300))
    (note,) = climate_findings(frame, {"maize": crop(), "lemon": crop("lemon")}, climate(wet), CLOCK)
    assert "up to 3 weeks" in str(note[2]) and "Young trees" in str(note[2])
    (short,) = climate_findings(stands(("a", "p", "maize", 0, 22 + 10)), {"maize": crop()}, climate(wet), CLOCK)
    assert "up to" not in str(short[2]) and "Young trees" not in str(short[2])
    assert list(climate_findings(frame, {}, climate(), CLOCK)) == []


def test_upkeep_goes_to_the_span_in_which_it_falls_with_its_wage():
    free = pd.DataFrame(
        {"bed": ["a", "a", "b"], "free_from": pd.to_datetime(["2027-03-20", "2027-06-18", "2027-03-10"]), "free_to": pd.to_datetime(["2027-05-20", "2027-12-20", "2027-04-10"]),
         "weeks": [9.0, 26.0, 4.0], "next_planting": ["p", "", ""]}
    )  # fmt: skip
    work = pd.DataFrame(
        {
            "task": ["cut", "cut", "cut", "weed", "cut"],
            "bed": ["a", "a", "a", "a", "b"],
            "hours": [1.0, 2.0, 4.0, 8.0, 16.0],
        }
    )
    days = PlantingDays(CLOCK, {}, np.ones((1, len(CLOCK.days)), dtype=bool), {})
    found = with_upkeep(free, work, [12, 40, 101, 20, NEVER], days, rule())
    assert found["hours"].tolist() == [3.0, 4.0, 0.0] and found["cost"].tolist() == [9.0, 12.0, 0.0]
    assert found["cover_crop"].tolist() == ["cowpea", "jack_bean", ""]
    assert with_upkeep(free, work, [12, 40, 101, 20, NEVER], days, rule(wage_per_hour=None))["cost"].isna().all()
    (note,) = upkeep_findings(found, 7.0, SimpleNamespace(cut=0.005, source_of=lambda _: "x"), rule())
    text = str(note[2])
    assert "stand free: 2, for 39 bed-weeks in all, 30 of them after" in text
    assert "count 7 h (21 EUR)" in text and "3 times a year, 50 h a hectare" in text and "In 2 of the spans" in text
    assert list(upkeep_findings(found.iloc[:0], 0.0, SimpleNamespace(cut=0.005), rule())) == []


def test_covers_are_asked_for_where_a_span_is_long_enough():
    asked = rule(free_beds={"cover": ["rye"], "least_weeks": 8})
    assert list(_asked(asked, np.array([7.9, 8.0]), np.array([False, True]))) == [(), ("rye",)]
    auto = rule(free_beds={"cover": "auto", "least_weeks": 7})
    assert list(_asked(auto, np.array([9.0, 9.0, 6.0]), np.array([False, True, True]))) == [
        ("cowpea",),
        ("phacelia",),
        (),
    ]
    assert (
        covers_asked(rule()) == ()
        and covers_asked(asked) == ("rye",)
        and covers_asked(auto)[:2] == ("rye", "hairy_vetch")
    )
    span = _wanted(lots(2, plant_day=[5, CLOCK.last + 1], leaves_day=[CLOCK.last + 9, 900]), CLOCK)
    assert span[["begin", "end"]].values.tolist() == [[5, CLOCK.last]]
