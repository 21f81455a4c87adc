"""Odd files in the place of the boundary (and of other drawings), each with the class and words that it must get.

Every case makes its file beside a sound field; "fine" is where the work must go on, and `says` then stands in what is printed.
"""

import json
import os
import sqlite3
import struct
import zipfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import geopandas as gpd
import numpy as np
import shapely
from input_files import EAST, NORTH, UTM, lonlat, write_vector
from shapely import GeometryCollection, LineString, MultiPolygon, Point, Polygon, box

FIELD = box(EAST, NORTH, EAST + 40, NORTH + 36)
CORNERS = list(FIELD.exterior.coords)
HOLE = box(EAST + 10, NORTH + 10, EAST + 16, NORTH + 16)
X0, Y0, X1, Y1 = FIELD.bounds


@dataclass(frozen=True)
class OddFile:
    """What is made in a folder, the design's inputs on it, and what the command must say."""

    name: str
    kind: str
    make: Callable[[Path], object]
    boundary: str = "{file: field.gpkg}"
    more: str = "elevation: {file: dem.tif}"
    says: tuple[str, ...] = ()
    command: tuple[str, ...] = ("check", "design.yaml")

    def design(self) -> str:
        return f"name: invented\ninputs:\n  boundary: {self.boundary}\n  {self.more}\nrows: {{method: straight}}\n"


def frame(geometries, crs=UTM, **columns):
    return gpd.GeoDataFrame(columns, geometry=list(geometries), crs=crs)


def text(name, content) -> Callable[[Path], object]:
    data = content if isinstance(content, bytes) else content.encode()
    return lambda folder: (folder / name).write_bytes(data)


def vector(file, geometries, crs=UTM, /, **options) -> Callable[[Path], object]:
    def make(folder):
        path = folder / file
        path.unlink(missing_ok=True)
        return write_vector(path, geometries, crs, **options)

    return make


def geojson(geometry, **more) -> str:
    return json.dumps(
        {"type": "FeatureCollection", "features": [{"type": "Feature", "properties": {}, "geometry": geometry}]} | more
    )


def _polygon(corners) -> dict:
    return {"type": "Polygon", "coordinates": [[list(c) for c in corners]]}


LONLAT = [lonlat(x, y) for x, y in CORNERS]


def _shapefile(folder, *, without=(), geometries=(FIELD,), crs=UTM):
    write_vector(folder / "field.shp", geometries, crs)
    for ending in without:
        (folder / f"field{ending}").unlink(missing_ok=True)


def _zipped(folder, names, *, inner=""):
    _shapefile(folder)
    with zipfile.ZipFile(folder / "field.zip", "w") as archive:
        for name in names:
            archive.write(folder / name, inner + name)


def _shp_parts():
    return [f"field.{e}" for e in ("shp", "shx", "dbf", "prj", "cpg")]


def _truncated(folder, name, keep):
    path = folder / name
    data = path.read_bytes()
    path.write_bytes(data[: int(len(data) * keep)])


def _cut_geopackage(keep):
    return lambda folder: _truncated(folder, "field.gpkg", keep)


def _sql(*statements):
    def make(folder):
        with sqlite3.connect(folder / "field.gpkg") as db:
            for trigger in [row[0] for row in db.execute("select name from sqlite_master where type = 'trigger'")]:
                db.execute(f"drop trigger {trigger}")
            for statement in statements:
                db.execute(statement)
        db.close()

    return make


def _wkb_of(geometry_bytes):
    """Put bytes in the place of the geometry of the only feature."""

    def make(folder):
        _sql()(folder)
        with sqlite3.connect(folder / "field.gpkg") as db:
            head = b"GP\x00\x01" + struct.pack("<i", 32633)
            db.execute("update field set geom = ?", (head + geometry_bytes,))
        db.close()

    return make


def _nan_ring(value):
    xy = np.array(CORNERS)
    xy[1] = value
    return struct.pack("<BIII", 1, 3, 1, len(xy)) + xy.astype("<f8").tobytes()


def _curve(folder):
    """A GeoPackage with a real curve polygon: written as WKB of type 10 over a compound curve of an arc and a line."""
    x0, y0, x1, y1 = FIELD.buffer(-8).bounds
    arc = struct.pack("<BII", 1, 8, 3) + np.array([(x0, y0), (x1, y0), (x1, y1)], "<f8").tobytes()
    line = struct.pack("<BII", 1, 2, 3) + np.array([(x1, y1), (x0, y1), (x0, y0)], "<f8").tobytes()
    compound = struct.pack("<BII", 1, 9, 2) + arc + line
    _wkb_of(struct.pack("<BII", 1, 10, 1) + compound)(folder)


def _dxf(*entities) -> str:
    return "\n".join(["0", "SECTION", "2", "ENTITIES", *entities, "0", "ENDSEC", "0", "EOF", ""])


def _polyline(corners, layer="0", *, closed=True):
    told = ["0", "LWPOLYLINE", "8", layer, "90", str(len(corners)), "70", "1" if closed else "0"]
    for x, y in corners:
        told += ["10", repr(x), "20", repr(y)]
    return told


def _gpx(body) -> str:
    return f'<?xml version="1.0"?><gpx version="1.1" creator="t" xmlns="http://www.topografix.com/GPX/1/1">{body}</gpx>'


def _track(points) -> str:
    return "<trk><trkseg>" + "".join(f'<trkpt lat="{y}" lon="{x}"/>' for x, y in points) + "</trkseg></trk>"


def _kml(body) -> str:
    return f'<?xml version="1.0"?><kml xmlns="http://www.opengis.net/kml/2.2"><Document>{body}</Document></kml>'


def _placemark(points) -> str:
    ring = " ".join(f"{x},{y}" for x, y in points)
    return f"<Placemark><Polygon><outerBoundaryIs><LinearRing><coordinates>{ring}</coordinates></LinearRing></outerBoundaryIs></Polygon></Placemark>"


def _csv(rows, head="x,y") -> str:
    return "\n".join([head, *(",".join(str(v) for v in row) for row in rows)]) + "\n"


def _jitter(corners, count):
    """The ring with `count` corners, all of them shaken by centimetres: it crosses itself again and again."""
    ring = LineString(corners)
    xy = shapely.get_coordinates(
        shapely.line_interpolate_point(ring, np.linspace(0, ring.length, count, endpoint=False))
    )
    return Polygon(xy + np.random.default_rng(3).normal(0, 0.05, xy.shape))


def _empty_layer(folder):
    (folder / "field.gpkg").unlink()
    frame([FIELD]).iloc[:0].to_file(folder / "field.gpkg", geometry_type="Polygon")


def _table_only(folder):
    (folder / "field.gpkg").unlink()
    import pandas as pd  # noqa: PLC0415
    import pyogrio  # noqa: PLC0415

    pyogrio.write_dataframe(pd.DataFrame({"a": [1]}), folder / "field.gpkg", layer="field")


def _two_layers(folder):
    (folder / "field.gpkg").unlink()
    frame([FIELD]).to_file(folder / "field.gpkg", layer="one")
    frame([FIELD]).to_file(folder / "field.gpkg", layer="two")


def _kmz(folder):
    with zipfile.ZipFile(folder / "field.kmz", "w") as archive:
        archive.writestr("doc.kml", _kml(_placemark(LONLAT)))


CSV, CSV_CRS = "{file: field.csv, crs: 'EPSG:32633'}", "EPSG:32633"
JSON = "{file: field.geojson}"
WALK = LONLAT[:-1]

VECTORS = [
    # what holds nothing, or something else
    OddFile("empty file", "input", text("field.gpkg", b""), says=("field.gpkg", "empty")),
    OddFile("zeros", "input", text("field.gpkg", b"\0" * 4096), says=("field.gpkg", "no format known")),
    OddFile("random bytes", "input", text("field.gpkg", np.random.default_rng(1).bytes(5000)), says=("field.gpkg",)),
    OddFile("a text called gpkg", "input", text("field.gpkg", "hello\n"), says=("field.gpkg", "no format known")),
    OddFile("a picture called gpkg", "input", text("field.gpkg", b"\x89PNG\r\n\x1a\n" + b"\0" * 99), says=("field.gpkg",)),
    OddFile("a page called geojson", "input", text("field.geojson", "<!doctype html><html><body>404</body></html>"), JSON, says=("html",)),
    OddFile("a raster as boundary", "input", lambda folder: None, "{file: dem.tif}", says=("dem.tif",)),
    OddFile("a design as boundary", "input", lambda folder: None, "{file: design.yaml}", says=("design.yaml",)),
    OddFile("a folder as boundary", "input", lambda folder: (folder / "f.gpkg").mkdir(), "{file: f.gpkg}", says=("is a folder",)),
    OddFile("a link to nowhere", "input", lambda folder: (folder / "f.gpkg").symlink_to(folder / "gone"), "{file: f.gpkg}", says=("isn't there",)),
    OddFile("a link to itself", "input", lambda folder: (folder / "f.gpkg").symlink_to(folder / "f.gpkg"), "{file: f.gpkg}", says=("f.gpkg",)),
    OddFile("a pipe for a boundary", "input", lambda folder: os.mkfifo(folder / "f.gpkg"), "{file: f.gpkg}", says=("f.gpkg", "pipe")),
    OddFile("an endless device for a boundary", "input", lambda folder: (folder / "f.csv").symlink_to("/dev/zero"), "{file: f.csv, crs: 'EPSG:4326'}", says=("f.csv", "device")),
    OddFile("half a GeoPackage", "input", _cut_geopackage(0.5), says=("field.gpkg",)),
    OddFile("a tenth of a GeoPackage", "input", _cut_geopackage(0.1), says=("field.gpkg",)),
    OddFile("a GeoPackage without features", "input", _empty_layer, says=("field.gpkg", "holds no geometry")),
    OddFile("a GeoPackage with a table only", "input", _table_only, says=("no layer with geometry",)),
    OddFile("a database that is no GeoPackage", "input", lambda folder: ((folder / "field.gpkg").unlink(), sqlite3.connect(folder / "field.gpkg").execute("create table a (b)")), says=("field.gpkg",)),
    OddFile("two layers", "input", _two_layers, says=("several layers", "one", "two", "layer:")),
    OddFile("two layers, one named", "fine", _two_layers, "{file: field.gpkg, layer: two}"),
    OddFile("a layer that isn't there", "input", _two_layers, "{file: field.gpkg, layer: tow}", says=("no layer 'tow'", "Did you mean two")),
    OddFile("where that fits nothing", "input", vector("field.gpkg", [FIELD], name=["a"]), "{file: field.gpkg, where: \"name = 'b'\"}", says=("no feature fits",)),
    OddFile("where on no such field", "input", vector("field.gpkg", [FIELD], name=["a"]), "{file: field.gpkg, where: \"nam = 'a'\"}", says=("nam = 'a'",)),
    # geometry
    OddFile("a geometry that is nothing", "input", vector("field.gpkg", [None]), says=("holds no geometry",)),
    OddFile("one of two is nothing", "fine", vector("field.gpkg", [None, FIELD]), says=("1 feature without geometry",)),
    OddFile("an empty polygon", "input", vector("field.gpkg", [Polygon()]), says=("holds no geometry",)),
    OddFile("an empty beside a sound one", "fine", vector("field.gpkg", [Polygon(), FIELD]), says=("1 feature without geometry",)),
    OddFile("a point", "input", vector("field.gpkg", [Point(EAST, NORTH)]), says=("polygons are needed", "1 Point")),
    OddFile("an open line", "input", vector("field.gpkg", [LineString(CORNERS[:4])]), says=("not closed",)),
    OddFile("a closed line", "fine", vector("field.gpkg", [LineString(CORNERS)]), says=("closed line taken",)),
    OddFile("polygons, lines and points", "fine", vector("field.gpkg", [FIELD, LineString(CORNERS), Point(EAST, NORTH)]), says=("other lines or points, which are not used: 2",)),
    OddFile("a collection", "fine", vector("field.gpkg", [GeometryCollection([FIELD, Point(EAST, NORTH)])])),
    OddFile("a collection of nothing", "input", vector("field.gpkg", [GeometryCollection()]), says=("holds no geometry",)),
    OddFile("a bow tie", "fine", vector("field.gpkg", [Polygon([CORNERS[0], CORNERS[2], CORNERS[1], CORNERS[3]])]), says=("repaired",)),
    OddFile("a ring without area", "input", vector("field.gpkg", [Polygon([CORNERS[0], CORNERS[1], CORNERS[0], CORNERS[1]])]), says=("field.gpkg",)),
    OddFile("all corners in one place", "input", vector("field.gpkg", [Polygon([CORNERS[0]] * 4)]), says=("field.gpkg",)),
    OddFile("a square of a centimetre", "input", vector("field.gpkg", [box(EAST, NORTH, EAST + 0.01, NORTH + 0.01)]), says=("encloses no ground",)),
    OddFile("a strip as thin as a hair", "input", vector("field.gpkg", [box(EAST, NORTH, EAST + 40, NORTH + 0.01)]), says=("encloses no ground",)),
    OddFile("the same polygon ten times", "fine", vector("field.gpkg", [FIELD] * 10), says=("drawn twice",)),
    OddFile("polygons that overlap", "fine", vector("field.gpkg", [FIELD, shapely.affinity.translate(FIELD, 10, 0)]), says=("overlap by",)),
    OddFile("a hole outside its shell", "fine", vector("field.gpkg", [Polygon(CORNERS, [shapely.affinity.translate(HOLE, 200, 0).exterior.coords])]), says=("hole lies outside its outline",)),
    OddFile("a hole half outside its shell", "fine", vector("field.gpkg", [Polygon(CORNERS, [shapely.affinity.translate(HOLE, 27, 0).exterior.coords])]), says=("repaired",)),
    OddFile("a hole as large as its shell", "input", vector("field.gpkg", [Polygon(CORNERS, [CORNERS])]), says=("field.gpkg",)),
    OddFile("a hole twice", "fine", vector("field.gpkg", [Polygon(CORNERS, [HOLE.exterior.coords] * 2)]), says=("repaired",)),
    OddFile("a hole around its shell", "input", vector("field.gpkg", [Polygon(CORNERS, [FIELD.buffer(9).exterior.coords])]), says=("field.gpkg",)),
    OddFile("holes within holes", "fine", vector("field.gpkg", [Polygon(CORNERS, [HOLE.exterior.coords, HOLE.buffer(-1).exterior.coords])]), says=("repaired",)),
    OddFile("a thousand jittery corners", "fine", vector("field.gpkg", [_jitter(CORNERS, 1000)]), says=("repaired",)),
    OddFile("doubled corners", "fine", vector("field.gpkg", [Polygon(np.repeat(CORNERS, 2, axis=0))])),
    OddFile("a spike", "fine", vector("field.gpkg", [Polygon([*CORNERS[:2], (EAST + 40, NORTH + 500), *CORNERS[1:]])])),
    OddFile("turned the other way", "fine", vector("field.gpkg", [Polygon(CORNERS[::-1])])),
    OddFile("with heights", "fine", vector("field.gpkg", [shapely.force_3d(FIELD, 200.0)])),
    OddFile("with heights that aren't numbers", "fine", _wkb_of(struct.pack("<BIII", 1, 1003, 1, 5) + np.c_[np.array(CORNERS), np.full(5, np.nan)].astype("<f8").tobytes())),
    OddFile("with measures", "fine", _wkb_of(struct.pack("<BIII", 1, 2003, 1, 5) + np.c_[np.array(CORNERS), np.zeros(5)].astype("<f8").tobytes())),
    OddFile("a curve", "fine", _curve),
    OddFile("a corner that isn't a number", "input", _wkb_of(_nan_ring(np.nan)), says=('field.gpkg', 'feature 1', 'finite')),
    OddFile("an endless corner", "input", _wkb_of(_nan_ring(np.inf)), says=("field.gpkg",)),
    OddFile("a corner at 1e300", "input", _wkb_of(_nan_ring(1e300)), says=("field.gpkg",)),
    OddFile("a corner at 1e15", "input", _wkb_of(_nan_ring(1e15)), says=("field.gpkg",)),
    OddFile("bytes that end too early", "input", _wkb_of(struct.pack("<BII", 1, 3, 1)), says=("field.gpkg",)),
    OddFile("4,000 million rings declared", "input", _wkb_of(struct.pack("<BII", 1, 3, 4_000_000_000)), says=("field.gpkg",)),
    OddFile("a kind of geometry nobody knows", "input", _wkb_of(struct.pack("<BII", 1, 77, 1)), says=("field.gpkg",)),
    OddFile("geometry that is text", "input", _sql("update field set geom = 'POLYGON'"), says=("field.gpkg",)),
    OddFile("a Geopackage without its list of layers", "input", _sql("delete from gpkg_contents"), says=("field.gpkg",)),
    OddFile("a Geopackage whose table is gone", "input", _sql("drop table field"), says=("field.gpkg",)),
    OddFile("parts 30 km apart", "fine", vector("field.gpkg", [FIELD, shapely.affinity.translate(FIELD, 30, 0), shapely.affinity.translate(FIELD, 0, 80)])),
    OddFile("two fields of 100 km between", "input", vector("field.gpkg", [FIELD, shapely.affinity.translate(FIELD, 100_000, 0)]), says=('field.gpkg', 'spreads over 100 km')),
    OddFile("a multipolygon that touches itself", "fine", vector("field.gpkg", [MultiPolygon([FIELD, shapely.affinity.translate(FIELD, 40, 36)])])),
    # coordinate reference systems
    OddFile("no CRS", "input", vector("field.gpkg", [FIELD], None), says=("states no coordinate reference system", "crs:")),
    OddFile("no CRS, told in the design", "fine", vector("field.gpkg", [FIELD], None), "{file: field.gpkg, crs: 'EPSG:32633'}"),
    OddFile("another CRS than told", "input", lambda folder: None, "{file: field.gpkg, crs: 'EPSG:32634'}", says=("states", "inputs.boundary.crs says")),
    OddFile("degrees", "fine", vector("field.gpkg", [Polygon(LONLAT)], "EPSG:4326")),
    OddFile("latitude first", "input", vector("field.gpkg", [Polygon([(y, x) for x, y in LONLAT])], "EPSG:4326"), says=('swapped',)),
    OddFile("metres said to be degrees", "input", vector("field.gpkg", [FIELD], "EPSG:4326"), says=("look projected",)),
    OddFile("degrees said to be metres", "input", vector("field.gpkg", [Polygon(LONLAT)]), says=("field.gpkg", "degrees")),
    OddFile("at the north pole", "input", vector("field.gpkg", [box(10, 89.9998, 10.1, 90)], "EPSG:4326"), says=("field.gpkg",)),
    OddFile("over the date line", "input", vector("field.gpkg", [box(-179.9, 10, 179.9, 10.001)], "EPSG:4326"), says=("doesn't reach",)),
    OddFile("a CRS for the whole world in metres", "fine", lambda folder: write_vector(folder / "f.gpkg", frame([FIELD]).to_crs(3857).geometry, "EPSG:3857"), "{file: f.gpkg}"),
    OddFile("a CRS of one's own", "fine", vector("field.gpkg", frame([FIELD]).to_crs("+proj=tmerc +lat_0=45 +lon_0=15 +datum=WGS84").geometry, "+proj=tmerc +lat_0=45 +lon_0=15 +datum=WGS84")),
    OddFile("in feet", "fine", vector("field.gpkg", frame([FIELD]).to_crs("+proj=tmerc +lat_0=45 +lon_0=15 +datum=WGS84 +units=us-ft").geometry, "+proj=tmerc +lat_0=45 +lon_0=15 +datum=WGS84 +units=us-ft")),
    OddFile("a flat local CRS without a place", "input", vector("field.gpkg", [FIELD], 'LOCAL_CS["local",UNIT["metre",1]]'), says=("field.gpkg",)),
    OddFile("the other side of the world", "input", vector("field.gpkg", [FIELD], "EPSG:32733"), says=("dem.tif", "doesn't reach the field")),
    # shapefiles
    OddFile("a shapefile", "fine", _shapefile, "{file: field.shp}"),
    OddFile("a shapefile in capitals", "fine", lambda folder: (_shapefile(folder), [(folder / n).rename(folder / n.upper()) for n in _shp_parts()]), "{file: FIELD.SHP}"),
    OddFile("a shapefile without .shx", "input", lambda folder: _shapefile(folder, without=[".shx"]), "{file: field.shp}", says=('field.shx', 'Copy all')),
    OddFile("a shapefile without .dbf", "fine", lambda folder: _shapefile(folder, without=[".dbf"]), "{file: field.shp}"),
    OddFile("a shapefile without .prj", "input", lambda folder: _shapefile(folder, without=[".prj"]), "{file: field.shp}", says=("states no coordinate reference system",)),
    OddFile("a shapefile without .shp", "input", lambda folder: _shapefile(folder, without=[".shp"]), "{file: field.shp}", says=("field.shp", "isn't there")),
    OddFile("the .dbf alone", "input", _shapefile, "{file: field.dbf}", says=("field.dbf",)),
    OddFile("half a .shp", "input", lambda folder: (_shapefile(folder), _truncated(folder, "field.shp", 0.5)), "{file: field.shp}", says=("field.shp",)),
    OddFile("an empty .shx", "input", lambda folder: (_shapefile(folder), (folder / "field.shx").write_bytes(b"")), "{file: field.shp}", says=("field.shp",)),
    OddFile("an empty .prj", "input", lambda folder: (_shapefile(folder), (folder / "field.prj").write_bytes(b"")), "{file: field.shp}", says=("field.shp",)),
    OddFile("a .prj of nonsense", "input", lambda folder: (_shapefile(folder), (folder / "field.prj").write_text("hello")), "{file: field.shp}", says=("field.shp",)),
    OddFile("a .cpg of nonsense", "fine", lambda folder: (_shapefile(folder), (folder / "field.cpg").write_text("nonsense-9")), "{file: field.shp}"),
    # archives
    OddFile("a zipped shapefile", "fine", lambda folder: _zipped(folder, _shp_parts()), "{file: field.zip}"),
    OddFile("a zipped shapefile in a folder", "fine", lambda folder: _zipped(folder, _shp_parts(), inner="a/b/"), "{file: field.zip}"),
    OddFile("a zip that climbs out", "input", lambda folder: _zipped(folder, _shp_parts(), inner="../../"), "{file: field.zip}", says=("field.zip",)),
    OddFile("a zip without the .dbf and .prj", "input", lambda folder: _zipped(folder, ["field.shp", "field.shx"]), "{file: field.zip}", says=("field.zip",)),
    OddFile("a zip of two layers", "input", lambda folder: _zipped(folder, [*_shp_parts(), "field.gpkg"]), "{file: field.zip}", says=("several", "field.gpkg")),
    OddFile("a zip of pictures", "input", lambda folder: _zipped(folder, ["dem.tif"]), "{file: field.zip}", says=("no vector file",)),
    OddFile("a zip of nothing", "input", lambda folder: _zipped(folder, []), "{file: field.zip}", says=("field.zip",)),
    OddFile("half a zip", "input", lambda folder: (_zipped(folder, _shp_parts()), _truncated(folder, "field.zip", 0.5)), "{file: field.zip}", says=("zip archive",)),
    OddFile("a zip that is a GeoPackage", "input", lambda folder: (folder / "field.zip").write_bytes((folder / "field.gpkg").read_bytes()), "{file: field.zip}", says=("field.zip",)),
    OddFile("a GeoPackage that is a zip", "input", lambda folder: (_zipped(folder, _shp_parts()), (folder / "field.zip").rename(folder / "f.gpkg")), "{file: f.gpkg}", says=("f.gpkg",)),
    OddFile("a kmz", "fine", _kmz, "{file: field.kmz}"),
    # GeoJSON
    OddFile("GeoJSON", "fine", text("field.geojson", geojson(_polygon(LONLAT))), JSON),
    OddFile("GeoJSON, a bare polygon", "fine", text("field.geojson", json.dumps(_polygon(LONLAT))), JSON),
    OddFile("GeoJSON with a byte order mark", "fine", text("field.geojson", b"\xef\xbb\xbf" + geojson(_polygon(LONLAT)).encode()), JSON),
    OddFile("half a GeoJSON", "input", text("field.geojson", geojson(_polygon(LONLAT))[:120]), JSON, says=("field.geojson",)),
    OddFile("GeoJSON without features", "input", text("field.geojson", '{"type": "FeatureCollection", "features": []}'), JSON, says=("field.geojson",)),
    OddFile("GeoJSON whose ring is open", "fine", text("field.geojson", geojson(_polygon(LONLAT[:-1]))), JSON, says=("stood open",)),
    OddFile("GeoJSON of two corners", "input", text("field.geojson", geojson(_polygon(LONLAT[:2]))), JSON, says=("field.geojson",)),
    OddFile("GeoJSON of texts for numbers", "input", text("field.geojson", geojson(_polygon([(str(x), str(y)) for x, y in LONLAT]))), JSON, says=("field.geojson",)),
    OddFile("GeoJSON with NaN", "input", text("field.geojson", geojson(_polygon([(float("nan"), 1), *LONLAT[1:]]))), JSON, says=("field.geojson",)),
    OddFile("GeoJSON with 1e400", "input", text("field.geojson", geojson(_polygon(LONLAT)).replace(str(LONLAT[1][0]), "1e400")), JSON, says=("field.geojson",)),
    OddFile("GeoJSON nested 100,000 deep", "input", text("field.geojson", '{"type": "FeatureCollection", "features": ' + "[" * 100_000), JSON, says=("field.geojson",)),
    OddFile("GeoJSON in metres without a CRS", "input", text("field.geojson", geojson(_polygon(CORNERS))), JSON, says=("look projected",)),
    OddFile("GeoJSON with an old CRS member", "fine", text("field.geojson", geojson(_polygon(CORNERS), crs={"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::32633"}})), JSON),
    OddFile("GeoJSON with a CRS nobody knows", "input", text("field.geojson", geojson(_polygon(CORNERS), crs={"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::99999"}})), JSON, says=("field.geojson",)),
    OddFile("GeoJSON in UTF-16", "input", text("field.geojson", geojson(_polygon(LONLAT)).encode("utf-16")), JSON, says=("field.geojson",)),
    OddFile("GeoJSON with bytes that are no letters", "input", text("field.geojson", geojson(_polygon(LONLAT)).encode().replace(b'"properties": {}', b'"properties": {"n": "\xff\xfe"}')), JSON, says=('UTF-8',)),
    # DXF, GPX, KML, CSV
    OddFile("a drawing", "fine", text("field.dxf", _dxf(*_polyline(CORNERS[:-1]))), "{file: field.dxf, crs: 'EPSG:32633'}"),
    OddFile("a drawing without CRS", "input", text("field.dxf", _dxf(*_polyline(CORNERS[:-1]))), "{file: field.dxf}", says=("crs:",)),
    OddFile("an open line in a drawing", "input", text("field.dxf", _dxf(*_polyline(CORNERS[:-1], closed=False))), "{file: field.dxf, crs: 'EPSG:32633'}", says=("not closed",)),
    OddFile("a drawing of two layers", "input", text("field.dxf", _dxf(*_polyline(CORNERS[:-1], "a"), *_polyline(CORNERS[:-1], "b"))), "{file: field.dxf, crs: 'EPSG:32633'}", says=("several layers",)),
    OddFile("a drawing without entities", "input", text("field.dxf", _dxf()), "{file: field.dxf, crs: 'EPSG:32633'}", says=("field.dxf",)),
    OddFile("half a drawing", "input", text("field.dxf", _dxf(*_polyline(CORNERS[:-1]))[:90]), "{file: field.dxf, crs: 'EPSG:32633'}", says=("field.dxf",)),
    OddFile("a drawing with words for numbers", "input", text("field.dxf", _dxf(*_polyline(CORNERS[:-1])).replace(repr(EAST), "hello")), "{file: field.dxf, crs: 'EPSG:32633'}", says=('field.dxf', 'spreads over')),
    OddFile("a walk", "fine", text("field.gpx", _gpx(_track(LONLAT))), "{file: field.gpx}"),
    OddFile("a walk that ends far from its start", "input", text("field.gpx", _gpx(_track(LONLAT[:3]))), "{file: field.gpx}", says=("doesn't go round a field",)),
    OddFile("a walk of one point", "input", text("field.gpx", _gpx(_track(LONLAT[:1]))), "{file: field.gpx}", says=("field.gpx",)),
    OddFile("a walk of nothing", "input", text("field.gpx", _gpx("")), "{file: field.gpx}", says=("holds no tracks",)),
    OddFile("a walk beyond the pole", "input", text("field.gpx", _gpx(_track([(x, y + 50) for x, y in LONLAT]))), "{file: field.gpx}", says=("field.gpx",)),
    OddFile("half a walk", "input", text("field.gpx", _gpx(_track(LONLAT))[:200]), "{file: field.gpx}", says=("field.gpx",)),
    OddFile("a KML", "fine", text("field.kml", _kml(_placemark(LONLAT))), "{file: field.kml}"),
    OddFile("a KML that links elsewhere", "input", text("field.kml", _kml("<NetworkLink><Link><href>http://127.0.0.1:9/a.kml</href></Link></NetworkLink>")), "{file: field.kml}", says=("field.kml",)),
    OddFile("a KML without a place", "input", text("field.kml", _kml("")), "{file: field.kml}", says=("field.kml",)),
    OddFile("half a KML", "input", text("field.kml", _kml(_placemark(LONLAT))[:200]), "{file: field.kml}", says=("field.kml",)),
    OddFile("corners", "fine", text("field.csv", _csv(CORNERS)), CSV),
    OddFile("corners with decimal commas", "fine", text("field.csv", _csv(CORNERS).replace(",", ";").replace(".0", ",0")), CSV),
    OddFile("corners without CRS", "input", text("field.csv", _csv(CORNERS)), "{file: field.csv}", says=("crs:",)),
    OddFile("corners, one endless", "input", text("field.csv", _csv([("inf", NORTH), *CORNERS])), CSV, says=("line 2", "x is not a number")),
    OddFile("corners, one cut off", "input", text("field.csv", _csv([*CORNERS, ("500000",)])), CSV, says=('line 7', 'y is missing')),
    OddFile("corners without a head", "input", text("field.csv", _csv(CORNERS[1:], head=f"{EAST},{NORTH}")), CSV, says=("needs one column",)),
    OddFile("corners with two heads", "input", text("field.csv", _csv([(*c, 1) for c in CORNERS], head="x,y,x")), CSV, says=("field.csv",)),
    OddFile("two corners", "input", text("field.csv", _csv(CORNERS[:2])), CSV, says=("at least 3",)),
    OddFile("corners in Latin letters", "input", text("field.csv", ("x,y,n\n" + f"{EAST},{NORTH},\xfc\n").encode("latin-1")), CSV, says=("UTF-8",)),
    OddFile("corners with a zero byte", "input", text("field.csv", _csv(CORNERS).replace("36.0", "3\x006.0")), CSV, says=("field.csv",)),
    OddFile("a head alone", "input", text("field.csv", "x,y\n"), CSV, says=("holds nothing below",)),
    OddFile("a million commas", "input", text("field.csv", "x,y" + "," * 1_000_000 + "z\n1,2\n"), CSV, says=("line 1", "1,000,002 columns")),
    OddFile("lines of different length", "input", text("field.csv", "x,y\n1,2,3,4\n5,6\n"), CSV, says=("line 2", "4 fields")),
    # other drawings
    OddFile("an exclusion far away", "fine", vector("pond.gpkg", [shapely.affinity.translate(HOLE, 5000, 0)]), more="elevation: {file: dem.tif}\n  exclusions: [{file: pond.gpkg, name: pond}]", says=("pond",)),
    OddFile("an exclusion over all", "ground", vector("pond.gpkg", [FIELD.buffer(5)]), more="elevation: {file: dem.tif}\n  exclusions: [{file: pond.gpkg, name: pond}]", says=('inputs.exclusions',)),
    OddFile("an exclusion that is a point", "fine", vector("pond.gpkg", [Point(EAST + 9, NORTH + 9)]), more="elevation: {file: dem.tif}\n  exclusions: [{file: pond.gpkg, name: pond, buffer_m: 2}]"),
    OddFile("an exclusion without CRS", "input", vector("pond.gpkg", [HOLE], None), more="elevation: {file: dem.tif}\n  exclusions: [{file: pond.gpkg, name: pond}]", says=("inputs.exclusions[1] (pond.gpkg)",)),
    OddFile("a track that is an area", "fine", vector("way.gpkg", [HOLE]), more="elevation: {file: dem.tif}\n  tracks: [{file: way.gpkg, name: way, width_m: 3}]"),
    OddFile("a guide that is a point", "input", vector("guide.gpkg", [Point(EAST, NORTH)]), more="elevation: {file: dem.tif}\n  guides: [{file: guide.gpkg}]", says=("inputs.guides[1] (guide.gpkg)",)),
    OddFile("the same exclusion twice", "fine", vector("pond.gpkg", [HOLE]), more="elevation: {file: dem.tif}\n  exclusions: [{file: pond.gpkg, name: a}, {file: pond.gpkg, name: b}]"),
]  # fmt: skip
