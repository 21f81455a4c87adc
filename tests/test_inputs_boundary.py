"""Every kind of boundary file gives the same field; what is wrong in a file is repaired and told, or refused."""

import contextlib
import json
import sqlite3
import sys
import zipfile

import ezdxf
import fiona
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from input_files import EAST, FIELD, NORTH, UTM, design, lonlat, write_raster, write_vector
from pyproj import CRS
from shapely import GeometryCollection, LineString, MultiPolygon, Point, Polygon, affinity, box

from geoagro.crs import WGS84, transform_geometries
from geoagro.errors import CrsError, InputError
from geoagro.inputs.design.own_file import read_fields
from geoagro.inputs.site import read_site
from geoagro.inputs.vector.file import read_features
from geoagro.values.design import VectorSource

CORNERS = list(FIELD.exterior.coords)[:-1]


def geographic(*geometries):
    return list(transform_geometries(np.array(geometries, dtype=object), UTM, WGS84))


def boundary_of(tmp_path, file, **keys):
    return read_site(design(tmp_path, boundary={"file": file, **keys}))


def texts(site, level=None):
    return [f.text for f in site.findings if level in (None, f.level)]


def assert_is_the_field(site, tolerance=0.01):
    assert site.crs.to_epsg() == 32633
    assert site.boundary.symmetric_difference(FIELD).area < tolerance
    assert site.boundary.geom_type == "MultiPolygon"


@pytest.mark.parametrize(
    ("name", "driver"),
    [("a.gpkg", "GPKG"), ("a.shp", "ESRI Shapefile"), ("a.geojson", "GeoJSON"), ("a.fgb", "FlatGeobuf")],
)
def test_usual_formats_in_a_projected_crs(tmp_path, name, driver):
    write_vector(tmp_path / name, [FIELD], driver=driver)
    assert_is_the_field(boundary_of(tmp_path, name))


@pytest.mark.parametrize("count", [10**9, 5_118_946_808_583_799_043])
def test_a_stored_count_of_features_that_the_file_has_no_room_for_is_told(tmp_path, count):
    """The reader makes room for the stored count: half a minute and gigabytes for one polygon."""
    write_vector(tmp_path / "a.gpkg", [FIELD], layer="field")
    with contextlib.closing(sqlite3.connect(tmp_path / "a.gpkg")) as file, file:
        file.execute("update gpkg_ogr_contents set feature_count = ?", (count,))
    with pytest.raises(InputError, match=r"a\.gpkg.*states more features than the file's [\d,]+ bytes have room for"):
        boundary_of(tmp_path, "a.gpkg")


def test_geojson_in_degrees(tmp_path):
    write_vector(tmp_path / "a.geojson", geographic(FIELD), WGS84, driver="GeoJSON")
    assert_is_the_field(boundary_of(tmp_path, "a.geojson"), tolerance=0.1)


@pytest.mark.parametrize("inside", ["", "sub/folder/"])
def test_zipped_shapefile_also_in_a_folder_of_the_archive(tmp_path, inside):
    write_vector(tmp_path / "a.shp", [FIELD])
    with zipfile.ZipFile(tmp_path / "a.zip", "w") as archive:
        for part in tmp_path.glob("a.[sdpc]*"):
            archive.write(part, inside + part.name)
    assert_is_the_field(boundary_of(tmp_path, "a.zip"))


def test_zip_without_or_with_several_layers_is_refused(tmp_path):
    with zipfile.ZipFile(tmp_path / "a.zip", "w") as archive:
        archive.writestr("readme.txt", "nothing")
    with pytest.raises(InputError, match=r"inputs.boundary \(a.zip\): the archive holds no vector file"):
        boundary_of(tmp_path, "a.zip")
    with zipfile.ZipFile(tmp_path / "b.zip", "w") as archive:
        archive.writestr("x.geojson", "{}")
        archive.writestr("y.geojson", "{}")
    with pytest.raises(InputError, match=r"holds several: x.geojson, y.geojson"):
        boundary_of(tmp_path, "b.zip")


@pytest.mark.parametrize("name", ["a.kml", "a.kmz"])
def test_kml_and_kmz(tmp_path, name):
    write_vector(tmp_path / name, geographic(FIELD), WGS84, driver="LIBKML", Name=["field"])
    assert_is_the_field(boundary_of(tmp_path, name), tolerance=0.1)


def write_gpx(path, *tracks, waypoints=()):
    def points(corners, tag):
        return "".join('<{2} lat="{1:.9f}" lon="{0:.9f}"></{2}>'.format(*lonlat(*c), tag) for c in corners)

    body = points(waypoints, "wpt")
    for number, segments in enumerate(tracks, start=1):
        inner = "".join(f"<trkseg>{points(segment, 'trkpt')}</trkseg>" for segment in segments)
        body += f"<trk><name>t{number}</name>{inner}</trk>"
    path.write_text(f'<gpx version="1.1" creator="test" xmlns="http://www.topografix.com/GPX/1/1">{body}</gpx>')


def test_gpx_track_is_closed_and_the_gap_told(tmp_path):
    write_gpx(tmp_path / "walk.gpx", [[*CORNERS, (EAST + 95, NORTH + 0.0)]])
    write_gpx(tmp_path / "round.gpx", [CORNERS[:2], CORNERS[2:]])
    site = boundary_of(tmp_path, "walk.gpx")
    assert_is_the_field(site, tolerance=0.1)
    assert "the track closed over a gap of 5.0 m" in texts(site, "repair")


def test_segments_of_a_gpx_track_are_joined(tmp_path):
    write_gpx(tmp_path / "walk.gpx", [[*CORNERS, CORNERS[0]][:3], [*CORNERS, CORNERS[0]][3:]])
    site = boundary_of(tmp_path, "walk.gpx")
    assert_is_the_field(site, tolerance=0.1)
    assert "the track has 2 segments, joined in their order" in texts(site)


def test_a_wide_gap_in_a_track_is_a_warning_and_an_absurd_one_refused(tmp_path):
    wide = [(EAST, NORTH), (EAST + 100, NORTH), (EAST + 100, NORTH + 80), (EAST, NORTH + 80), (EAST, NORTH + 40)]
    write_gpx(tmp_path / "wide.gpx", [wide])
    assert "the track closed over a gap of 40.0 m" in texts(boundary_of(tmp_path, "wide.gpx"), "warning")
    write_gpx(tmp_path / "there.gpx", [CORNERS[:3]])
    with pytest.raises(InputError, match=r"the track \(180 m long, 3 points\) doesn't go round a field: it ends 128 m"):
        boundary_of(tmp_path, "there.gpx")


def test_one_of_several_tracks_is_picked_with_where(tmp_path):
    write_gpx(tmp_path / "a.gpx", [CORNERS[:3]], [[*CORNERS, CORNERS[0]]])
    assert_is_the_field(boundary_of(tmp_path, "a.gpx", where="name = 't2'"), tolerance=0.1)


def test_waypoints_are_corners_where_there_is_no_track(tmp_path):
    write_gpx(tmp_path / "a.gpx", waypoints=CORNERS)
    site = boundary_of(tmp_path, "a.gpx")
    assert_is_the_field(site, tolerance=0.1)
    assert any("4 points taken as the corners of 1 polygon" in t for t in texts(site))


def write_dxf(path, rings, closed=True):
    drawing = ezdxf.new()
    for layer, ring in rings:
        drawing.modelspace().add_lwpolyline(ring, close=closed, dxfattribs={"layer": layer})
    drawing.saveas(path)


def test_dxf_closed_polylines_with_holes(tmp_path):
    hole = list(box(EAST + 10, NORTH + 10, EAST + 20, NORTH + 20).exterior.coords)[:-1]
    write_dxf(tmp_path / "a.dxf", [("field", CORNERS), ("field", hole), ("text", [(0, 0), (1, 0), (1, 1)])])
    site = boundary_of(tmp_path, "a.dxf", crs="EPSG:32633", layer="field")
    assert site.boundary.area == pytest.approx(8000 - 100)
    assert "1 ring within another taken as a hole" in texts(site, "repair")
    with pytest.raises(InputError, match=r"the drawing has several layers: field, text. Name one with `layer:`"):
        boundary_of(tmp_path, "a.dxf", crs="EPSG:32633")
    with pytest.raises(InputError, match=r"the drawing has no layer 'fields'; it has field, text"):
        boundary_of(tmp_path, "a.dxf", crs="EPSG:32633", layer="fields")


def test_dxf_without_crs_or_with_open_lines_is_refused(tmp_path):
    write_dxf(tmp_path / "a.dxf", [("0", CORNERS)], closed=False)
    with pytest.raises(CrsError, match=r"\(a.dxf\): states no coordinate reference system.*`crs:`.*inputs.boundary"):
        boundary_of(tmp_path, "a.dxf")
    with pytest.raises(InputError, match=r"polygons are needed, but 1 of 1 lines are not closed"):
        boundary_of(tmp_path, "a.dxf", crs="EPSG:32633")


@pytest.mark.parametrize(
    "text",
    [
        "x,y\n" + "".join(f"{x},{y}\n" for x, y in CORNERS),
        "\ufeffNorthing;Easting;note\r\n" + "".join(f"{y};{x};a, b\r\n" for x, y in CORNERS),
        "Easting [m]\tNorthing [m]\n" + "".join(f"{x:.2f}\t{y:.2f}\n".replace(".", ",") for x, y in CORNERS),
    ],
    ids=["commas", "semicolons", "tabs and decimal commas"],
)
def test_csv_lists_of_corners(tmp_path, text):
    (tmp_path / "a.csv").write_text(text, encoding="utf-8")
    assert_is_the_field(boundary_of(tmp_path, "a.csv", crs="EPSG:32633"))


def test_csv_in_degrees_with_two_parts(tmp_path):
    rings = [CORNERS, [(x + 200, y) for x, y in CORNERS]]
    lines = [f"{n},{lon:.9f},{lat:.9f}" for n, ring in enumerate(rings) for lon, lat in (lonlat(*c) for c in ring)]
    (tmp_path / "a.csv").write_text("Part,Longitude,Latitude\n" + "\n".join(lines))
    site = boundary_of(tmp_path, "a.csv", crs="EPSG:4326")
    assert len(site.boundary.geoms) == 2
    assert site.boundary.area == pytest.approx(16000, abs=0.5)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (
            "lon,lat\n15,46\n15.1,46\n15.1,46.1\n",
            "states no coordinate reference system.*'EPSG:4326' for points from a GPS",
        ),
        ("a,b\n1,2\n", "needs one column named x, easting or lng .found none among a, b"),
        ("x,y\n1,2\n3,four\n", "line 3: y is not a number .'four'"),
        ("x,y\n", "holds nothing below its first line"),
        ("15 46\n", "first line must name columns"),
        ("x,y\n1,2\n1,2\n1,2\n", "at least 3 different corners"),
    ],
)
def test_csv_mistakes(tmp_path, text, message):
    (tmp_path / "a.csv").write_text(text)
    keys = {} if "lon" in text else {"crs": "EPSG:32633"}
    with pytest.raises(InputError, match=message):
        boundary_of(tmp_path, "a.csv", **keys)


def test_degrees_under_a_projected_crs_are_refused(tmp_path):
    (tmp_path / "a.csv").write_text("lon,lat\n15,46\n15.1,46\n15.1,46.1\n")
    with pytest.raises(CrsError, match=r"column 'lon' holds degrees, but WGS 84 / UTM zone 33N is projected"):
        boundary_of(tmp_path, "a.csv", crs="EPSG:32633")


def test_holes_and_several_parts_are_kept_and_height_is_dropped(tmp_path):
    ringed = Polygon(
        [(*c, 300.0) for c in CORNERS],
        [[(*c, 300.0) for c in box(EAST + 9, NORTH + 9, EAST + 19, NORTH + 19).exterior.coords]],
    )
    write_vector(tmp_path / "a.gpkg", [ringed, affinity.translate(FIELD, 150)])
    site = boundary_of(tmp_path, "a.gpkg")
    assert len(site.boundary.geoms) == 2
    assert not site.boundary.has_z
    assert site.boundary.area == pytest.approx(16000 - 100)


def test_a_self_crossing_ring_is_repaired_and_both_areas_told(tmp_path):
    bowtie = Polygon([(EAST, NORTH), (EAST + 100, NORTH + 80), (EAST + 100, NORTH), (EAST, NORTH + 80)])
    write_vector(tmp_path / "a.gpkg", [bowtie])
    site = boundary_of(tmp_path, "a.gpkg")
    assert site.boundary.is_valid
    assert site.boundary.area == pytest.approx(4000)
    assert any("self-intersection" in t and "from 0.0 to 4,000.0 m²" in t for t in texts(site, "warning"))


@settings(max_examples=15, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 100), st.integers(0, 80)), min_size=4, max_size=9, unique=True))
def test_whatever_ring_is_drawn_the_field_is_valid_or_refused(tmp_path_factory, corners):
    folder = tmp_path_factory.mktemp("ring")
    write_vector(folder / "a.gpkg", [Polygon([(EAST + x, NORTH + y) for x, y in corners])])
    try:
        area = boundary_of(folder, "a.gpkg").boundary
    except InputError as error:
        assert "encloses no ground" in str(error)
        return
    assert area.is_valid
    assert 0 < area.area <= 8000
    assert area.within(FIELD.buffer(1e-6))


def test_overlapping_polygons_are_united_and_the_overlap_told(tmp_path):
    write_vector(tmp_path / "a.gpkg", [FIELD, affinity.translate(FIELD, 50)], name=["a", "b"])
    site = boundary_of(tmp_path, "a.gpkg")
    assert site.boundary.area == pytest.approx(12000)
    assert any(
        "polygons overlap by 4,000.0 m² and were united; if the file holds several" in t for t in texts(site, "warning")
    )
    assert_is_the_field(boundary_of(tmp_path, "a.gpkg", where="name = 'a'"))


def test_duplicates_slivers_and_hairline_holes_go_and_are_told(tmp_path):
    sliver = box(EAST + 300, NORTH, EAST + 400, NORTH + 0.1)
    left, right = box(EAST, NORTH, EAST + 50, NORTH + 80), box(EAST + 50, NORTH, EAST + 100, NORTH + 80)
    right = right.difference(box(EAST + 49, NORTH + 20, EAST + 50.05, NORTH + 30))
    write_vector(tmp_path / "a.gpkg", [left, left.reverse(), right, sliver])
    site = boundary_of(tmp_path, "a.gpkg")
    assert_is_the_field(site)
    told = texts(site, "repair")
    assert "1 polygon drawn twice, taken once" in told
    assert "1 sliver of 10.00 m² in all left out" in told
    assert "1 hairline hole of 0.50 m² in all closed" in told


def test_a_closed_line_is_taken_as_a_polygon(tmp_path):
    write_vector(tmp_path / "a.gpkg", [LineString(FIELD.exterior)])
    site = boundary_of(tmp_path, "a.gpkg")
    assert_is_the_field(site)
    assert "1 closed line taken as polygon" in texts(site)


def test_polygons_in_collections_are_found_and_other_things_told(tmp_path):
    write_vector(tmp_path / "a.gpkg", [GeometryCollection([FIELD, Point(EAST, NORTH)]), None])
    site = boundary_of(tmp_path, "a.gpkg")
    assert_is_the_field(site)
    assert "beside the polygons there are other lines or points, which are not used: 1" in texts(site)
    assert "1 feature without geometry left out" in texts(site, "repair")


def test_a_ring_that_stands_open_is_closed_feature_by_feature(tmp_path):
    ring = [list(lonlat(*c)) for c in CORNERS]
    text = str({"type": "Polygon", "coordinates": [ring]}).replace("'", '"')
    feature = f'{{"type":"Feature","properties":{{"name":"a"}},"geometry":{text}}}'
    (tmp_path / "a.geojson").write_text(f'{{"type":"FeatureCollection","features":[{feature}]}}')
    site = boundary_of(tmp_path, "a.geojson")
    assert_is_the_field(site, tolerance=0.1)
    assert "1 ring stood open and was closed with a straight line" in texts(site, "repair")


def test_a_machine_without_fiona_reads_sound_files_and_says_what_an_open_ring_needs(tmp_path, monkeypatch):
    monkeypatch.setitem(sys.modules, "fiona", None)  # makes the import fail
    write_vector(tmp_path / "a.gpkg", [FIELD])
    assert_is_the_field(boundary_of(tmp_path, "a.gpkg"))
    ring = [list(lonlat(*c)) for c in CORNERS]
    (tmp_path / "open.geojson").write_text(json.dumps({"type": "Polygon", "coordinates": [ring]}))
    with pytest.raises(InputError, match=r"open.geojson.*rings that are not closed.*Install fiona"):
        boundary_of(tmp_path, "open.geojson")


def test_one_layer_of_several_must_be_named(tmp_path):
    write_vector(tmp_path / "a.gpkg", [FIELD], layer="north")
    write_vector(tmp_path / "a.gpkg", [affinity.translate(FIELD, 500)], layer="south")
    with pytest.raises(
        InputError,
        match=r"several layers: north \(Polygon\), south \(Polygon\). Name one with `layer:` under inputs.boundary",
    ):
        boundary_of(tmp_path, "a.gpkg")
    assert_is_the_field(boundary_of(tmp_path, "a.gpkg", layer="north"))
    with pytest.raises(InputError, match=r"has no layer 'nort'.*Did you mean north"):
        boundary_of(tmp_path, "a.gpkg", layer="nort")


def test_what_is_no_boundary_is_refused(tmp_path):
    write_vector(tmp_path / "lines.gpkg", [LineString(CORNERS[:3])])
    with pytest.raises(InputError, match=r"inputs.boundary \(lines.gpkg\): polygons are needed, but 1 of 1 lines"):
        boundary_of(tmp_path, "lines.gpkg")
    write_vector(tmp_path / "points.gpkg", [Point(c) for c in CORNERS])
    with pytest.raises(InputError, match=r"polygons are needed, but it holds 4 Point"):
        boundary_of(tmp_path, "points.gpkg")
    with fiona.open(
        tmp_path / "empty.gpkg", "w", driver="GPKG", crs="EPSG:32633", schema={"geometry": "Polygon", "properties": {}}
    ):
        pass
    with pytest.raises(InputError, match=r"inputs.boundary \(empty.gpkg\): .*no geometry"):
        boundary_of(tmp_path, "empty.gpkg")
    (tmp_path / "text.gpkg").write_text("not a database")
    with pytest.raises(InputError, match=r"inputs.boundary \(text.gpkg\): can't be read as vector data"):
        boundary_of(tmp_path, "text.gpkg")


def test_a_missing_or_empty_file_is_named_with_its_key(tmp_path):
    write_vector(tmp_path / "field.gpkg", [FIELD])
    with pytest.raises(InputError, match=r"inputs.boundary.file: feild.gpkg isn't there .*did you mean field.gpkg\?"):
        boundary_of(tmp_path, "feild.gpkg")
    (tmp_path / "none.shp").touch()
    with pytest.raises(InputError, match=r"inputs.boundary.file: none.shp is empty"):
        boundary_of(tmp_path, "none.shp")


def test_a_file_without_crs_is_refused_until_the_design_states_it(tmp_path):
    write_vector(tmp_path / "a.shp", [FIELD], crs=None)
    with pytest.raises(CrsError, match=r"\(a.shp\): states no coordinate reference system.*add `crs:`"):
        boundary_of(tmp_path, "a.shp")
    assert_is_the_field(boundary_of(tmp_path, "a.shp", crs="EPSG:32633"))


def test_two_statements_of_the_crs_must_agree(tmp_path):
    write_vector(tmp_path / "a.gpkg", [FIELD])
    assert_is_the_field(boundary_of(tmp_path, "a.gpkg", crs="EPSG:32633"))
    with pytest.raises(CrsError, match=r"states EPSG:32633 .* but inputs.boundary.crs says EPSG:32632"):
        boundary_of(tmp_path, "a.gpkg", crs="EPSG:32632")


def test_web_mercator_is_left_for_a_true_crs(tmp_path):
    mercator = CRS.from_epsg(3857)
    write_vector(tmp_path / "a.gpkg", transform_geometries(np.array([FIELD]), UTM, mercator), mercator)
    write_raster(tmp_path / "geo.tif", np.ones((9, 9)), crs="EPSG:4326", cell=0.001, west=14.99, north=45.16)
    site = read_site(design(tmp_path, boundary={"file": "a.gpkg"}, elevation={"file": "geo.tif"}))
    assert_is_the_field(site, tolerance=0.1)
    assert any("out of scale by" in t for t in texts(site))


def test_swapped_longitude_and_latitude_are_found_out(tmp_path):
    swapped = [Polygon([(lat, lon) for lon, lat in g.exterior.coords]) for g in geographic(FIELD)]
    far = [Polygon([(lat + 60, lon) for lat, lon in g.exterior.coords]) for g in swapped]
    beyond = [Polygon([(lon, lat) for lat, lon in g.exterior.coords]) for g in far]
    write_vector(tmp_path / "beyond.geojson", beyond, WGS84, driver="GeoJSON")
    with pytest.raises(CrsError, match=r"latitude can't be above 90 degrees.*look swapped"):
        boundary_of(tmp_path, "beyond.geojson")


def test_projected_coordinates_said_to_be_degrees_are_found_out(tmp_path):
    write_vector(tmp_path / "a.geojson", [FIELD], crs=None, driver="GeoJSON")
    with pytest.raises(CrsError, match=r"is said to be in degrees .* look projected"):
        boundary_of(tmp_path, "a.geojson")


def test_a_wrong_where_is_told(tmp_path):
    write_vector(tmp_path / "a.gpkg", [FIELD], name=["a"])
    with pytest.raises(InputError, match=r"no feature fits where: name = 'b'"):
        boundary_of(tmp_path, "a.gpkg", where="name = 'b'")
    with pytest.raises(InputError, match=r"where: nam = 'b' can't be used"):
        boundary_of(tmp_path, "a.gpkg", where="nam = 'b'")


def test_a_register_of_far_fields_is_a_warning(tmp_path):
    write_vector(tmp_path / "a.gpkg", [FIELD, affinity.translate(FIELD, 20_000)])
    assert any("spread over 20.1 km" in t for t in texts(boundary_of(tmp_path, "a.gpkg"), "warning"))


def test_every_part_of_a_shapefile_has_its_checksum(tmp_path):
    write_vector(tmp_path / "a.shp", [FIELD])
    site = boundary_of(tmp_path, "a.shp")
    names = [s.path for s in site.sources if s.role == "boundary"]
    assert names == ["a.cpg", "a.dbf", "a.prj", "a.shp", "a.shx"]
    assert all(len(s.sha256) == 64 for s in site.sources)
    assert [s.path for s in site.sources if s.role == "elevation"] == ["dem.tif"]


def test_reading_twice_gives_the_same(tmp_path):
    write_vector(tmp_path / "a.gpkg", [affinity.translate(FIELD, 150), FIELD])
    one, two = boundary_of(tmp_path, "a.gpkg"), boundary_of(tmp_path, "a.gpkg")
    assert one == two
    assert isinstance(one.boundary, MultiPolygon)


def refused(folder, key, file, **named):
    with pytest.raises(InputError) as error:
        read_features(VectorSource(file=file, **named), key=key, folder=folder)
    return str(error.value)


def test_a_file_given_to_a_command_is_told_its_options_and_no_keys(tmp_path):
    for layer in ("one", "two"):
        write_vector(tmp_path / "two.gpkg", [FIELD], layer=layer)
    write_vector(tmp_path / "bare.gpkg", [FIELD], None)
    write_vector(tmp_path / "field.gpkg", [FIELD])
    for key in ("survey", "SOURCE"):
        assert refused(tmp_path, key, "two.gpkg").endswith("Name one with --layer.")
        assert "the design file" not in refused(tmp_path, key, "twi.gpkg")
        assert "the design file" not in refused(tmp_path, key, "bare.gpkg")
        assert "--crs says" in refused(tmp_path, key, "field.gpkg", crs="EPSG:2193")
    assert "with --crs" in refused(tmp_path, "survey", "bare.gpkg")
    assert refused(tmp_path, "inputs.boundary", "two.gpkg").endswith("Name one with `layer:` under inputs.boundary.")
    assert "the design file's folder" in refused(tmp_path, "inputs.boundary", "twi.gpkg")


@pytest.mark.parametrize("key", ["SOURCE", "report.photos", "inputs.boundary"])
def test_a_file_without_a_crs_is_named_once(tmp_path, key):
    write_vector(tmp_path / "bare.gpkg", [FIELD], None)
    assert refused(tmp_path, key, "bare.gpkg").count("(bare.gpkg)") == 1


def test_a_suggestion_of_another_file_ends_with_one_mark(tmp_path):
    (tmp_path / "field.gpkg").touch()
    assert "did you mean field.gpkg? Relative" in refused(tmp_path, "inputs.boundary", "feld.gpkg")
    assert f"(looked in {tmp_path}). Relative" in refused(tmp_path, "inputs.boundary", "nothing.gpkg")


def test_fields_named_by_large_numbers_keep_all_their_digits(tmp_path):
    numbers = [12345678.0, 12345679.0]
    write_vector(tmp_path / "fields.gpkg", [FIELD, affinity.translate(FIELD, 200, 0)], name=numbers)
    layer = read_fields(VectorSource(file="fields.gpkg"), folder=tmp_path, name_column="name")
    assert [field.name for field in layer.fields] == ["12345678", "12345679"]
