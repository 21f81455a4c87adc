"""`geoagro crops`: the library on the terminal."""

import pytest
from click.testing import CliRunner

from geoagro.cli.main import group
from geoagro.errors import InputError
from geoagro.inputs.design.crop_library import read_crop_library


def said(*arguments):
    result = CliRunner().invoke(group, ["crops", *arguments], standalone_mode=False)
    if result.exception:
        raise result.exception
    return result.output


def test_all_crops_are_listed_by_code():
    lines = said().splitlines()
    assert [line.split()[0] for line in lines[1:]] == list(read_crop_library())


@pytest.mark.parametrize("asked", ["sweet_potato", "Sweet Potato", "ipomoea batatas"])
def test_a_crop_is_found_by_code_name_and_scientific_name(asked):
    assert said(asked).startswith("sweet potato (sweet_potato)")


def test_every_value_is_shown_with_its_source_and_every_caution_in_full():
    text = " ".join(said("cassava").split())
    crop = read_crop_library()["cassava"]
    for key in crop.model_dump(exclude_none=True, exclude={"sources", "name", "like", "caution", "order_caution"}):
        assert f" {key} " in text
    for source in crop.sources.values():
        assert source in text
    assert crop.caution in text


def test_a_slip_is_answered_with_the_nearest_name():
    with pytest.raises(InputError, match="did you mean cassava"):
        said("casava")
