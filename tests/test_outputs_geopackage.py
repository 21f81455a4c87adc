import dataclasses
import sqlite3
from pathlib import Path
from xml.etree import ElementTree

import geopandas as gpd
import numpy as np
import pyogrio
import pytest
import shapely
from builders import UTM
from hypothesis import given, settings
from hypothesis import strategies as st
from outputs_builders import CROPS, small_layout
from pyproj import CRS

from geoagro.errors import OutputError
from geoagro.outputs.drawing.looks import Line, Style
from geoagro.outputs.geopackage.layer import OutputLayer
from geoagro.outputs.geopackage.style_sld import sld
from geoagro.outputs.geopackage.writer import write_geopackage
from geoagro.outputs.layout.layers import layout_layers, plants_layer
from geoagro.values.layers import Field, LayerSpec
from geoagro.values.plants import Plants
from geoagro.values.rows import TREE_ROWS

LAYERS = {
    "field",
    "exclusions",
    "plantable",
    "unplanted",
    "contours",
    "tree_rows",
    "tree_beds",
    "vegetable_beds",
    "paths",
}
TABLES = {"area_summary", "crop_summary", "row_summary", "layout_quality", "layout_findings", "layout_source"}


@pytest.fixture(scope="module")
def layout():
    return small_layout()


@pytest.fixture(scope="module")
def layers(layout):
    return layout_layers(layout, design_text="name: Invented field\n")


@pytest.fixture(scope="module")
def package(layers, tmp_path_factory):
    path = tmp_path_factory.mktemp("package") / "layout.gpkg"
    write_geopackage(path, layers, UTM)
    return path


def query(path: Path, text: str) -> list[tuple]:
    with sqlite3.connect(f"file:{path}?mode=ro", uri=True) as database:
        return database.execute(text).fetchall()


def test_every_layer_and_table_is_there(package):
    found = dict(pyogrio.list_layers(package))
    spatial = {name for name, kind in found.items() if kind is not None}
    assert spatial == LAYERS | {f"plants_{crop}" for crop in CROPS}
    assert set(found) - spatial == TABLES | {"layer_styles"}


def test_rows_columns_and_geometry_come_back_as_they_were(package, layers):
    for layer in layers:
        back = pyogrio.read_dataframe(package, layer=layer.table)
        assert len(back) == len(layer.frame)
        assert [c for c in back.columns if c != "geometry"] == layer.spec.columns
        for field in layer.spec.fields:
            old, new = layer.frame[field.name].to_numpy(), back[field.name].to_numpy()
            if field.kind == "float":
                np.testing.assert_array_equal(np.where(np.isfinite(old), old, np.nan), new.astype(float))
            elif field.kind == "date":
                np.testing.assert_array_equal(old.astype("datetime64[D]"), new.astype("datetime64[D]"))
            else:
                assert list(old) == list(new.astype(old.dtype)) or all(v is None for v in old)
        if layer.spec.geometry != "none":
            assert back.crs == UTM
            assert shapely.equals(back.geometry.to_numpy(), layer.frame.geometry.to_numpy()).all()


def test_the_highest_layer_comes_first_and_plants_lie_above_beds(package):
    order = [name for name, _ in pyogrio.list_layers(package)]
    for below, above in (
        ("unplanted", "paths"),
        ("paths", "vegetable_beds"),
        ("vegetable_beds", "tree_beds"),
        ("tree_beds", "tree_rows"),
    ):
        assert order.index(below) > order.index(above)
    assert order.index("plants_banana") < order.index("tree_rows") < order.index("area_summary")


def test_fields_carry_a_title_with_unit_and_a_description(package, layers):
    told = {
        (t, c): (n, d)
        for t, c, n, d in query(package, "SELECT table_name, column_name, name, description FROM gpkg_data_columns")
    }
    assert told["tree_rows", "up_p50_m"] == (
        "To the next row upslope, median (m)",
        "Distance to the next row upslope: median.",
    )
    assert all((layer.table, field.name) in told for layer in layers for field in layer.spec.fields)


def test_the_file_is_sound_and_of_the_version_that_older_viewers_read(package):
    assert query(package, "PRAGMA integrity_check") == [("ok",)]
    assert query(package, "PRAGMA user_version") == [(10300,)]
    indexed = {
        t for (t,) in query(package, "SELECT table_name FROM gpkg_extensions WHERE extension_name = 'gpkg_rtree_index'")
    }
    assert indexed == LAYERS | {f"plants_{crop}" for crop in CROPS}


def test_a_straight_row_has_an_empty_radius_not_an_infinite_one(package, layout):
    assert np.isinf(layout.rows.frame["min_radius_m"]).all()
    assert query(package, "SELECT DISTINCT min_radius_m FROM tree_rows") == [(None,)]


def test_the_design_and_the_checksums_of_its_inputs_are_inside(package):
    source = {
        item: (value, checksum)
        for item, value, checksum in query(package, "SELECT item, value, sha256 FROM layout_source")
    }
    assert source["design_file"][0] == "name: Invented field\n"
    assert source["boundary"] == ("a.gpkg", "00ff")
    assert source["elevation"] == ("b.tif", "11ee")
    assert '"spacing_m": 4.5' in source["design"][0]  # also what the design left out, as it was in force
    assert "EPSG:32633" in source["working_crs"][0]


def test_each_layer_has_one_default_look_in_both_forms(package):
    looks = query(
        package, "SELECT f_table_name, styleQML, styleSLD, useAsDefault FROM layer_styles WHERE f_geometry_column != ''"
    )
    assert [name for name, *_ in looks] == [n for n, kind in pyogrio.list_layers(package) if kind is not None]
    for _, qml, open_style, default in looks:
        assert default == 1
        assert ElementTree.fromstring(qml.split("\n", 1)[1]).find("renderer-v2/symbols/symbol/layer") is not None
        assert ElementTree.fromstring(open_style.encode()).tag.endswith("StyledLayerDescriptor")


def test_viewers_get_the_heads_of_tables_too(package, layers):
    """A viewer reads them from the saved look alone (QGIS 3.22); 4 is its code for what has no geometry."""
    entries = query(package, "SELECT f_table_name, styleQML, styleSLD FROM layer_styles WHERE f_geometry_column = ''")
    assert {name for name, *_ in entries} == TABLES
    for name, qml, open_style in entries:
        root = ElementTree.fromstring(qml.split("\n", 1)[1])
        assert root.findtext("layerGeometryType") == "4" and root.find("renderer-v2") is None and open_style == ""
        (spec,) = (layer.spec for layer in layers if layer.table == name)
        assert [alias.get("field") for alias in root.iter("alias")] == spec.columns


def test_widths_of_the_open_style_are_millimetres_in_pixels_of_0_28_mm():
    """OGC Symbology Encoding 1.1 (05-077r4), section 10.2: sizes are in pixels, the standardised one is 0.28 mm wide."""
    style = Style({"": ("row", Line(ink="#112233", width_mm=0.7, dash_mm=(2.8, 1.4)))})
    root = ElementTree.fromstring(sld(style, TREE_ROWS, "tree_rows").encode())
    found = {p.get("name"): p.text for p in root.iter("{http://www.opengis.net/se}SvgParameter")}
    assert float(found["stroke-width"]) == pytest.approx(0.7 / 0.28)
    assert [float(v) for v in found["stroke-dasharray"].split()] == pytest.approx([10.0, 5.0])


def test_every_reason_in_the_data_has_a_look(package):
    (qml,) = query(package, "SELECT styleQML FROM layer_styles WHERE f_table_name = 'unplanted'")[0]
    values = {c.get("value") for c in ElementTree.fromstring(qml.split("\n", 1)[1]).iter("category")}
    assert values == {r for (r,) in query(package, "SELECT DISTINCT reason FROM unplanted")}


def test_the_same_layers_give_the_same_bytes(package, layers, tmp_path):
    set_before = pyogrio.get_gdal_config_option("OGR_CURRENT_DATE")
    write_geopackage(tmp_path / "again.gpkg", layers, UTM)
    assert (tmp_path / "again.gpkg").read_bytes() == package.read_bytes()
    assert pyogrio.get_gdal_config_option("OGR_CURRENT_DATE") == set_before


def test_a_further_layer_and_a_further_table_need_only_a_spec_and_a_frame(tmp_path):
    spec = LayerSpec("marks", "Marks", "Point", (Field("mark", "text", "Name."), Field("driven_in", "bool", "Yes or no."), Field("day", "date", "Day.")))  # fmt: skip
    marks = spec.frame(
        {"mark": ["a"], "driven_in": [True], "day": ["2031-05-06"]}, geometry=[shapely.Point(5e5, 5e6)], crs=UTM
    )
    table = LayerSpec("weeks", "Weeks", "none", (Field("week", "int", "Week."),))
    write_geopackage(
        tmp_path / "a.gpkg", [OutputLayer(spec, marks), OutputLayer(table, table.frame({"week": [1, 2]}))], UTM
    )
    back = pyogrio.read_dataframe(tmp_path / "a.gpkg", layer="marks")
    assert (back["driven_in"][0], str(back["day"][0])[:10]) == (True, "2031-05-06")
    assert len(pyogrio.read_dataframe(tmp_path / "a.gpkg", layer="weeks")) == 2


def test_an_empty_layer_is_written_with_its_columns(tmp_path):
    spec = LayerSpec("marks", "Marks", "Point", (Field("mark", "text", "Name."),))
    write_geopackage(tmp_path / "a.gpkg", [OutputLayer(spec, spec.empty(UTM))], UTM)
    assert list(pyogrio.read_info(tmp_path / "a.gpkg", layer="marks")["fields"]) == ["mark"]


def test_two_crops_that_would_share_a_layer_are_refused(layout, tmp_path):
    frame = layout.plants.frame.assign(
        crop=lambda f: f["crop"].replace({"banana": "sweet potato", "cassava": "Sweet-Potato"})
    )
    same = dataclasses.replace(layout, plants=Plants(frame))
    with pytest.raises(OutputError, match=r"plants_sweet_potato.*another name in the design file"):
        write_geopackage(tmp_path / "a.gpkg", layout_layers(same), UTM)


@settings(max_examples=25, deadline=None)
@given(st.text(min_size=1, max_size=12))
def test_a_layer_name_is_plain_whatever_the_crop_is_called(crop):
    name = plants_layer(crop)
    assert name.replace("_", "").isalnum()
    assert plants_layer(name.removeprefix("plants_")) == name


def test_a_crs_without_a_code_is_written_whole(tmp_path):
    local = CRS.from_proj4("+proj=tmerc +lat_0=45.5 +lon_0=14.2 +k=1 +x_0=500000 +y_0=5000000 +ellps=GRS80 +units=m")
    spec = LayerSpec("marks", "Marks", "Point", (Field("mark", "text", "Name."),))
    frame = spec.frame({"mark": ["a"]}, geometry=[shapely.Point(5e5, 5e6)], crs=local)
    write_geopackage(tmp_path / "a.gpkg", [OutputLayer(spec, frame)], local)
    assert gpd.read_file(tmp_path / "a.gpkg").crs.equals(local, ignore_axis_order=True)


def test_a_field_without_plantings_has_no_plant_layers(layout):
    bare = dataclasses.replace(layout, plants=Plants(layout.plants.frame.iloc[:0]))
    assert not [layer.table for layer in layout_layers(bare) if layer.table.startswith("plants")]
