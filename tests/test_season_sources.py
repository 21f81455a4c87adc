"""Every rate that the season starts from, against the source that it names; a rate without one against what we chose."""

import pytest

from geoagro.season import defaults as d
from geoagro.season.husbandry import work_rates as w
from geoagro.values.recipe import Crop

HA = 1e4


def hours(rate):
    return rate.low, rate.likely, rate.high


def test_beds_are_made_in_the_hours_of_the_manual_and_the_trial():
    """Nigeria trial: hoeing 70 h/ha; WEC/FAO 1999: 43.8 man-days of 8 h. High: 450 h/ha on heavy ground, our choice."""
    low, likely, high = (HA * rate for rate in hours(w.PREPARE_H_PER_M2["hand"]))
    assert (low, likely, high) == pytest.approx((70, 43.8 * 8, 450), rel=2e-3)
    # two-wheel tractor, from memory: 10, 30 and 60 h/ha
    assert tuple(HA * rate for rate in hours(w.PREPARE_H_PER_M2["machine"])) == pytest.approx((10, 30, 60))


def test_cutting_and_sowing_take_what_is_remembered():
    """From memory: 50 h/ha by hand and 10 (5 to 20) with a brush cutter; sowing 40 h/ha; half and twice as much either way."""
    assert tuple(HA * rate for rate in hours(w.CUT_H_PER_M2["hand"])) == pytest.approx((25, 50, 100))
    assert tuple(HA * rate for rate in hours(w.CUT_H_PER_M2["machine"])) == pytest.approx((5, 10, 20))
    assert tuple(HA * rate for rate in hours(w.SOW_H_PER_M2)) == pytest.approx((20, 40, 80))


def test_seed_and_seedlings_are_planted_as_fast_as_was_timed():
    """Lopez Gomez and Van Loon 2018: .055 to .020 ha/h at 53,333 places a hectare; Kaakkurivaara 2021: 16.6 to 21 s each."""
    speeds = (0.055, (0.055 + 0.020) / 2, 0.020)
    assert hours(w.PLANT_H["seed"]) == pytest.approx(tuple(1 / (ha * 53_333) for ha in speeds), rel=0.01)
    low, likely, high = hours(w.PLANT_H["seedling"])
    assert (low, likely) == pytest.approx((16.6 / 3600, 21 / 3600), rel=0.01)
    assert high == pytest.approx(0.008)  # 29 s in hard ground, our choice


def test_stems_rhizomes_and_pits_take_the_hours_of_their_sources():
    """WEC/FAO 1999: cassava 28.3 days of 8 h for 10,000 places; ginger 150 days for 250,000; ILO-UNDP: 30 to 80 holes a day."""
    assert w.PLANT_H["stem cutting"].likely == pytest.approx(28.3 * 8 / 10_000, rel=2e-3)
    assert w.PLANT_H["rhizome"].likely == pytest.approx(150 * 8 / 250_000)
    assert w.PIT_H.low == pytest.approx(8 / 80)
    assert w.PIT_H.low * 2 == w.PIT_H.likely  # with setting the tree, from memory
    assert w.PIT_H.high == pytest.approx(0.4)  # 20 a day in stony ground, our choice
    assert w.PLANT_H["grafted tree"] is w.PIT_H
    # ranges without a source, our choice
    assert hours(w.PLANT_H["stem cutting"])[::2] == (0.012, 0.03)
    assert hours(w.PLANT_H["rhizome"])[::2] == (0.003, 0.006)


@pytest.mark.parametrize(
    ("material", "a_hour"), [("slip", 1000 / 6), ("sucker", 100), ("corm", 125), ("sett", 1000 / 12), ("set", 1000 / 3)]
)
def test_what_is_planted_by_hand_from_memory_goes_at_half_to_twice_the_speed(material, a_hour):
    """Pieces an hour, from memory, not looked up."""
    assert hours(w.PLANT_H[material]) == pytest.approx((0.5 / a_hour, 1 / a_hour, 2 / a_hour))
    assert w.PLANT_H[material].source == w.MEMORY


def test_harvest_takes_the_hours_of_its_sources():
    """Cassava 212 h for 10 t (IITA 1996); maize 110 h/t (FAO); coffee 50 to 120 kg in 8 h; the rest of each range is ours."""
    assert hours(w.harvest_rate("cassava", "uproot")) == pytest.approx((0.015, 212 / 10_000, 0.030))
    for grain in ("maize", "sorghum"):
        assert hours(w.harvest_rate(grain, "cut")) == pytest.approx((0.060, 110 / 1000, 0.150))
    assert hours(w.harvest_rate("groundnut", "uproot")) == pytest.approx((0.070, 0.110, 0.150))
    assert (
        w.harvest_rate("groundnut", "uproot").likely > 1 / 10.5
    )  # Pharma Journal 2020: stripping alone 10.5 kg an hour
    low, likely, high = hours(w.harvest_rate("coffee", "pick"))
    assert (8 / low, 8 / likely, 8 / high) == pytest.approx((128, 80, 48))
    assert hours(w.harvest_rate("no such crop", "uproot")) == hours(w.harvest_rate("cassava", "uproot"))


@pytest.mark.parametrize(
    ("kg_an_hour", "crops"),
    [
        (1000 / 150, ("cacao", "strawberry")),
        (1000 / 120, ("cowpea", "bean", "pigeon_pea", "pea")),
        (10, ("soybean",)),
        (4, ("black_pepper",)),
        (10 / 3, ("raspberry",)),
        (5, ("currant",)),
        (20, ("elder",)),
        (50, ("grape",)),
        (12.5, ("okra",)),
        (100, ("apple", "pear")),
    ],
)
def test_crops_picked_from_memory_take_half_to_twice_the_hours(kg_an_hour, crops):
    """Kilograms that one person picks in an hour, from memory, not looked up."""
    for code in crops:
        assert hours(w.harvest_rate(code, "pick")) == pytest.approx((0.5 / kg_an_hour, 1 / kg_an_hour, 2 / kg_an_hour))


def test_crops_without_a_rate_of_their_own_go_by_the_way_they_are_harvested():
    """From memory: 100 kg cut and 33 kg picked in an hour."""
    assert hours(w.harvest_rate("fern", "cut")) == pytest.approx((0.005, 0.01, 0.02))
    assert hours(w.harvest_rate("fern", "pick")) == pytest.approx((0.015, 0.03, 0.06))


def test_trees_are_pruned_and_felled_by_their_size():
    """From memory: an apple of 4 x 4 m takes 20 minutes; one of 20 m 1.6 h by saw and axe, half an hour by chainsaw."""
    apple, forest = Crop(height_m=4.0, canopy_width_m=4.0), Crop(height_m=20.0)
    assert hours(w.prune_rate(apple)) == pytest.approx((0.16, 0.32, 0.64))
    assert w.prune_rate(apple).likely == pytest.approx(20 / 60, rel=0.05)
    assert hours(w.fell_rate(forest, "hand")) == pytest.approx((0.8, 1.6, 3.2))
    assert hours(w.fell_rate(forest, "machine")) == pytest.approx((0.24, 0.48, 1.0))
    pruned = Crop(height_m=9.0, canopy_width_m=8.0, pruned_height_m=2.5, pruned_width_m=2.0)
    assert w.prune_rate(pruned).likely == pytest.approx(0.02 * 5)
    assert w.prune_rate(Crop()).likely == pytest.approx(0.02 * 9)  # 3 x 3 m where nothing is known
    assert w.fell_rate(Crop(), "hand").likely == pytest.approx(0.4)  # 10 m


def test_fences_cans_and_carrying_take_what_is_written():
    """From memory: 20, 6.7 and 2.5 m of fence an hour, 200, 100 and 33 places by can. NIOSH load constant 23 kg, 3 km/h walking."""
    assert tuple(1 / rate for rate in hours(w.FENCE_H_PER_M)) == pytest.approx((20, 1 / 0.15, 2.5))
    assert tuple(1 / rate for rate in hours(w.WATER_H_PER_PLACE)) == pytest.approx((200, 100, 1 / 0.03))
    assert (w.LOAD_KG, w.WALK_KM_H) == (23.0, 3.0)
    assert w.carry_h_per_kg(150.0) == pytest.approx(0.3 / 3 / 23)  # 300 m in 6 minutes with 23 kg


def test_a_rate_told_names_its_range():
    rate = w.WorkRate(0.01, 0.02, 0.0456, "a trial")
    assert (rate.told[0], str(rate.told[1])) == (0.02, "a trial (range 0.01-0.0456)")
    assert rate.times(3.0, "x") == w.WorkRate(0.03, 0.06, pytest.approx(0.1368), "x")


def test_defaults_of_the_season_are_those_that_were_chosen():
    """Nigeria trial 431 h/ha a season over 2.7 rounds (Nyamangara et al. 2014); the rest common practice or from memory."""
    assert d.WEED_H_PER_M2[0] == pytest.approx(159.6 / HA, rel=1e-3)
    assert HA * d.MULCH_H_PER_M2[0] == pytest.approx(150)
    assert 1 / d.NURSERY_H[0] == pytest.approx(100)  # plants an hour
    shares = {material: share for material, (share, _) in d.LOSSES.items()}
    assert shares.pop("seed") == 0.15
    assert {m for m, share in shares.items() if share == 0.05} == {"grafted tree", "sucker", "corm", "set"}
    assert {m for m, share in shares.items() if share == 0.10} == {
        "seedling",
        "stem cutting",
        "slip",
        "sett",
        "rhizome",
    }
    # FAO-INADES 1977: 4 to 5 cuttings of a cassava stem, the careful end
    assert {material: pieces for material, (pieces, _) in d.PER_MOTHER.items()} == {
        "stem cutting": 4,
        "slip": 10,
        "sucker": 3,
    }
    assert (7 * d.NURSERY_WEEKS_HERB[0], d.NURSERY_WEEKS_TREE[0]) == (28, 16)  # tomato 25-30 days
    assert (d.NURSERY_LOSSES[0], d.SLACK_WEEKS[0], d.PIT_CANOPY_M) == (0.15, 2.0, 1.5)
    assert (d.CLIMB, d.DEATHS[0]) == ((0.25, 0.5, 0.75, 1.0), (0.05, 0.02))
    assert d.WOOD_KG_PER_M3[0].values == (400, 600, 800)
