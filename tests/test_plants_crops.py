import pytest

from geoagro.errors import DesignError
from geoagro.plants.crops import choose_crops, need
from geoagro.values.recipe import Crop, Planting

LIBRARY = {
    "taro": Crop(name="taro", spacing_m=0.6, stratum="medium", sources={"spacing_m": "book", "stratum": "book"}),
    "tania": Crop(name="tania", spacing_m=0.8),
}


def test_own_values_replace_the_librarys_and_say_so():
    crops = choose_crops(LIBRARY, {"taro": Crop(spacing_m=0.5)}, [])
    assert crops["taro"].spacing_m == 0.5
    assert crops["taro"].stratum == "medium"
    assert crops["taro"].sources == {"spacing_m": "design file", "stratum": "book"}


def test_an_own_crop_can_start_from_a_library_crop():
    crops = choose_crops(LIBRARY, {"red_taro": Crop(like="taro", name="red taro")}, [])
    assert crops["red_taro"].name == "red taro"
    assert crops["red_taro"].spacing_m == 0.6


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
