"""Layers in the formats that offices ask for, read back by another reader than the one that wrote them."""

import csv
import io
import json
import zipfile
from xml.etree import ElementTree

import duckdb
import fiona
import geopandas as gpd
import numpy as np
import pyarrow.parquet as pq
import pytest
import shapely
from builders import UTM
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st
from outputs_builders import small_layout

from geoagro.cli.main import group
from geoagro.crs import WGS84, transform_geometries
from geoagro.errors import InputError, OutputError
from geoagro.outputs.exchange.formats import FORMATS, write_layers
from geoagro.outputs.exchange.short_names import short_names
from geoagro.outputs.layout.files import write_layout

DESIGN = (
    "name: Invented field\ninputs:\n  boundary: {file: a.gpkg}\n  elevation: {file: b.tif}\noutput: {folder: result}\n"
)


@pytest.fixture(scope="module")
def result(tmp_path_factory):
    folder = tmp_path_factory.mktemp("export")
    (folder / "design.yaml").write_text(DESIGN)
    write_layout(small_layout(), folder / "result")
    return folder


@pytest.fixture(scope="module")
def beds():
    return small_layout().beds.tree_beds.drop(columns="axis", errors="ignore")


def run(*arguments):
    return CliRunner().invoke(group, [str(a) for a in arguments])


def lonlat(frame):
    return transform_geometries(frame.geometry.to_numpy(), UTM, WGS84)


def test_geoparquet_is_read_by_a_database_with_its_crs(tmp_path, beds):
    (path,) = write_layers({"tree_beds": beds}, "geoparquet", tmp_path)
    rows = duckdb.sql(f"SELECT bed, row, geometry FROM '{path}' ORDER BY row").fetchall()
    about = json.loads(pq.read_schema(path).metadata[b"geo"])
    assert about["columns"]["geometry"]["crs"]["id"] == {"authority": "EPSG", "code": 32633}
    assert [row[0] for row in rows] == beds["bed"].tolist()
    for row, shape in zip(rows, beds.geometry, strict=True):
        assert shapely.equals(shapely.from_wkb(bytes(row[2])), shape)


@pytest.mark.parametrize(("kind", "place"), [("flatgeobuf", "{}"), ("shapefile", "zip://{}")])
def test_flatgeobuf_and_shapefile_are_read_by_fiona_with_every_value(tmp_path, beds, kind, place):
    (path,) = write_layers({"tree_beds": beds}, kind, tmp_path)
    with fiona.open(place.format(path)) as file:
        assert file.crs.to_epsg() == 32633
        read = sorted(file, key=lambda f: f["properties"]["row"])
    names = short_names([n for n in beds.columns if n != "geometry"]) if kind == "shapefile" else {}
    assert len(read) == len(beds)
    for feature, (_, row) in zip(read, beds.iterrows(), strict=True):
        assert shapely.equals(shapely.geometry.shape(feature["geometry"]).normalize(), row["geometry"].normalize())
        for name in ("bed", "row", "area_m2", "length_m"):
            value = feature["properties"][names.get(name, name)]
            assert value == pytest.approx(row[name]) if isinstance(value, float) else value == row[name]


def test_a_shapefile_says_which_short_name_is_which(tmp_path, beds):
    (path,) = write_layers({"tree_beds": beds}, "shapefile", tmp_path)
    assert path.name == "tree_beds.shp.zip"
    with zipfile.ZipFile(path) as file:
        assert {"tree_beds.shp", "tree_beds.shx", "tree_beds.dbf", "tree_beds.prj", "tree_beds.cpg"} <= set(
            file.namelist()
        )
        listed = {row["name"]: row["short"] for row in csv.DictReader(io.TextIOWrapper(file.open("names.csv")))}
    assert set(listed) == set(beds.columns) - {"geometry"}
    assert all(len(short) <= 10 for short in listed.values())


def test_geojson_is_as_rfc_7946_asks(tmp_path, beds):
    """RFC 7946: 4 longitude and latitude in WGS 84, no member crs; 3.1.6 outer rings counter-clockwise."""
    (path,) = write_layers({"tree_beds": beds}, "geojson", tmp_path)
    content = json.loads(path.read_text())
    assert "crs" not in content
    for feature, shape in zip(content["features"], lonlat(beds), strict=True):
        read = shapely.geometry.shape(feature["geometry"])
        assert shapely.hausdorff_distance(read, shape) < 2e-7
        assert all(shapely.is_ccw(part.exterior) for part in shapely.get_parts(read))


def test_kml_holds_the_same_corners_and_names(tmp_path, beds):
    (path,) = write_layers({"tree_beds": beds}, "kml", tmp_path)
    space = "{http://www.opengis.net/kml/2.2}"
    marks = ElementTree.parse(path).getroot().findall(f".//{space}Placemark")
    assert [mark.findtext(f"{space}name") for mark in marks] == beds["bed"].tolist()
    for mark, shape in zip(marks, lonlat(beds), strict=True):
        text = mark.findtext(f".//{space}coordinates").split()
        read = np.array([[float(v) for v in corner.split(",")[:2]] for corner in text])
        assert shapely.hausdorff_distance(shapely.LineString(read), shape.exterior) < 2e-7


@pytest.mark.parametrize("kind", FORMATS)
def test_the_command_writes_the_outline_every_layer_and_the_same_bytes(result, kind):
    done = run("export", result / "design.yaml", "--format", kind)
    assert done.exit_code == 0, done.output
    first = {path.name: path.read_bytes() for path in (result / "result" / "export").iterdir() if path.is_file()}
    assert any(name.startswith("field.") for name in first)
    assert run("export", result / "design.yaml", "--format", kind).exit_code == 0
    for name, content in first.items():
        assert (result / "result" / "export" / name).read_bytes() == content, name
    done = run("export", result / "design.yaml", "--format", kind, "--all")
    assert done.exit_code == 0, f"{done.output} {done.exception}"
    assert {"tree_rows", "vegetable_beds"} <= {
        path.name.split(".")[0] for path in (result / "result" / "export").iterdir()
    }


def test_layers_that_cannot_be_written_are_refused_in_words(result, tmp_path, beds):
    wrong = run("export", result / "design.yaml", "--format", "kml", "--layer", "area_summary")
    assert isinstance(wrong.exception, InputError) and "table without shapes" in str(wrong.exception)
    wrong = run("export", result / "design.yaml", "--format", "kml", "--layer", "bedz")
    assert isinstance(wrong.exception, InputError) and "no layer 'bedz'" in str(wrong.exception)
    assert "it has contours, " in str(wrong.exception) and "geoagro layout" not in str(wrong.exception)
    for name, meant in (("tree_row", "tree_rows"), ("plants_B", "plants_banana"), ("beds", "vegetable_beds")):
        wrong = run("export", result / "design.yaml", "--format", "kml", "--layer", name)
        assert f"Did you mean {meant}?" in str(wrong.exception)
    with pytest.raises(OutputError, match="cut off"):
        write_layers({"x": beds.assign(note="ä" * 128)}, "shapefile", tmp_path)
    with pytest.raises(OutputError, match="is empty"):
        write_layers({"x": gpd.GeoDataFrame(beds.iloc[:0])}, "kml", tmp_path)


@given(st.lists(st.from_regex(r"[a-z]{1,14}(_[a-z0-9]{1,9}){0,4}", fullmatch=True), unique=True, max_size=60))
def test_short_names_fit_and_are_told_apart(names):
    found = short_names(names)
    assert list(found) == names
    assert len(set(found.values())) == len(names)
    assert all(0 < len(short) <= 10 for short in found.values())
    assert all(short == name for name, short in found.items() if len(name) <= 10 and "__" not in name and names.count(name) == 1 and not any(other != name and _fits(other, name) for other in names))  # fmt: skip


def _fits(other, name):
    return short_names([other])[other] == name
