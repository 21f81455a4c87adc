import re
from dataclasses import replace

import numpy as np
import pytest
from builders import plane
from plants_builders import crop, one_bed, straight

from geoagro.planar.zones import lens_area
from geoagro.plants.auto_direction import _first_best, _middles
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


@pytest.mark.parametrize(("weeks", "grown"), [((30, 40), 1.0), ((6, 12), 0.6)])
def test_auto_says_how_much_of_the_zones_others_use_at_the_first_harvest(weeks, grown):
    """Discs all round share the lens of the closed form whichever way they are turned; the first direction is kept."""
    crops = {
        "a": crop(root_opening_deg=360, full_size_weeks=20, harvest_weeks=(40, 50)),
        "b": crop(root_opening_deg=360, full_size_weeks=20, harvest_weeks=weeks),
    }
    recipe = [
        Planting(crop="a", bed="vegetable", offsets_m=[0.25], spacing_m=4.0, direction="auto"),
        Planting(crop="b", bed="vegetable", offsets_m=[-0.25], spacing_m=4.0),
    ]
    plants = place_plants(one_bed(straight(), 2.0), plane(), crops, recipe)
    text = plants.findings[0].text
    radius = np.array([0.5 * grown])
    used = 100 * float(lens_area(np.array([0.5]), radius, radius)[0] / (np.pi * radius[0] ** 2))
    told = [float(found) for found in re.findall(r"(\d+) %", text)]
    assert told == pytest.approx([used] * 5, abs=3)
    assert "chose along on 1 of 1 lines" in text
    assert set(plants.by_crop()["a"]["direction"]) == {"along"}


def test_each_line_is_judged_by_a_few_plants_in_its_middle():
    assert _middles(np.repeat([3, 7], [40, 5])).tolist() == [*range(12, 28), *range(40, 45)]
    many = _middles(np.repeat(np.arange(1000), 21)).reshape(1000, -1)  # over 375 lines: six each
    assert many.shape[1] == 5 and (many.mean(axis=1) % 21 == 10).all()
    assert _middles(np.repeat(np.arange(3000), 9)).reshape(3000, -1).shape[1] == 3
    assert len(_middles(np.zeros(0, dtype=int))) == 0


def test_directions_nearly_as_good_count_as_equal_and_the_earlier_one_is_taken():
    mean = np.array([[0.104, 0.106, 0.300], [0.100, 0.100, 0.299]])
    assert _first_best(mean).tolist() == [0, 1, 0]
