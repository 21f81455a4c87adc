"""The ready project inside a GeoPackage, and what a viewer makes of the file without it."""

import io
import sqlite3
import zipfile
from xml.etree import ElementTree

import pyogrio
import pytest
import shapely
from builders import UTM
from outputs_builders import CROPS, small_layout

from geoagro.outputs.geopackage.layer import OutputLayer
from geoagro.outputs.geopackage.writer import write_geopackage
from geoagro.outputs.layout.files import write_layout
from geoagro.outputs.layout.layers import layout_layers
from geoagro.values.beds import BEDS
from geoagro.values.reasons import REASONS


@pytest.fixture(scope="module")
def layout():
    return small_layout()


@pytest.fixture(scope="module")
def package(layout, tmp_path_factory):
    path = tmp_path_factory.mktemp("project") / "layout.gpkg"
    write_geopackage(path, layout_layers(layout), UTM, project="Invented field")
    return path


@pytest.fixture(scope="module")
def project(package):
    with sqlite3.connect(package) as database:
        name, content = database.execute("SELECT name, content FROM qgis_projects").fetchone()
    with zipfile.ZipFile(io.BytesIO(bytes.fromhex(content))) as archive:
        assert archive.namelist() == [f"{name}.qgs"] == ["layout.qgs"]
        return ElementTree.fromstring(archive.read("layout.qgs"))


def test_the_project_shows_every_layer_by_a_relative_path(project, package):
    sources = {layer.findtext("datasource") for layer in project.iter("maplayer")}
    tables = {name for name, _ in pyogrio.list_layers(package)} - {"layer_styles"}
    assert sources == {f"./layout.gpkg|layername={table}" for table in tables}
    assert project.findtext(".//Paths/Absolute") == "false"


def test_tree_and_layers_of_the_project_name_each_other(project):
    """Ids of ten letters or fewer are replaced by the viewer, which then loses the layer (seen in QGIS 3.22)."""
    ids = [layer.findtext("id") for layer in project.iter("maplayer")]
    in_tree = [layer.get("id") for layer in project.iter("layer-tree-layer")]
    assert sorted(ids) == sorted(in_tree) and len(set(ids)) == len(ids)
    assert min(map(len, ids)) > 10


def test_the_project_lists_plants_above_rows_above_ground(project):
    groups = [group.get("name") for group in project.findall("./layer-tree-group/layer-tree-group")]
    assert groups == ["Plants", "Field", "Rows and beds", "Ground", "Tables"]


def test_viewers_that_load_all_layers_find_the_highest_first(package):
    names = [name for name, kind in pyogrio.list_layers(package) if kind is not None]
    assert set(names[: len(CROPS)]) == {f"plants_{crop}" for crop in CROPS}
    assert names[-1] == "plantable"


def test_marks_have_their_size_on_the_ground(project):
    for crop in CROPS:
        layer = next(x for x in project.iter("maplayer") if x.findtext("datasource").endswith(f"plants_{crop}"))
        units = {o.get("value") for o in layer.iter("Option") if o.get("name") in {"size_unit", "outline_width_unit"}}
        assert units == {"MapUnit"}


def test_columns_with_fixed_values_list_them_by_the_standard_schema_extension(package):
    with sqlite3.connect(package) as database:
        (name,) = database.execute(
            "SELECT constraint_name FROM gpkg_data_columns WHERE table_name = 'unplanted' AND column_name = 'reason'"
        ).fetchone()
        listed = database.execute(
            "SELECT value FROM gpkg_data_column_constraints WHERE constraint_name = ?", (name,)
        ).fetchall()
    assert {value for (value,) in listed} == set(REASONS)


def test_rings_run_one_way(package):
    for layer in ("vegetable_beds", "paths", "unplanted", "field"):
        parts = shapely.get_parts(pyogrio.read_dataframe(package, layer=layer).geometry.to_numpy())
        assert shapely.is_ccw(shapely.get_exterior_ring(parts)).all()


def test_the_same_layout_gives_the_same_project(layout, package, tmp_path):
    again = tmp_path / "layout.gpkg"
    write_geopackage(again, layout_layers(layout), UTM, project="Invented field")
    assert again.read_bytes() == package.read_bytes()


def test_light_on_beds_lies_under_the_plants_and_is_off_at_first(tmp_path):
    layout = small_layout(20)
    shown = layout.beds.beds.assign(light_class="100-75")
    light = OutputLayer(BEDS, shown, name="bed_light", title="Light", group="Rows and beds", starts_hidden=True)
    write_layout(layout, tmp_path, more=[light])
    names = [str(name) for name, _ in pyogrio.list_layers(tmp_path / "layout.gpkg")]
    plants = [k for k, name in enumerate(names) if name.startswith("plants_")]
    at = names.index("bed_light")
    assert all(k > at for k in plants) or all(k < at for k in plants)
    assert (at < min(plants)) == (
        names.index("vegetable_beds") < min(plants)
    )  # on the same side as beds, whichever way is written
