"""Two plants on one place at the same time."""

import pytest
from builders import plane
from plants_builders import crop, one_bed, straight

from geoagro.outputs.words.say import Words
from geoagro.plants.placement import place_plants
from geoagro.plants.together.same_place import same_places
from geoagro.values.recipe import Planting
from geoagro.values.season import SeasonRule

CROPS = {
    "a": crop(name="a", harvest_weeks=(8, 10)),
    "b": crop(name="b", harvest_weeks=(8, 10)),
    "b_2": crop(name="b 2", harvest_weeks=(8, 10)),
}


def findings(*plantings):
    recipe = [Planting(**({"bed": "vegetable", "spacing_m": 1.0} | p)) for p in plantings]
    found = place_plants(one_bed(straight(), 2.0), plane(), CROPS, recipe).findings
    return [f for f in found if "one place" in f.text]


def test_two_crops_on_one_line_in_the_same_week_are_warned_of_with_place_crops_and_weeks():
    (found,) = findings({"crop": "a"}, {"crop": "b", "week": 4})
    assert found.level == "warning" and found.where == "plantings a and b"
    assert found.text.startswith("40 pairs of plants stand on one place at the same time, e.g. a and b in bed R001-U1")
    assert "weeks 4 to 10" in found.text


@pytest.mark.parametrize(
    "second",
    [
        {"crop": "b", "after": "a"},
        {"crop": "b", "week": 10},
        {"crop": "b", "offsets_m": [0.5]},
        {"crop": "b", "first_offset_m": 0.06},
    ],
)
def test_plants_that_follow_each_other_or_stand_apart_are_not(second):
    assert not findings({"crop": "a"}, second)


def test_one_crop_twice_on_its_own_places_is_warned_of_too():
    (found,) = findings({"crop": "a"}, {"crop": "a", "name": "again"})
    assert "40 pairs" in found.text


def test_later_rounds_of_the_season_are_looked_at_too():
    rule = SeasonRule(years=2, vegetables={"every_weeks": 20, "years": 2})
    frame = place_plants(one_bed(straight(), 2.0), plane(), CROPS, [
        Planting(crop="a", bed="vegetable", spacing_m=1.0),
        Planting(crop="b", bed="vegetable", spacing_m=1.0, week=22),
    ]).frame  # fmt: skip
    assert not same_places(frame, CROPS)
    (found,) = same_places(frame, CROPS, rule)
    assert "weeks 22 to 30 (plantings no. 2 and 1)" in found.text and "again in later plantings" in found.text


def test_crops_are_named_as_people_write_them():
    (found,) = findings({"crop": "b_2"}, {"crop": "a", "week": 4})
    assert "e.g. b 2 and a in bed" in found.text


def test_two_crops_kept_by_their_codes_are_told_in_the_readers_language():
    text = (
        "1 pair of plants stands on one place at the same time, e.g. sweet_potato and lettuce in bed R001-D1, 1.00 m along "
        "line 1 (1.00, 2.00), weeks 0 to 3. Give one of them other lines or offsets, or plant it `after` the other."
    )
    assert "batata-doce e alface" in Words("pt_BR").again(text)
