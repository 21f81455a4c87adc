"""Seed and cutting rates per hectare against handbook figures."""

import numpy as np
import pytest
import season_cases as cases
from hypothesis import given, settings
from hypothesis import strategies as st

from geoagro.season.crops import season_crops
from geoagro.season.material import running_share
from geoagro.season.plan import plan_season
from geoagro.values.recipe import Crop

STANDARD = cases.standard_plan()


def hectare_of(crop, places, **record):
    """Material for a given number of places, in some beds, without caring where they stand."""
    beds, plants = cases.field(recipe=((crop, crop, "vegetable", 1.0, 0, 20, 30),))
    frame = plants.frame.iloc[np.arange(places) % len(plants.frame)]
    record = {"habit": "herb", "harvest": "uproot", "yield_kg": (1, 1, 1), "harvest_weeks": (20, 30)} | record
    plan = plan_season(
        type(plants)(frame), beds, {crop: Crop(**record)}, cases.cover(beds), cases.rule(crops={}),
        name=crop, start=cases.START, area_ha=1.0,
    )  # fmt: skip
    return plan.material.iloc[0]


@pytest.mark.parametrize(
    ("crop", "places", "record", "low_kg", "high_kg"),
    [
        # 75 x 25 cm, 20-25 kg/ha; one grain of 0.35 g a place (extension texts; weight from memory)
        ("maize", 53_333, {"material": "seed", "material_g": 0.35, "harvest": "cut"}, 20, 25),
        # 75 x 20 cm with two plants a place (IITA 2017); 20-25 kg/ha from memory, grain of 0.15 g from memory
        ("cowpea", 66_667, {"material": "seed", "material_g": 0.3, "plants_per_place": 2, "harvest": "pick"}, 20, 25),
        # setts of 0.4 kg at 10,000 a hectare: 3-5 t/ha (seed yam texts)
        ("yam", 10_000, {"material": "sett", "material_g": 400}, 3000, 5000),
        # 60 x 25 cm ridges, setts of 35-44 g: 2,500 kg/ha (spice nursery and IASRI texts: 57,000-71,000 setts)
        ("turmeric", 57_000, {"material": "rhizome", "material_g": 39}, 2300, 2600),
        # 25 x 25 cm: 1.5-2.5 t/ha (from memory), pieces of 12 g (from memory)
        ("ginger", 160_000, {"material": "rhizome", "material_g": 12}, 1500, 2500),
    ],
)
def test_weight_per_hectare_lies_in_the_handbook_range(crop, places, record, low_kg, high_kg):
    row = hectare_of(crop, places, **record)
    assert row["places"] == places
    assert low_kg <= row["weight_kg"] <= high_kg


def test_a_hectare_of_cassava_takes_2000_to_2500_stems_before_losses():
    """10,000 cuttings a hectare, 4-5 from a stem: 2,000-2,500 stems (FAO-INADES Better Farming Series 16, 1977)."""
    row = hectare_of("cassava", 10_000, material="stem cutting")
    assert row["total"] == 11_112  # 10 % losses: common practice, no source
    assert 2_000 <= row["mothers"] * row["pieces"] / row["total"] <= 2_501


def test_spares_cover_the_losses_and_no_more():
    table = STANDARD.material
    crops = season_crops(table["crop"], cases.CROPS, cases.rule())
    for row in table.itertuples():
        standing = row.total * (1 - crops[row.crop].losses)
        assert row.pieces <= standing + 1e-6 < row.pieces + 1
        assert row.total == row.pieces + row.spares


def test_every_bed_and_day_adds_up_to_the_crop():
    days = STANDARD.material_days.groupby("crop")[["places", "total", "weight_kg"]].sum()
    table = STANDARD.material.set_index("crop")
    assert (days["places"] == table["places"]).all()
    assert (days["total"] == table["total"]).all()
    assert days.loc["maize", "weight_kg"] == pytest.approx(table.loc["maize", "weight_kg"])


def test_each_crop_tells_its_first_and_last_day_of_planting():
    plan = cases.plan(cases.rule(crew={"people": 1}, years=2), size_m=20)
    by_crop = plan.material_days.groupby("crop")["day"]
    table = plan.material.set_index("crop")
    assert (table["first_planting"] == by_crop.min()).all()
    assert (table["last_planting"] == by_crop.max()).all()
    assert (table["last_planting"] > table["first_planting"]).any()
    sown = plan.material_days.groupby("crop")["sow_on"].min().dropna()
    assert (table.loc[sown.index, "first_sowing"] == sown).all()


def test_every_planned_plant_gets_its_material():
    _, plants = cases.field()
    assert STANDARD.material["places"].sum() == len(plants.frame)


def test_seedlings_are_sown_weeks_before_the_day_they_are_planted():
    rows = STANDARD.material_days.query("crop == 'gliricidia'")
    assert ((rows["day"] - rows["sow_on"]).dt.days == 16 * 7).all()
    row = STANDARD.material.set_index("crop").loc["gliricidia"]
    assert row["nursery_sown"] == int(np.ceil(row["total"] / 0.85))


def test_mother_plants_carry_all_cuttings():
    row = STANDARD.material.set_index("crop").loc["cassava"]
    assert row["mothers"] == -(-row["total"] // 4)


@settings(max_examples=40, deadline=None)
@given(st.lists(st.integers(1, 50), min_size=1, max_size=30), st.floats(0, 0.6))
def test_up_to_any_day_there_is_enough_and_the_sum_is_rounded_up_once(places, losses):
    shares = running_share(np.array(places) / (1 - losses), np.zeros(len(places)))
    need = np.cumsum(places) / (1 - losses)
    assert (np.cumsum(shares) >= need - 1e-6).all()
    assert shares.sum() == np.ceil(need[-1] - 1e-9)


def test_rounding_of_the_machine_adds_no_piece():
    """Ten beds of seven tenths are seven pieces, though binary fractions add up to a hair more."""
    tenths = np.full(10, 0.1) * 7
    assert np.cumsum(tenths)[-1] > 7
    assert running_share(tenths, np.zeros(10)).sum() == 7
