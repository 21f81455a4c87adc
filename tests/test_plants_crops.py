import json

import pytest

from geoagro.cli.check_words import describe_crops
from geoagro.errors import DesignError
from geoagro.inputs.design.crop_library import read_crop_library
from geoagro.plants.crops import choose_crops, need
from geoagro.values.crop_rules import RULE, completed
from geoagro.values.design import Design
from geoagro.values.recipe import Crop, Planting

LIBRARY = {
    "taro": Crop(name="taro", spacing_m=0.6, stratum="medium", sources={"spacing_m": "book", "stratum": "book"}),
    "tania": Crop(name="tania", spacing_m=0.8),
}


def test_own_values_replace_the_librarys_and_say_so():
    crops = choose_crops(LIBRARY, {"taro": Crop(spacing_m=0.5)}, [])
    assert crops["taro"].spacing_m == 0.5
    assert crops["taro"].stratum == "medium"
    assert {k: s for k, s in crops["taro"].sources.items() if not s.startswith(RULE)} == {
        "spacing_m": "design file",
        "stratum": "book",
    }


def test_null_is_a_value_left_out():
    own = Crop.model_validate({"spacing_m": 0.5, "stratum": None, "name": None})
    assert choose_crops(LIBRARY, {"taro": own}, []) == choose_crops(LIBRARY, {"taro": Crop(spacing_m=0.5)}, [])


def test_an_own_crop_can_start_from_a_library_crop():
    crops = choose_crops(LIBRARY, {"red_taro": Crop(like="taro", name="red taro")}, [])
    assert crops["red_taro"].name == "red taro"
    assert crops["red_taro"].spacing_m == 0.6


@pytest.mark.parametrize("own", [{"red_taro": {"like": "taro", "height_m": 1.2}}, {"taro": {"height_m": 1.2}}])
def test_own_crops_are_the_same_when_the_design_is_read_back_from_a_layout(own):
    inputs = {"boundary": {"file": "b.gpkg"}, "elevation": {"file": "e.tif"}}
    written = Design.model_validate({"name": "invented", "inputs": inputs, "crops": own})
    read_back = Design.model_validate(json.loads(written.model_dump_json(by_alias=True)))
    crops = choose_crops(LIBRARY, read_back.crops, [])
    assert crops == choose_crops(LIBRARY, written.crops, [])
    assert next(iter(crops.values())).spacing_m == 0.6


def test_only_crops_in_use_are_chosen():
    assert list(choose_crops(LIBRARY, {}, [Planting(crop="tania", bed="tree")])) == ["tania"]


def test_an_unknown_crop_is_refused_with_the_nearest_names():
    with pytest.raises(DesignError, match=r"crop 'tarro' .* Did you mean taro"):
        choose_crops(LIBRARY, {}, [Planting(crop="tarro", bed="tree")])
    with pytest.raises(DesignError, match=r"crops\.x\.like: crop 'tanya' .* Did you mean tania"):
        choose_crops(LIBRARY, {"x": Crop(like="tanya")}, [])


def test_a_value_that_was_never_given_is_asked_for_by_name():
    with pytest.raises(DesignError, match=r"crops\.tania\.height_m is missing; the side view needs it"):
        need(LIBRARY["tania"], "tania", "height_m", "the side view")


def test_an_own_crop_is_told_all_it_lacks_at_once():
    own = {"mulberry": Crop(spacing_m=4, habit="tree")}
    with pytest.raises(DesignError) as error:
        choose_crops(LIBRARY, own, [Planting(crop="mulberry", bed="tree")])
    for key in ("stratum", "harvest_weeks", "full_size_weeks", "canopy_width_m", "height_m", "harvest", "material"):
        assert key in str(error.value)
    assert "spacing_m" not in str(error.value)
    assert "crops.mulberry.like" in str(error.value)


def test_a_crop_like_another_says_what_it_inherited():
    crop = choose_crops(read_crop_library(), {"timber": Crop(like="walnut", harvest="cut")}, [])["timber"]
    assert crop.frost_tender is False  # an apple under another code must not become frost-tender either
    assert crop.leafless_months == read_crop_library()["walnut"].leafless_months
    assert {"height_m", "yield_kg", "frost_tender", "caution"} <= set(crop.inherited)
    assert "harvest" not in crop.inherited
    assert crop.sources["height_m"].startswith("as in walnut: ")
    assert crop.sources["harvest"] == "design file"


def test_the_reach_of_roots_follows_the_crown_unless_it_is_given():
    # Tumber-Davila et al. 2022: root systems of woody plants are twice as wide as the crown on average, so most roots
    # lie inside that and beyond the crown
    library = read_crop_library()
    crop = choose_crops(library, {"apple": Crop(canopy_width_m=2)}, [])["apple"]
    assert library["pear"].canopy_width_m / 2 <= library["pear"].root_reach_m <= library["pear"].canopy_width_m
    plain = completed(Crop(canopy_width_m=2))
    assert plain.root_reach_m == pytest.approx(1.2)
    assert plain.sources["root_reach_m"].startswith(RULE)
    assert completed(Crop(canopy_width_m=2, root_reach_m=0.7)).root_reach_m == 0.7
    assert crop.canopy_width_m == 2


@pytest.mark.parametrize(
    ("values", "told"),
    [
        ({"spacing_m": 45}, "if 45 cm is meant, write 0.45"),
        ({"root_reach_m": 300, "habit": "tree"}, "if 300 cm is meant, write 3 or '300 cm'"),
        ({"canopy_width_m": 1500}, "if 1500 cm is meant, write 15"),
        ({"height_m": 60, "habit": "herb"}, "it is a herb"),
        ({"usual_per_m2": 10_000}, "places on a hectare divide by 10,000"),
        ({"full_size_weeks": 9000}, "for days divide by 7"),
        ({"yield_kg": (1, 2, 25_000)}, "tonnes on a hectare"),
    ],
)
def test_a_size_that_cannot_be_meant_is_refused_with_the_likely_slip(values, told):
    with pytest.raises(ValueError, match=r"more than") as error:
        Crop(**values)
    assert told in str(error.value)


def test_a_slip_in_a_changed_library_crop_is_told_by_the_crops_name():
    with pytest.raises(DesignError, match=r"crops\.taro: height_m is 25 m.*herb"):
        choose_crops(read_crop_library(), {"taro": Crop(height_m=25)}, [])


def test_plants_of_a_planting_cannot_stand_45_metres_apart_by_a_slip():
    with pytest.raises(ValueError, match=r"write 0\.45 or '45 cm'"):
        Planting(crop="taro", bed="tree", spacing_m=45)


def test_the_check_says_what_a_crop_takes_over():
    crops = {"timber": Crop(like="walnut", height_m=9)}
    crops = choose_crops(read_crop_library(), crops, [])
    design = Design.model_construct(plantings=[])
    said = " ".join(describe_crops({"timber": crops["timber"]}, design))
    assert "taken over" in said and "as in walnut" in said and "canopy_width_m" in said and "height_m" not in said
