import pytest
from plants_builders import crop, stand

from geoagro.errors import DesignError


def texts(analysis):
    return [f"{finding.where}: {finding.text}" for finding in analysis.warnings]


def test_a_sound_recipe_gets_no_warning():
    assert texts(stand([{"crop": "a"}], {"a": crop()})[1]) == []


def test_a_tree_in_a_vegetable_bed_is_warned_of():
    assert "is a tree" in texts(stand([{"crop": "a"}], {"a": crop(habit="tree")})[1])[0]


def test_a_distance_outside_the_handbooks_range_is_warned_of_with_its_source():
    crops = {"a": crop(spacing_range_m=(0.8, 1.2), sources={"spacing_range_m": "a handbook"}), "b": crop()}
    told = texts(stand([{"crop": "a", "spacing_m": 0.5}], crops)[1])
    assert told == ["planting a: a stands 0.50 m apart in the line; handbooks give 0.8 to 1.2 m (a handbook)."]
    # in a sequence of two every second place is another crop
    assert texts(stand([{"sequence": ["a", "b"], "spacing_m": 0.5}], crops)[1]) == []


def test_digging_up_one_crop_beside_another_that_still_grows_is_warned_of():
    crops = {"a": crop(harvest="uproot", harvest_weeks=(15, 20)), "b": crop(harvest_weeks=(30, 40))}
    near = [{"crop": "a", "offsets_m": [0.2]}, {"crop": "b", "offsets_m": [-0.2]}]
    assert (
        "a beside b: Lifting round about 18 weeks after it is planted (week 18) digs up"
        in texts(stand(near, crops)[1])[0]
    )
    far = [{"crop": "a", "offsets_m": [0.4]}, {"crop": "b", "offsets_m": [-0.4]}]
    assert texts(stand(far, crops)[1]) == []
    together = {"a": crops["a"], "b": crop(harvest_weeks=(18, 40))}
    assert texts(stand(near, together)[1]) == []


def test_roots_that_point_away_are_dug_without_harm():
    crops = {"a": crop(harvest="uproot", harvest_weeks=(15, 20)), "b": crop(harvest_weeks=(30, 40))}
    near = [{"crop": "a", "offsets_m": [0.2], "direction": "uphill"}, {"crop": "b", "offsets_m": [-0.2]}]
    assert texts(stand(near, crops)[1]) == []


def test_a_bed_bare_for_long_is_warned_of():
    plantings = [{"crop": "a", "week": 2}, {"crop": "b", "after": "a", "gap_weeks": 8}]
    told = texts(stand(plantings, {"a": crop(), "b": crop()})[1])
    assert told == ["bed R001-U1: Nothing grows from week 42 to week 50 (8 weeks). Sow a cover or a short crop there."]
    assert texts(stand(plantings, {"a": crop(), "b": crop()}, bare_weeks=8)[1]) == []


def test_the_timeline_tells_what_follows_what():
    plantings = [{"crop": "a"}, {"crop": "b", "after": "a", "gap_weeks": 1}]
    table = stand(plantings, {"a": crop(), "b": crop()})[1].timeline
    assert table[["crop", "plant_week", "harvest_to_week", "follows"]].to_numpy().tolist() == [
        ["a", 0, 40, ""],
        ["b", 41, 81, "a"],
    ]


def test_a_missing_value_is_asked_for_by_name():
    bare = crop().model_copy(update={"root_reach_m": None})
    with pytest.raises(DesignError, match=r"crops\.a\.root_reach_m is missing; root conflicts"):
        stand([{"crop": "a"}], {"a": bare})
