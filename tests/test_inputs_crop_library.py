import pytest

from geoagro.inputs.design.crop_library import read_crop_library
from geoagro.values.recipe import Crop

LIBRARY = read_crop_library()
NAMES = {"name", "scientific", "habit", "sources"}

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
