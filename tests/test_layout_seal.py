"""The seal of a layout: every kind of edit is found and refused, and what isn't an edit breaks nothing."""

import shutil
import sqlite3
from contextlib import closing
from dataclasses import replace

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import pytest
import shapely
import yaml
from click.testing import CliRunner
from input_files import EAST, FIELD, NORTH, slope_north, write_raster, write_vector
from outputs_builders import small_layout
from pyproj import CRS
from shapely import LineString, MultiPolygon, Point, Polygon, box

from geoagro.cli.main import group
from geoagro.errors import EditedError, InputError
from geoagro.inputs.laid.layout_file import layout_just_written, read_layout_file
from geoagro.outputs.geopackage.blocks import frame_read
from geoagro.outputs.geopackage.layer import OutputLayer
from geoagro.outputs.geopackage.writer import write_geopackage
from geoagro.outputs.layout.files import write_and_hold, write_layout
from geoagro.outputs.layout.layers import layout_layers
from geoagro.outputs.layout.sealing import as_read
from geoagro.outputs.words.say import ENGLISH
from geoagro.values.layers import Field, LayerSpec
from geoagro.values.progress import silent
from geoagro.values.results.seal import edits, seal_of


@pytest.fixture(scope="module")
def whole(tmp_path_factory):
    folder = tmp_path_factory.mktemp("sealed")
    write_layout(small_layout(), folder)
    return folder / "layout.gpkg"


@pytest.fixture
def layout(whole, tmp_path):
    return shutil.copy(whole, tmp_path / "layout.gpkg")


def sql(path, *statements):
    with closing(sqlite3.connect(path)) as database, database:
        for name in ("ST_IsEmpty", "ST_MinX", "ST_MaxX", "ST_MinY", "ST_MaxY"):
            database.create_function(name, 1, lambda _: 0)  # what the triggers of the spatial index ask for
        for statement in statements:
            database.execute(statement)


def replaced(path, layer, change):
    """Write a layer back as a viewer does after an edit."""
    frame = pyogrio.read_dataframe(path, layer=layer)
    pyogrio.write_dataframe(change(frame), path, layer=layer, driver="GPKG")


def _moved(frame):
    frame.loc[3, "geometry"] = LineString([(x, y + 0.05) for x, y in frame.geometry[3].coords])
    return frame


def _swapped(frame):
    frame.loc[[0, 1], "geometry"] = frame.geometry[[1, 0]].to_numpy()
    return frame


def _more(frame):
    one = frame.iloc[[0]].assign(geometry=[LineString([(EAST, NORTH), (EAST + 9, NORTH)])])
    return gpd.GeoDataFrame(gpd.pd.concat([frame, one], ignore_index=True), crs=frame.crs)


EDITS = {
    "a row moved by 5 cm": ("tree_rows", lambda p: replaced(p, "tree_rows", _moved), r"row 4"),
    "a row drawn": ("tree_rows", lambda p: replaced(p, "tree_rows", _more), r"1 feature added"),
    "a row deleted": ("tree_rows", lambda p: sql(p, "DELETE FROM tree_rows WHERE row = 2"), r"1 feature removed"),
    "two plants swapped": ("plants_banana", lambda p: replaced(p, "plants_banana", _swapped), r"2 features changed"),
    "a plant of another crop": ("plants_banana", lambda p: sql(p, "UPDATE plants_banana SET crop = 'x' WHERE fid = 5"),
                                r"no\. 5"),
    "a number changed": ("vegetable_beds", lambda p: sql(p, "UPDATE vegetable_beds SET area_m2 = area_m2 + 0.001 WHERE fid = 1"), r"no\. 1"),
    "a value emptied": ("vegetable_beds", lambda p: sql(p, "UPDATE vegetable_beds SET length_m = NULL WHERE fid = 2"), r"no\. 2"),
    "a column deleted": ("paths", lambda p: sql(p, "ALTER TABLE paths DROP COLUMN width_m"), r"column width_m is gone"),
    "a table's number changed": ("crop_summary", lambda p: sql(p, "UPDATE crop_summary SET plants = 1 WHERE fid = 1"),
                                 r"no\. 1"),
    "the design inside changed": ("layout_source",
                                  lambda p: sql(p, "UPDATE layout_source SET value = 'z' WHERE item = 'heights'"),
                                  r"1 feature changed"),
    "a layer deleted": ("contours", lambda p: sql(p, "DROP TABLE contours",
                                                  "DELETE FROM gpkg_contents WHERE table_name = 'contours'",
                                                  "DELETE FROM gpkg_geometry_columns WHERE table_name = 'contours'",
                                                  "DELETE FROM gpkg_ogr_contents WHERE table_name = 'contours'"),
                        r"deleted"),
    "plants added as a layer": ("plants_new", lambda p: pyogrio.write_dataframe(
        gpd.GeoDataFrame({"plant": [1]}, geometry=[Point(EAST, NORTH)], crs=32633), p, layer="plants_new"),
                                r"isn't of this layout"),
    "the seal deleted": ("seal", lambda p: sql(p, "DROP TABLE layout_seal",
                                               "DELETE FROM gpkg_contents WHERE table_name = 'layout_seal'",
                                               "DELETE FROM gpkg_ogr_contents WHERE table_name = 'layout_seal'"),
                         r"carries no seal"),
    "the seal changed": ("layout_seal", lambda p: sql(p, "UPDATE layout_seal SET sha256 = '0' WHERE layer = 'vegetable_beds'"),
                         r"layout_seal was edited"),
}  # fmt: skip


@pytest.mark.parametrize("kind", EDITS)
def test_an_edit_is_found_and_told_with_its_layer_and_the_way_on(layout, kind):
    layer, edit, words = EDITS[kind]
    edit(layout)
    with pytest.raises(EditedError, match=words) as refusal:
        read_layout_file(layout)
    assert layer in str(refusal.value)
    assert "geoagro layout" in str(refusal.value)


NO_EDITS = {
    "opened for writing and closed": lambda p: sql(p, "PRAGMA journal_mode = WAL", "PRAGMA user_version = 10300"),
    "a look saved": lambda p: sql(p, "UPDATE layer_styles SET styleName = 'mine'"),
    "a column of one's own": lambda p: sql(p, "ALTER TABLE vegetable_beds ADD COLUMN note TEXT"),
    "a layer of one's own": lambda p: pyogrio.write_dataframe(
        gpd.GeoDataFrame({"a": [1]}, geometry=[Point(EAST, NORTH)], crs=32633), p, layer="notes"
    ),
    "written back as it was": lambda p: replaced(p, "tree_beds", lambda frame: frame),
}


@pytest.mark.parametrize("kind", NO_EDITS)
def test_what_is_no_edit_breaks_no_seal(layout, kind):
    before = len(read_layout_file(layout).beds().beds.columns)
    NO_EDITS[kind](layout)
    with closing(sqlite3.connect(layout)) as database:
        database.execute("VACUUM")
    assert len(read_layout_file(layout).beds().beds.columns) == before


def test_an_edit_of_a_large_layer_is_found_in_its_group():
    frame = gpd.GeoDataFrame({"a": range(50_000)}, geometry=gpd.points_from_xy(range(50_000), [0.0] * 50_000))
    frame.index += 1
    seal = seal_of("plants", frame)
    assert len(seal.marks) <= 20_000
    assert not edits(seal, frame)
    changed = frame.copy()
    changed.loc[30_000, "a"] = -1
    (place,) = edits(seal, changed).changed
    assert place <= 30_000 < place + seal.block


@pytest.fixture(scope="module")
def laid(tmp_path_factory):
    """A small field laid out by the command."""
    folder = tmp_path_factory.mktemp("laid")
    write_vector(folder / "field.gpkg", [FIELD])
    write_raster(folder / "dem.tif", slope_north())
    design = {
        "name": "invented",
        "inputs": {"boundary": {"file": "field.gpkg"}, "elevation": {"file": "dem.tif"}},
        "rows": {"method": "straight", "bearing_deg": 90},
        "plantings": [{"crop": "citrus", "bed": "tree", "spacing_m": 4}],
        "output": {"folder": "result"},
    }
    (folder / "design.yaml").write_text(yaml.safe_dump(design))
    done = CliRunner().invoke(group, ["layout", str(folder / "design.yaml")], catch_exceptions=False)
    assert done.exit_code == 0
    return folder


@pytest.fixture
def farm(laid, tmp_path):
    shutil.copytree(laid, tmp_path / "farm")
    return tmp_path / "farm"


def run(command, farm, *more):
    return CliRunner().invoke(group, [command, str(farm / "design.yaml"), *more])


def test_verify_says_that_a_layout_is_as_it_was_written(farm):
    done = run("verify", farm)
    assert done.exit_code == 0
    assert "Everything is as it was written" in done.stdout


def test_verify_tells_edits_changed_keys_and_changed_files_in_one_go(farm):
    sql(farm / "result" / "layout.gpkg", "DELETE FROM plants_citrus WHERE fid = 1")
    text = (farm / "design.yaml").read_text().replace("spacing_m: 4", "spacing_m: 5")
    (farm / "design.yaml").write_text(text)
    write_vector(farm / "field.gpkg", [FIELD.buffer(1)])
    (farm / "dem.tif").unlink()
    done = run("verify", farm)
    assert isinstance(done.exception, EditedError)
    for words in ("layer plants_citrus: 1 feature removed", "plantings[1].spacing_m: was 4.0, is 5.0 now",
                  "file field.gpkg (boundary): changed", "file dem.tif (elevation): missing"):  # fmt: skip
        assert words in done.stdout


@pytest.mark.parametrize("command", ["report", "map", "stakes", "sample-plots", "season", "survey"])
def test_every_command_that_reads_a_layout_refuses_an_edited_one(farm, command):
    sql(farm / "result" / "layout.gpkg", "UPDATE unplanted SET area_m2 = 1 WHERE fid = 1")
    more = [str(farm / "field.gpkg")] if command == "survey" else []
    done = run(command, farm, *more)
    assert isinstance(done.exception, EditedError), done.output


@pytest.mark.parametrize("command", ["verify", "report", "stakes"])
@pytest.mark.parametrize("place", ["area_summary SET item", "layout_source SET value", "layout_seal SET layer"])
def test_a_text_that_is_not_utf_8_is_told_with_its_column(farm, command, place):
    table, column = place.split(" SET ")
    sql(farm / "result" / "layout.gpkg", f"UPDATE {place} = CAST(x'52ff80' AS TEXT) WHERE rowid = 2")
    done = run(command, farm)
    assert isinstance(done.exception, InputError), (done.output, done.exception)
    assert f"column {column} of layer '{table}' holds a text that isn't UTF-8" in str(done.exception)


def test_laying_out_again_keeps_an_edited_layout_beside_the_new_one(farm):
    edited = farm / "result" / "layout.gpkg"
    sql(edited, "DELETE FROM tree_rows WHERE row = 3")
    text = (farm / "design.yaml").read_text().replace(
        "rows:\n  bearing_deg: 90\n  method: straight", "rows:\n  method: drawn"
    ).replace("inputs:\n", "inputs:\n  rows: {file: result/layout.gpkg, layer: tree_rows}\n")  # fmt: skip
    (farm / "design.yaml").write_text(text)
    done = run("layout", farm)
    assert done.exit_code == 0, done.output
    kept = pyogrio.read_dataframe(farm / "result" / "layout_edited_1.gpkg", layer="tree_rows")
    now = pyogrio.read_dataframe(edited, layer="tree_rows")
    assert 3 not in set(now["row"])
    assert len(now) == len(kept)
    assert run("verify", farm).exit_code == 0


def _odd_layers():
    """Layers with every kind of column and geometry, and with what is written otherwise than it stands in memory."""
    fields = (
        Field("name", "text", ""), Field("count", "int", ""), Field("size", "float", ""), Field("day", "date", ""),
        Field("kept", "bool", ""),
    )  # fmt: skip
    columns = {
        "name": ["a", None, "", "żółw \n ' \" 鹿"],
        "count": [0, -1, 2**53, 7],
        "size": [np.inf, np.nan, -0.0, 0.1 + 0.2],
        "day": ["2025-02-28", None, "1899-12-31", "2100-01-01"],
        "kept": [True, False, True, True],
    }
    clockwise = [Polygon([(0, 0), (0, 1), (1, 1), (1, 0)]), box(0, 0, 3, 3).difference(box(1, 1, 2, 2))] * 2
    mixed = [clockwise[0], MultiPolygon([clockwise[1], box(5, 5, 6, 6)])] * 2
    shapes = {
        "Point": [Point(-0.0, k / 3) for k in range(4)], "Polygon": clockwise, "MultiPolygon": mixed, "none": None,
        "LineString": [LineString([(k, 0), (1 / 3, 2), (4, 5)]) for k in range(4)],
    }  # fmt: skip
    for kind, geometry in shapes.items():
        spec = LayerSpec(f"odd_{kind.lower()}", "Odd", kind, fields)
        crs = None if geometry is None else CRS(32633)
        yield OutputLayer(spec, spec.frame(columns, geometry=geometry, crs=crs), title=spec.name)
        empty = LayerSpec(f"no_{kind.lower()}", "None", kind, fields)
        yield OutputLayer(empty, empty.empty() if geometry is None else empty.empty(crs), title=empty.name)
    loose = LayerSpec("odd_loose", "Odd", "Point", fields, placed=False)
    points = [Point(1, 2), Point(), Point(), Point(3, 4)]
    yield OutputLayer(loose, loose.frame(columns, geometry=points, crs=CRS(32633)), title="loose")


def test_what_is_taken_for_read_without_reading_is_what_a_reader_gets(tmp_path):
    layers = [*_odd_layers(), *layout_layers(small_layout())]
    write_geopackage(tmp_path / "odd.gpkg", layers, CRS(32633))
    for layer in layers:
        read = pyogrio.read_dataframe(tmp_path / "odd.gpkg", layer=layer.table, use_arrow=True)
        told = frame_read(layer, CRS(32633))
        assert type(told) is type(read)
        pd.testing.assert_frame_equal(pd.DataFrame(told), pd.DataFrame(read))
        if layer.spec.geometry != "none":
            assert told.crs == read.crs
            assert shapely.to_wkb(told.geometry).tolist() == shapely.to_wkb(read.geometry).tolist()


@pytest.mark.parametrize("numbered", [True, False])
def test_a_layout_that_was_just_written_is_the_one_that_is_read(tmp_path, numbered):
    asked = {"design_file": None, "more": (), "light": None, "words": ENGLISH, "progress": silent}
    held = write_and_hold(small_layout(), tmp_path, **asked).held
    told, read = layout_just_written(held if numbered else replace(held, crs=None)), read_layout_file(tmp_path)
    for name in ("path", "crs", "layers", "design", "heights", "sources", "plant_count"):
        assert getattr(told, name) == getattr(read, name)
    assert told.plant_count == len(told.plants())
    for name in read.sealed.seals:
        pd.testing.assert_frame_equal(pd.DataFrame(told.frame(name)), pd.DataFrame(read.frame(name)))


def test_what_is_sealed_without_reading_is_what_a_reader_gets(tmp_path):
    layers = [*_odd_layers(), *layout_layers(small_layout())]
    write_geopackage(tmp_path / "odd.gpkg", layers, CRS(32633))
    for layer in layers:
        read = pyogrio.read_dataframe(tmp_path / "odd.gpkg", layer=layer.table, use_arrow=True, fid_as_index=True)
        told, found = seal_of(layer.table, as_read(layer)), seal_of(layer.table, read)
        assert told.columns == found.columns
        assert (layer.table, told.features, told.sha256, told.text) == (
            layer.table, found.features, found.sha256, found.text,
        )  # fmt: skip


def test_a_layout_of_an_older_version_is_told_the_layers_new_name(layout):
    file = read_layout_file(layout)
    older = replace(file, layers=tuple("beds" if name == "vegetable_beds" else name for name in file.layers))
    with pytest.raises(InputError, match=r"older version: layer .beds. is now .vegetable_beds.\. Run `geoagro layout"):
        older.beds()
