from dataclasses import replace

import pytest
from geopandas.testing import assert_geodataframe_equal
from outputs_builders import small_layout

from geoagro.errors import InputError
from geoagro.inputs.design.crop_library import read_crop_library
from geoagro.inputs.laid.layout_file import read_layout_file
from geoagro.outputs.layout.files import write_layout
from geoagro.pipeline.account import crop_facts
from geoagro.values.recipe import Crop
from geoagro.values.rows import TREE_ROWS


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    layout, folder = small_layout(), tmp_path_factory.mktemp("result")
    write_layout(layout, folder)
    return layout, read_layout_file(folder)


def test_rows_beds_and_plants_come_back_as_they_were_written(written):
    layout, file = written
    rows, beds = file.rows(), file.beds()
    assert file.crs == layout.site.crs
    assert rows.spacing_m == layout.design.rows.spacing_m
    columns = ["row", "length_m", "up_rows", "geometry"]
    assert_geodataframe_equal(rows.frame[columns], layout.rows.frame[columns], check_dtype=False)
    assert beds.tree_beds["bed"].tolist() == layout.beds.tree_beds["bed"].tolist()
    assert file.plants()["plant"].tolist() == layout.plants.frame["plant"].tolist()
    assert file.plants()["x"].tolist() == layout.plants.frame["x"].tolist()


def test_the_field_and_ground_kept_free_come_back(written):
    layout, file = written
    site = file.site()
    (pond,) = site.exclusions
    assert site.name == layout.site.name
    assert site.boundary.equals(layout.site.boundary)
    assert (pond.name, pond.kind, pond.buffer_m) == ("pond", "exclusion", 2.0)
    assert pond.area.area == pytest.approx(layout.site.exclusions[0].area.area)


def test_the_design_and_its_sources_come_back(written):
    layout, file = written
    assert file.design.model_dump() == layout.design.model_dump()
    assert [s.sha256 for s in file.sources] == ["00ff", "11ee"]
    assert file.heights == "a plane built by a test"


def test_a_crop_with_one_value_of_ones_own_keeps_the_others_when_its_layout_is_read(tmp_path):
    """Reports and maps take names, habits and cautions from the design inside the layout."""
    layout, library = small_layout(), read_crop_library()
    own = {"cassava": Crop(spacing_m=0.8), "hill_apple": Crop(name="hill apple", like="apple")}
    design = layout.design.model_copy(update={"crops": own})
    write_layout(replace(layout, design=design), tmp_path)
    read = read_layout_file(tmp_path).design
    assert crop_facts(read, library) == crop_facts(design, library)
    cassava = crop_facts(read, library)["cassava"]
    assert (cassava.name, cassava.habit) == ("cassava", "shrub")
    assert cassava.caution
    assert read.crops["cassava"].model_fields_set == {"spacing_m"}


def test_a_design_changed_since_is_noticed(written):
    layout, file = written
    rows = layout.design.rows.model_copy(update={"spacing_m": 6.0})
    assert file.differs_from(layout.design) == []
    assert file.differs_from(layout.design.model_copy(update={"rows": rows})) == ["rows"]


def test_a_missing_layout_says_what_to_run(tmp_path):
    with pytest.raises(InputError, match="Run `geoagro layout DESIGN` first"):
        read_layout_file(tmp_path)


def test_a_file_that_is_no_layout_is_refused(tmp_path):
    (tmp_path / "layout.gpkg").write_bytes(b"not a database")
    with pytest.raises(InputError, match="can't be read as"):
        read_layout_file(tmp_path / "layout.gpkg")


def test_a_missing_layer_is_named(written):
    with pytest.raises(InputError, match="no layer 'hedges'"):
        written[1].frame("hedges")
    assert TREE_ROWS.name in written[1].layers


def test_a_layout_of_another_version_is_refused_with_what_it_lacks(written, monkeypatch):
    laid = written[1]
    whole = laid.sealed.frame
    monkeypatch.setattr(
        type(laid.sealed), "frame", lambda _self, name: whole(name).drop(columns="crop", errors="ignore")
    )
    with pytest.raises(
        InputError, match=r"plants_\w+: lacks crop, so it was written by another version.*geoagro layout"
    ):
        laid.plants()
