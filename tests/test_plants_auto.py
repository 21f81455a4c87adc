from dataclasses import replace

import pytest
from builders import plane
from plants_builders import crop, one_bed, straight

from geoagro.plants.placement import place_plants
from geoagro.values.recipe import Planting

CROPS = {"a": crop(), "b": crop(), "c": crop(root_reach_m=0.2)}


def lay(*plantings, terrain=None):
    recipe = [Planting(**({"bed": "vegetable"} | p)) for p in plantings]
    return place_plants(one_bed(straight(), 2.0), terrain or plane(), CROPS, recipe)


@pytest.mark.parametrize(("side", "chosen"), [(0.6, "downhill"), (-0.6, "uphill")])
def test_auto_turns_away_from_a_neighbouring_line(side, chosen):
    plants = lay(
        {"crop": "a", "offsets_m": [0.0], "spacing_m": 1.0, "direction": "auto"},
        {"crop": "b", "offsets_m": [side], "spacing_m": 0.25},
    )
    assert set(plants.by_crop()["a"]["direction"]) == {chosen}
    text = plants.findings[0].text
    assert f"auto chose {chosen} on 1 of 1 lines" in text
    assert all(word in text for word in ("along", "against", "uphill", "downhill"))


def test_auto_chooses_line_by_line():
    plants = lay(
        {"crop": "a", "offsets_m": [0.7, -0.7], "spacing_m": 1.0, "direction": "auto"},
        {"crop": "b", "offsets_m": [0.0], "spacing_m": 0.25},
    )
    stems = plants.by_crop()["a"]
    assert set(stems.loc[stems["line"] == 1, "direction"]) == {"uphill"}
    assert set(stems.loc[stems["line"] == 2, "direction"]) == {"downhill"}


def test_auto_counts_the_plants_that_move_along():
    plants = lay(
        {"crop": "a", "spacing_m": 0.6, "direction": "auto"},
        {"crop": "c", "beside": {"planting": "a", "distance_m": 0.25}},
    )
    assert set(plants.by_crop()["a"]["direction"]) <= {"uphill", "downhill"}


def test_auto_on_ground_without_a_direction_offers_the_row_only():
    blind = replace(plane(), aspect_deg=None, heights=None, smooth=None)
    plants = lay({"crop": "a", "spacing_m": 1.0, "direction": "auto"}, terrain=blind)
    assert "uphill" not in plants.findings[0].text


def test_auto_repeats_itself():
    recipe = ({"crop": "a", "spacing_m": 0.4, "direction": "auto"}, {"crop": "b", "offsets_m": [0.5]})
    assert lay(*recipe).frame.equals(lay(*recipe).frame)
