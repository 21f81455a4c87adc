"""When what is harvested, and the work and wood of trees over the years: each step by hand."""

from dataclasses import replace
from datetime import date

import numpy as np
import pandas as pd
import pytest
from season_steps import CLOCK, crop, lots

from geoagro.season.clock import Clock, last_day
from geoagro.season.harvest import _at_coppicing, _bed_after_bed, _by_month, _in_window, harvest_tasks
from geoagro.season.husbandry.tree_care import _coppicings, _removals, dated, prune_tasks, replacements, size_at
from geoagro.season.husbandry.wood import (
    _since,
    mass_by_crown,
    mass_by_stem,
    mass_on_farms,
    mass_range,
    sold_wood,
    stem_diameter_cm,
    wood_places,
    wood_table,
)
from geoagro.values.season import Range

# --- harvest -----------------------------------------------------------------------------------------------------


def test_what_is_lifted_once_is_lifted_bed_after_bed_over_its_window():
    """Beds of 10, 20 and 10 places: the second begins after a quarter of 28 days, the third after three quarters."""
    found = _bed_after_bed(lots(3, places=[10, 20, 10], walk=[2, 0, 1]))
    assert found["walk"].tolist() == [0, 1, 2]
    assert found["release"].tolist() == [70, 70 + 14, 70 + 21] and found["slack"].tolist() == [28, 14, 7]
    assert found["full_places"].tolist() == [20.0, 10.0, 10.0]
    moved = _bed_after_bed(lots(2, plant_day=[3, 3], places=[10, 10], yield_share=0.5))
    assert moved["offset"].tolist() == [67, 81] and moved["full_places"].tolist() == [5.0, 5.0]


def test_what_is_picked_comes_in_portions_of_four_weeks():
    found = _in_window(lots(1, from_day=70, to_day=70 + 57), crop("lemon", perennial=False))
    assert (
        found["release"].tolist() == [70, 89, 108]
        and found["slack"].tolist() == [19] * 3
        and found["round"].tolist() == [1, 2, 3]
    )
    assert found["full_places"].tolist() == pytest.approx([10 / 3] * 3)
    assert len(_in_window(lots(1, from_day=70, to_day=98), crop("lemon", perennial=False))) == 1
    assert len(_in_window(lots(1, from_day=70, to_day=70), crop("lemon", perennial=False))) == 1


def test_trees_bear_month_by_month_by_the_year_of_their_life_and_the_plan():
    clock = Clock(date(2027, 3, 1), 0, last_day(date(2027, 3, 1), 3))
    tree = crop("lemon", bearing=(0.0, 0.5, 1.0), deaths=(0.2,), harvest_months=(4, 5))
    found = _by_month(lots(1, crop="lemon", from_day=0, to_day=2000), tree, clock, np.array([[1.0, 0.8, 0.6]]))
    assert clock.dates(found["release"]).astype(str).tolist() == [
        "2028-04-01",
        "2028-05-01",
        "2029-04-01",
        "2029-05-01",
    ]
    # a fifth died in year one: 0.8 x 0.5 of a full yield in year two, 0.8 + 0.2 x 0.5 in year three; half in each month
    assert found["full_places"].tolist() == pytest.approx([10 * 0.4 / 2 * 0.8] * 2 + [10 * 0.9 / 2 * 0.6] * 2)
    assert found["slack"].tolist() == [29, 30, 29, 30] and found["round"].tolist() == [1, 2, 3, 4]


def test_coppice_gives_at_each_cut_what_grew_since():
    tree = crop("gliricidia", coppice_years=2, full_days=1000)
    given = lots(1, crop="gliricidia", coppicings=[(500, 1100)], to_day=5000)
    clock = Clock(date(2027, 3, 1), 0, last_day(date(2027, 3, 1), 4))
    found = _at_coppicing(given, tree, clock, np.array([[1.0, 0.9, 0.8, 0.7]]))
    assert found["release"].tolist() == [500, 1100]
    assert found["full_places"].tolist() == pytest.approx([10 * 2 * 0.5 * 0.9, 10 * 2 * 1.0 * 0.7])


def test_hours_of_harvest_follow_places_yield_and_rate():
    one = crop(harvest_h_per_kg=0.2)
    found = harvest_tasks(lots(1), {"maize": one}, CLOCK, np.ones((1, 1)))
    assert found["hours"].tolist() == pytest.approx([10 * 0.1 * 0.2])
    assert len(harvest_tasks(lots(1), {"maize": replace(one, yield_kg=None)}, CLOCK, np.ones((1, 1)))) == 0
    assert len(harvest_tasks(lots(1, to_day=69), {"maize": one}, CLOCK, np.ones((1, 1)))) == 0
    assert len(harvest_tasks(lots(1, to_day=70), {"maize": one}, CLOCK, np.ones((1, 1)))) == 1


# --- trees -------------------------------------------------------------------------------------------------------


def test_trees_are_pruned_and_felled_by_their_side_view():
    tree = crop("gliricidia", full_days=200, prune_h=0.5, fell_h=2.0)
    given = lots(1, crop="gliricidia", prunings=[(0, 100, 300, 370)], to_day=360)
    pruned = prune_tasks(given, {"gliricidia": tree}, CLOCK)
    assert pruned["release"].tolist() == [100, 300] and pruned["round"].tolist() == [2, 3]
    assert pruned["hours"].tolist() == pytest.approx([10 * 0.5 * 0.25, 10 * 0.5])
    each, day, number = dated(given.assign(to_day=100), "prunings", CLOCK)
    assert (day.tolist(), number.tolist(), len(each)) == ([100], [2], 1)
    assert size_at([50, 400], lots(2, crop="gliricidia"), {"gliricidia": tree}).tolist() == [0.25, 1.0]
    felled = _removals(lots(2, crop="gliricidia", to_day=[100, CLOCK.last]), {"gliricidia": tree}, CLOCK)
    assert felled["release"].tolist() == [100] and felled["hours"].tolist() == pytest.approx([10 * 2.0 * 0.25])
    reaped = replace(tree, felled_at_harvest=True)
    assert len(_removals(lots(1, crop="gliricidia", to_day=100, from_day=100), {"gliricidia": reaped}, CLOCK)) == 0
    assert len(_removals(lots(1, crop="gliricidia", to_day=100, from_day=101), {"gliricidia": reaped}, CLOCK)) == 1


def test_the_dead_are_planted_again_in_whole_plants_a_year_later():
    clock = Clock(date(2027, 3, 1), 0, last_day(date(2027, 3, 1), 3))
    tree = crop("lemon", deaths=(0.08, 0.02))
    again = replacements(lots(3, crop="lemon", places=10, to_day=5000), {"lemon": tree}, clock)
    assert again["places"].tolist() == [1, 1, 1]  # 0.8, 1.6, 2.4 become 1, 2, 2; 0.2, 0.4, 0.6 become 0, 0, 1
    assert again["round"].tolist() == [1, 1, 2] and again["plant_day"].tolist() == [365, 365, 730]
    assert len(replacements(lots(1, crop="lemon", places=100, to_day=364), {"lemon": tree}, clock)) == 0


def test_mass_of_wood_follows_the_published_rules():
    """Jucker et al. 2017 with D 0.557 (HC)^0.809 e^(0.056^2 / 2) and 0.016 (HC)^2.013 e^(0.204^2 / 2); conifers (0.016 + 0.093)."""
    h, c = np.array([10.0]), np.array([4.0])
    stem = stem_diameter_cm(h, c)
    assert stem == pytest.approx(0.557 * np.exp(0.809 * np.log(40)) * 1.001569, rel=1e-4)
    assert mass_by_crown(h, c) == pytest.approx(0.016 * 40**2.013 * 1.021027, rel=1e-4)
    assert mass_by_crown(h, c, conifer=True) == pytest.approx(0.109 * 40**1.79 * 1.021027, rel=1e-4)
    low, likely, high = mass_range(h, c, Range(low=400, likely=600, high=800))
    three = sorted([*mass_by_crown(h, c), *mass_on_farms(stem), *mass_by_stem(stem, h, 0.6)])
    assert likely == pytest.approx(three[1])
    every = [*mass_by_crown(h, c), *mass_on_farms(stem), *mass_by_stem(stem, h, 0.4), *mass_by_stem(stem, h, 0.8)]
    assert (low, high) == (pytest.approx(min(every)), pytest.approx(max(every)))


def test_felled_trees_are_told_with_their_wood_and_its_price():
    tree = crop(
        "gliricidia",
        height_m=10.0,
        crown_m=4.0,
        full_days=1000,
        coppice_years=None,
        coppice_kg=None,
        felled_at_harvest=False,
    )
    priced = replace(tree, wood_price=Range(low=20, likely=30, high=40))
    felled = pd.DataFrame(
        {
            "task": ["fell", "fell", "prune"],
            "month": pd.to_datetime(["2027-05-01", None, "2027-05-01"]),
            "crop": "gliricidia",
            "offset": 1000,
            "places": 10,
        }
    )
    table = wood_table(felled, {"gliricidia": priced})
    kg = [10 * float(v[0]) for v in mass_range(np.array([10.0]), np.array([4.0]), tree.wood_kg_per_m3)]
    line = table.iloc[0]
    assert len(table) == 1 and (line["trees"], line["use"]) == (10, "sold")
    assert [line[f"dry_kg_{end}"] for end in ("low", "likely", "high")] == pytest.approx(kg)
    assert [line[f"m3_{end}"] for end in ("low", "likely", "high")] == pytest.approx([v / 600 for v in kg])
    assert [line[f"income_{end}"] for end in ("low", "likely", "high")] == pytest.approx(
        [kg[0] / 30, kg[1] / 20, kg[2] / 15]
    )
    assert (line["height_m"], line["crown_m"]) == (10.0, 4.0)
    wood = sold_wood(table, {"gliricidia": priced})["gliricidia wood"]
    assert wood.yield_kg.values == pytest.approx(
        (kg[0] / kg[1], 1.0, kg[2] / kg[1])
    ) and wood.price.likely == pytest.approx(0.05)
    months = wood_places(table, ["gliricidia wood"], CLOCK)
    assert months[0, 3] == pytest.approx(kg[1]) and months.sum() == months[0, 3]
    assert wood_table(felled, {"gliricidia": tree}).iloc[0]["income_likely"] == 0.0
    for bare in (
        {"height_m": 0.0},
        {"crown_m": 0.0},
        {"coppice_kg": 3.0},
        {"coppice_years": 2, "felled_at_harvest": True},
    ):
        assert len(wood_table(felled, {"gliricidia": replace(tree, **bare)})) == 0


def test_stumps_grow_from_their_last_cut():
    """Cut every two years: after 730 days all of them have grown, after 1,000 what came since 730.5."""
    cut = pd.DataFrame({"crop": "gliricidia", "offset": [700, 731, 1000, 1462]})
    found = _since(cut, {"gliricidia": crop("gliricidia", coppice_years=2)})
    assert found.tolist() == pytest.approx([700.0, 730.5, 269.5, 730.5])
    assert _since(cut, {"gliricidia": crop("gliricidia", coppice_years=None)}).tolist() == [700, 731, 1000, 1462]


def test_cutting_trees_to_the_stump_takes_hours_by_tree_and_by_the_square_of_the_size_grown_since():
    """Ten trees, full size after 1,000 days, felled in 0.5 h each; cut after 500 days and 1,000 days (every 500 days): half
    the size each time, a quarter of the hours."""
    clock = Clock(date(2027, 3, 1), 0, last_day(date(2027, 3, 1), 10))
    tree = crop("gliricidia", coppice_years=2, full_days=1000, fell_h=0.5)
    given = lots(1, crop="gliricidia", coppicings=[(500, 1000)], to_day=5000)
    found = _coppicings(given, {"gliricidia": tree}, clock)
    assert found["hours"].tolist() == pytest.approx([10 * 0.5 * 0.25] * 2)
    assert found["release"].tolist() == [500, 1000] and found["round"].tolist() == [1, 2]
