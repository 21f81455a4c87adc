import pytest

from geoagro.inputs.design.crop_library import read_crop_library
from geoagro.values.recipe import Crop

LIBRARY = read_crop_library()
NAMES = {"name", "scientific", "family", "habit", "sources"}

# days, FAO EcoCrop crop cycle GMIN-GMAX (copy of 2024-03)
ECOCROP = {
    "cassava": (180, 365),
    "sweet_potato": (80, 170),
    "taro": (180, 300),
    "tania": (120, 365),
    "yam": (220, 300),
    "maize": (65, 365),
    "bean": (50, 270),
    "cowpea": (30, 240),
    "pigeon_pea": (90, 365),
    "tomato": (70, 150),
    "pepper": (60, 180),
    "onion": (85, 175),
    "carrot": (40, 150),
    "ginger": (270, 365),
    "turmeric": (270, 300),
    "lettuce": (35, 85),
    "cabbage": (60, 200),
    "groundnut": (90, 150),
}


def test_the_library_holds_the_crops_of_the_trade_and_their_values():
    assert len(LIBRARY) >= 25
    for code, crop in LIBRARY.items():
        for key in ("name", "habit", "stratum", "spacing_m", "harvest_weeks", "full_size_weeks", "canopy_width_m"):
            assert getattr(crop, key) is not None, (code, key)
        for key in ("height_m", "root_reach_m", "root_opening_deg", "harvest", "material", "yield_kg"):
            assert getattr(crop, key) is not None, (code, key)


@pytest.mark.parametrize("code", LIBRARY)
def test_every_value_carries_a_source_and_no_source_stands_alone(code):
    crop = LIBRARY[code]
    given = {key for key in Crop.model_fields if getattr(crop, key) is not None} - NAMES
    assert set(crop.sources) == given
    assert all(len(text) > 8 for text in crop.sources.values())


@pytest.mark.parametrize("code", ECOCROP)
def test_harvest_windows_meet_the_published_crop_cycle(code):
    first, last = (7 * week for week in LIBRARY[code].harvest_weeks)
    low, high = ECOCROP[code]
    assert first <= high
    assert last >= low
    if LIBRARY[code].sources["harvest_weeks"].startswith("FAO EcoCrop"):
        assert low - 7 <= first
        assert last <= high + 7


def test_harvest_windows_follow_common_practice():
    # common practice, no source: maize first after 3-4 months, sweet potato after 4-6, taro and cassava after
    # 8-10 and up to 12-14
    month = 365.25 / 12 / 7
    for code, low, high in (("maize", 3, 4), ("sweet_potato", 4, 6), ("cassava", 8, 14), ("taro", 8, 12)):
        first, last = LIBRARY[code].harvest_weeks
        assert first == pytest.approx(low * month, abs=1)
        assert last == pytest.approx(high * month, abs=1)


def test_the_default_distance_lies_within_the_handbooks_range():
    for code, crop in LIBRARY.items():
        low, high = crop.spacing_range_m
        assert low <= crop.spacing_m <= high, code


def test_food_that_can_hurt_carries_a_caution():
    for code in ("cassava", "taro", "tania", "bean"):
        assert "raw" in LIBRARY[code].caution


def test_distances_give_the_published_populations():
    # plants per hectare from the sources named in the library, at the row distance of the same source
    for code, row, per_ha in (("cassava", 1.0, 10_000), ("maize", 0.75, 53_333), ("turmeric", 0.6, 66_667)):
        assert 1e4 / (row * LIBRARY[code].spacing_m) == pytest.approx(per_ha, abs=1)


def test_usual_density_and_likely_yield_give_the_published_yield_per_hectare():
    # t/ha of good practice, sources as in the library: cassava 10-30 t/ha (Better Farming Series 16), sweet potato
    # 20-25 t/ha in 110-120 days, cowpea 1.20-2.16 t/ha (IITA 2017), turmeric 24-34 t/ha, pineapple 50 t/ha (MAAIF
    # 2000), taro 6.2-12.6 t/ha (FAO AC450E), yam 8.5 t/ha (FAO 2018), pigeon pea 1.5 t/ha
    published = {
        "cassava": (10, 30),
        "sweet_potato": (15, 25),
        "cowpea": (1.2, 2.16),
        "turmeric": (22, 34),
        "pineapple": (40, 55),
        "taro": (6.2, 12.6),
        "yam": (8, 9),
        "pigeon_pea": (1.2, 1.6),
    }
    for code, (low, high) in published.items():
        crop = LIBRARY[code]
        assert low <= 10 * crop.usual_per_m2 * crop.yield_kg[1] <= high, code


def test_cassava_in_shade_yields_what_the_field_trial_measured():
    # Okoli and Wilson 1986: 20/40/50/60/70 % shade lost 43/56/59/69/80 % of the yield
    points = {round(light, 6): share for light, share in LIBRARY["cassava"].shade_response}
    for shade, lost in ((20, 43), (40, 56), (50, 59), (60, 69), (70, 80)):
        assert points[round(1 - shade / 100, 6)] == pytest.approx(1 - lost / 100)


def test_leafless_months_of_the_library_turn_south_of_the_equator_but_own_ones_stay():
    walnut = LIBRARY["walnut"]
    assert set(walnut.leafless(south=False)) >= {12, 1, 2}
    assert set(walnut.leafless(south=True)) >= {6, 7, 8}
    own = Crop(leafless_months=(6, 7), sources={"leafless_months": "design file"})
    assert own.leafless(south=True) == (6, 7)


@pytest.mark.parametrize("points", [[[0.5, 1]], [[0.5, 0.2], [0.5, 1], [1, 1]], [[0, 0], [0.9, 1]]])
def test_shade_points_that_say_nothing_certain_are_refused(points):
    with pytest.raises(ValueError, match="shade_response"):
        Crop(shade_response=points)
