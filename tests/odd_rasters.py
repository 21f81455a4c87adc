"""Odd files in the place of heights, slope, aspect and contours, each with the class and words that it must get."""

import struct
import warnings
from collections.abc import Callable
from pathlib import Path

import numpy as np
import rasterio
from affine import Affine
from input_files import EAST, NORTH, UTM, slope_north, write_raster, write_vector
from odd_vectors import OddFile, text
from rasterio.enums import ColorInterp
from rasterio.errors import NotGeoreferencedWarning
from shapely import LineString, Point

from geoagro.crs import WGS84, transform_points

SOUND = slope_north(shape=(80, 90))
GRID = {"west": EAST - 80, "north": NORTH + 160}


def heights(values=SOUND, *, file="dem.tif", **more) -> Callable[[Path], object]:
    return lambda folder: write_raster(folder / file, np.asarray(values), **({"units": "m"} | more))


def changed(change) -> Callable[[Path], object]:
    """The sound heights after `change` has had them in its hands."""
    values = SOUND.copy()
    change(values)
    return heights(values)


def tagged(**tags) -> Callable[[Path], object]:
    """The sound raster with scale, offset, units, colours and the like set."""

    def make(folder):
        with rasterio.open(folder / "dem.tif", "r+") as file:
            for name, value in tags.items():
                setattr(file, name, value)

    return make


def photo(
    bands, *, dtype="uint8", colours=None, table=False, file="dem.tif", driver="GTiff"
) -> Callable[[Path], object]:
    def make(folder):
        values = np.random.default_rng(2).integers(0, 255, (bands, 80, 90)).astype(dtype)
        path = folder / file
        options = {"photometric": "RGB"} if bands >= 3 and driver == "GTiff" else {}
        with rasterio.open(
            path, "w", driver=driver, dtype=dtype, count=bands, height=80, width=90, crs=UTM,
            transform=Affine(2, 0, EAST - 80, 0, -2, NORTH + 160), **options,
        ) as out:  # fmt: skip
            out.write(values)
            if colours:
                out.colorinterp = colours
            if table:
                out.write_colormap(1, {k: (k, 0, 0, 255) for k in range(256)})

    return make


def cut(keep, file="dem.tif") -> Callable[[Path], object]:
    def make(folder):
        path = folder / file
        data = path.read_bytes()
        path.write_bytes(data[: int(len(data) * keep)])

    return make


def patched(old, new) -> Callable[[Path], object]:
    def make(folder):
        path = folder / "dem.tif"
        path.write_bytes(path.read_bytes().replace(old, new))

    return make


ASC_HEAD = f"ncols 90\nnrows 80\nxllcorner {EAST - 80}\nyllcorner {NORTH}\ncellsize 2\n"


def asc(change=lambda body: body, head=ASC_HEAD) -> Callable[[Path], object]:
    """The sound heights as a text raster whose body went through `change`."""
    body = "\n".join(" ".join(f"{z:.2f}" for z in row) for row in SOUND) + "\n"
    return text("dem.asc", head + change(body))


VRT = """<VRTDataset rasterXSize="90" rasterYSize="80"><SRS>EPSG:32633</SRS>
<GeoTransform>{west}, 2, 0, {north}, 0, -2</GeoTransform><VRTRasterBand dataType="Float64" band="1">{band}</VRTRasterBand>
</VRTDataset>""".replace("{west}", str(EAST - 80)).replace("{north}", str(NORTH + 160))
SOURCE = (
    '<SimpleSource><SourceFilename relativeToVRT="1">{name}</SourceFilename><SourceBand>{band}</SourceBand>'
    '<SrcRect xOff="0" yOff="0" xSize="90" ySize="80"/><DstRect xOff="0" yOff="0" xSize="90" ySize="80"/></SimpleSource>'
)


def vrt(name="dem.tif", *, band=1, more="") -> Callable[[Path], object]:
    return text("dem.vrt", VRT.format(band=SOURCE.format(name=name, band=band)) + more)


def _vrt_tower(folder):
    for k in range(8):
        (folder / f"v{k}.vrt").write_text(
            VRT.format(band=SOURCE.format(name=f"v{k + 1}.vrt" if k < 7 else "dem.tif", band=1))
        )


def _in_degrees(folder):
    lon, lat = transform_points([EAST - 80, EAST + 100], [NORTH, NORTH + 160], UTM, WGS84)
    place = Affine((lon[1] - lon[0]) / 90, 0, lon[0], 0, -(lat[1] - lat[0]) / 80, lat[1])
    write_raster(folder / "dem.tif", SOUND, crs="EPSG:4326", transform=place, units="m")


def _without_a_place(folder):
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", NotGeoreferencedWarning)
        write_raster(folder / "dem.tif", SOUND, transform=Affine.identity())


def _nothing(_folder):
    pass


def slopes(slope, aspect=None, *, units=None) -> Callable[[Path], object]:
    def make(folder):
        write_raster(folder / "slope.tif", slope, units=units)
        if aspect is not None:
            write_raster(folder / "aspect.tif", aspect)

    return make


def lines(geometries, elevations, crs=UTM, **more) -> Callable[[Path], object]:
    columns = {"elev": elevations} if elevations is not None else {}
    return lambda folder: write_vector(folder / "c.gpkg", geometries, crs, **columns, **more)


def level(y) -> LineString:
    return LineString([(EAST - 60, NORTH + y), (EAST + 100, NORTH + y)])


YS = list(range(-60, 110, 10))
LEVELS = [level(y) for y in YS]
UP = [200.0 + y / 10 for y in YS]
SLOPE = "slope: {file: slope.tif, unit: percent}"
BOTH = SLOPE + "\n  aspect: {file: aspect.tif}"
LINES = "contours: {file: c.gpkg, height_field: elev}"
ASC = "elevation: {file: dem.asc, crs: 'EPSG:32633'}"
CONE = np.hypot(*(np.mgrid[0:80, 0:90] - 40)) * 0.2


def raster(name, kind, make, says=(), more="elevation: {file: dem.tif}") -> OddFile:
    return OddFile(name, kind, make, more=more, says=says if isinstance(says, tuple) else (says,))


def _crs_in_no_encoding(folder: Path) -> None:
    """Have a CRS of no known kind, whose name holds bytes that are letters in no encoding (found by the fuzzer)."""
    heights()(folder)
    data, kind, name = (folder / "dem.tif").read_bytes(), b"\0\4\0\0\1\0\1\0", b"WGS 84 / UTM zone 33N"
    assert kind in data
    assert name in data
    data = data.replace(kind, b"\0\4\0\0\1\0\1\x24").replace(name, b"WGS 84 / UTM \xff\xfe\x9a\x81 33N")
    (folder / "dem.tif").write_bytes(data)


RASTERS = [
    # what is no raster
    raster("an empty raster", "input", text("dem.tif", b""), ("dem.tif", "empty")),
    raster("a CRS named in no encoding", "input", _crs_in_no_encoding, ("dem.tif", "can't be read")),
    raster("zeros for a raster", "input", text("dem.tif", b"\0" * 5000), "dem.tif"),
    raster("a text for a raster", "input", text("dem.tif", "hello"), "dem.tif"),
    raster("a vector for a raster", "input", _nothing, "field.gpkg", more="elevation: {file: field.gpkg}"),
    raster("no such raster", "input", _nothing, ("isn't there", "did you mean dem.tif"), more="elevation: {file: den.tif}"),
    raster("half a raster", "input", cut(0.5), "dem.tif"),
    raster("a hundredth of a raster", "input", cut(0.01), "dem.tif"),
    raster("four bytes of a raster", "input", cut(0.0001), "dem.tif"),
    raster("a directory that points at itself", "input", text("dem.tif", b"II*\0" + struct.pack("<I", 8) + struct.pack("<H", 0) + struct.pack("<I", 8)), "dem.tif"),
    raster("a directory of 65,535 tags", "input", text("dem.tif", b"II*\0" + struct.pack("<I", 8) + struct.pack("<H", 65535) + b"\1" * 500), "dem.tif"),
    # what the cells hold
    raster("no data at all", "input", heights(np.full((80, 90), -9999.0), nodata=-9999.0), ("dem.tif", "no data")),
    raster("not a number everywhere", "input", heights(np.full((80, 90), np.nan)), ("dem.tif", "no data")),
    raster("endless everywhere", "input", heights(np.full((80, 90), np.inf)), ("dem.tif", "no data")),
    raster("zero everywhere", "fine", heights(np.zeros((80, 90))), "ground is never so level"),
    raster("one height everywhere", "fine", heights(np.full((80, 90), 77.0)), "hold 77 m"),
    raster("a mask of two classes", "fine", heights((np.hypot(*(np.mgrid[0:80, 0:90] - 60)) > 22).astype("uint8")), ("only 2 different heights", "0, 1 m")),
    raster("a mask of 0 and 255", "ground", heights(np.where(np.hypot(*(np.mgrid[0:80, 0:90] - 60)) > 22, 255, 0).astype("uint8")), "gap"),
    raster("classes of cover", "fine", heights(np.kron(np.random.default_rng(3).integers(1, 7, (8, 9)) * 10, np.ones((10, 10))).astype("uint8")), "only 6 different heights"),
    raster("endless cells", "ground", changed(lambda z: z.__setitem__((slice(62, 80), slice(40, 60)), np.inf)), "no data in the field"),
    raster("a mark of no data that isn't declared", "fine", changed(lambda z: z.__setitem__((62, 40), -9999.0)), "-9999"),
    raster("no data declared as a number that isn't there", "fine", heights(SOUND, nodata=12345.0)),
    raster("a hole under the field", "ground", changed(lambda z: z.__setitem__((slice(62, 80), slice(40, 60)), np.nan)), "no data in the field"),
    raster("heights of 1e30", "input", heights(SOUND * 1e28), "dem.tif"),
    raster("heights of another planet", "input", heights(SOUND + 20_000), "aren't land"),
    raster("heights below the sea", "input", heights(SOUND - 5_000), "aren't land"),
    raster("heights in feet, told", "fine", heights(SOUND / 0.3048, units="ft"), "converted from ft"),
    raster("heights in parsec", "input", heights(SOUND, units="parsec"), "'parsec'"),
    raster("heights in centimetres", "input", heights(SOUND * 100, units=None), "dem.tif"),
    raster("a step of 300 m", "fine", changed(lambda z: z.__iadd__(np.where(np.arange(90) > 55, 300, 0)))),
    raster("noise", "input", heights(np.random.default_rng(4).uniform(0, 500, (80, 90))), "steeper than"),
    raster("complex numbers", "input", heights(SOUND.astype("complex128"), units=None), "complex"),
    raster("whole numbers of 8 bit", "fine", heights((SOUND - 190).astype("uint8"))),
    raster("whole numbers of 64 bit", "fine", heights(SOUND.astype("int64"))),
    raster("truths", "input", heights((SOUND > 205).astype("uint8"), nbits=1), "dem.tif"),
    raster("two bands, the second asked for", "fine", heights(np.stack([SOUND, SOUND])), more="elevation: {file: dem.tif, band: 2}"),
    raster("two bands, the third asked for", "input", heights(np.stack([SOUND, SOUND])), ("2 band(s)", "inputs.elevation.band"), more="elevation: {file: dem.tif, band: 3}"),
    raster("scaled by zero", "input", tagged(scales=(0.0,)), "scaled by 0"),
    raster("scaled by what is no number", "input", tagged(scales=(float("nan"),)), "dem.tif"),
    raster("scaled by an endless number", "input", tagged(scales=(float("inf"),)), "dem.tif"),
    raster("moved by what is no number", "input", tagged(offsets=(float("nan"),)), "dem.tif"),
    raster("scaled upside down", "fine", tagged(scales=(-1.0,), offsets=(500.0,))),
    # pictures
    raster("a photo", "input", photo(3, colours=[ColorInterp.red, ColorInterp.green, ColorInterp.blue]), "picture"),
    raster("a photo with transparency", "input", photo(4, colours=[ColorInterp.red, ColorInterp.green, ColorInterp.blue, ColorInterp.alpha]), "picture"),
    raster("a photo of 16 bit", "input", photo(3, dtype="uint16", colours=[ColorInterp.red, ColorInterp.green, ColorInterp.blue]), "picture"),
    raster("a palette", "input", photo(1, table=True), "palette"),
    raster("a grey photo", "input", photo(1), "dem.tif"),
    raster("a PNG", "input", photo(3, file="dem.png", driver="PNG"), "dem.png", more="elevation: {file: dem.png, crs: 'EPSG:32633'}"),
    raster("a JPEG", "input", photo(3, file="dem.jpg", driver="JPEG"), "dem.jpg", more="elevation: {file: dem.jpg, crs: 'EPSG:32633'}"),
    # place and CRS
    raster("a raster without a CRS", "input", heights(SOUND, crs=None), ("states no coordinate reference system", "crs:")),
    raster("a raster without a CRS, told in the design", "fine", heights(SOUND, crs=None), more="elevation: {file: dem.tif, crs: 'EPSG:32633'}"),
    raster("a raster without a place", "input", _without_a_place, "isn't georeferenced"),
    raster("a raster elsewhere", "input", heights(SOUND, west=EAST + 9000), ("doesn't reach the field", "dem.tif")),
    raster("a raster of half the field", "ground", heights(SOUND, west=EAST - 160), "gap"),
    raster("a raster of one cell", "ground", heights(SOUND[:1, :1], cell=200.0), "200 m wide"),
    raster("a raster of one row", "input", heights(SOUND[:1], cell=2.0), "dem.tif"),
    raster("cells of 0.01 mm", "input", heights(SOUND, cell=1e-5), "dem.tif"),
    raster("cells of 10 km", "ground", heights(np.full((4, 4), 200.0) + np.arange(4), west=EAST - 20000, north=NORTH + 20000, cell=10000.0), "10000 m wide"),
    raster("cells without a width", "input", heights(SOUND, transform=Affine(0, 0, EAST, 0, -2, NORTH)), "dem.tif"),
    raster("cells that lean", "fine", heights(SOUND, transform=Affine(2, 0.4, EAST - 100, 0.4, -2, NORTH + 100))),
    raster("cells without an area", "input", heights(SOUND, transform=Affine(2, 2, EAST - 80, 2, 2, NORTH + 160)), "dem.tif"),
    raster("corners that aren't numbers", "input", heights(SOUND, transform=Affine(2, 0, float("nan"), 0, -2, NORTH)), "dem.tif"),
    raster("south up", "fine", heights(SOUND[::-1], transform=Affine(2, 0, EAST - 80, 0, 2, NORTH))),
    raster("mirrored", "fine", heights(SOUND, transform=Affine(-2, 0, EAST + 100, 0, -2, NORTH + 160))),
    raster("oblong cells", "fine", heights(SOUND[:, ::2], transform=Affine(4, 0, EAST - 80, 0, -2, NORTH + 160))),
    raster("in degrees", "fine", _in_degrees),
    raster("degrees without a CRS", "input", heights(SOUND, crs=None, transform=Affine(2e-5, 0, 14.999, 0, -2e-5, 45.16)), "crs:"),
    raster("a height system for a CRS", "input", heights(SOUND, crs="EPSG:5703"), "dem.tif"),
    raster("a compound CRS", "fine", heights(SOUND, crs="EPSG:32633+5773", units=None)),
    # text rasters
    raster("an ASC", "fine", asc(), more=ASC),
    raster("an ASC that ends too early", "input", asc(lambda body: body[: len(body) // 2]), "dem.asc", more=ASC),
    raster("an ASC with a word", "input", asc(lambda body: body.replace("202.50", "here")), ("dem.asc", "line", "'here' is not a number"), more=ASC),
    raster("an ASC with decimal commas", "fine", asc(lambda body: body.replace(".", ",")), "200.10 to 203.50 m", more=ASC),
    raster("an ASC with a number in two", "input", asc(lambda body: body.replace("202.50", "202. 50", 1)), ("7,201 numbers", "7,200 cells"), more=ASC),
    raster("an ASC of zero bytes", "input", asc(lambda body: "\0" * 5000), "dem.asc", more=ASC),
    raster("an ASC with a head alone", "input", asc(lambda body: ""), "dem.asc", more=ASC),
    raster("an ASC without a head", "input", asc(head=""), "dem.asc", more=ASC),
    raster("an ASC of a million columns", "input", asc(head=ASC_HEAD.replace("90", "1000000000").replace("80", "1000000000")), "dem.asc", more=ASC),
    raster("an ASC of -2 columns", "input", asc(head=ASC_HEAD.replace("ncols 90", "ncols -2")), "dem.asc", more=ASC),
    raster("an ASC with cells of no size", "input", asc(head=ASC_HEAD.replace("cellsize 2", "cellsize 0")), "dem.asc", more=ASC),
    raster("an ASC with an endless corner", "input", asc(head=ASC_HEAD.replace(f"yllcorner {NORTH}", "yllcorner inf")), "dem.asc", more=ASC),
    # wrappers
    raster("a virtual raster", "fine", vrt(), more="elevation: {file: dem.vrt}"),
    raster("a virtual raster without its tile", "input", vrt("east.tif"), ("dem.vrt", "east.tif"), more="elevation: {file: dem.vrt}"),
    raster("a virtual raster of a band that isn't", "input", vrt(band=7), "dem.vrt", more="elevation: {file: dem.vrt}"),
    raster("a virtual raster of itself", "input", vrt("dem.vrt"), "dem.vrt", more="elevation: {file: dem.vrt}"),
    raster("a tower of virtual rasters", "input", _vrt_tower, "deep", more="elevation: {file: v0.vrt}"),
    raster("half a virtual raster", "input", text("dem.vrt", VRT[:90]), "dem.vrt", more="elevation: {file: dem.vrt}"),
    raster("a virtual raster from afar", "input", vrt("/vsicurl/http://127.0.0.1:9/a.tif"), ("dem.vrt", "Nothing is fetched"), more="elevation: {file: dem.vrt}"),
    raster("a virtual raster with an empty tile", "input", lambda folder: ((folder / "e.tif").touch(), vrt("e.tif")(folder)), ("dem.vrt",), more="elevation: {file: dem.vrt}"),
    raster("a tile service", "input", text("dem.tif", "<GDAL_WMS><Service name='TMS'/></GDAL_WMS>"), "GDAL_WMS"),
    # slope and aspect
    raster("slope alone", "fine", slopes(CONE + 3), more=SLOPE),
    raster("slope below zero", "input", slopes(CONE - 100), "slope.tif", more=SLOPE),
    raster("slope of 4,000 %", "ground", slopes(CONE + 4000), "too_steep", more=SLOPE),
    raster("slope without a unit", "input", slopes(CONE + 3), ("slope.tif", "unit"), more="slope: {file: slope.tif}"),
    raster("slope in degrees above 90", "input", slopes(CONE + 100), "slope.tif", more="slope: {file: slope.tif, unit: degrees}"),
    raster("aspect in radians", "input", slopes(CONE + 3, np.tile(np.linspace(0, 6.28, 90), (80, 1))), "radians", more=BOTH),
    raster("aspect of 720 degrees", "input", slopes(CONE + 3, np.full((80, 90), 720.0)), "aspect.tif", more=BOTH),
    raster("aspect elsewhere", "input", lambda folder: (slopes(CONE + 3)(folder), write_raster(folder / "aspect.tif", CONE, west=EAST + 9000)), ("aspect.tif", "doesn't reach"), more=BOTH),
    raster("aspect by chance", "fine", slopes(CONE + 3, np.random.default_rng(6).uniform(0, 360, (80, 90))), "don't belong to one ground", more=BOTH),
    raster("aspect without slope", "design", _nothing, "inputs", more="aspect: {file: dem.tif}"),
    raster("heights and contours", "design", lines(LEVELS, UP), "inputs", more="elevation: {file: dem.tif}\n  " + LINES),
    # contours
    raster("contours", "fine", lines(LEVELS, UP), more=LINES),
    raster("one contour", "input", lines(LEVELS[:1], UP[:1]), "c.gpkg", more=LINES),
    raster("contours of one height", "input", lines(LEVELS, [200.0] * len(YS)), "c.gpkg", more=LINES),
    raster("contours without heights", "input", lines(LEVELS, None), ("c.gpkg", "elev"), more=LINES),
    raster("contours with a height missing", "fine", lines(LEVELS, [None, *UP[1:]]), "1 line without a height", more=LINES),
    raster("contours with an endless height", "fine", lines(LEVELS, [float("inf"), *UP[1:]]), "1 line without a height", more=LINES),
    raster("contours with words for heights", "input", lines(LEVELS, ["high"] * len(YS)), "c.gpkg", more=LINES),
    raster("contours with numbers in words", "fine", lines(LEVELS, [str(z) for z in UP]), more=LINES),
    raster("contours twice with other heights", "input", lines([*LEVELS, LEVELS[6]], [*UP, 900.0]), "different heights", more=LINES),
    raster("contours that cross", "input", lines([*LEVELS, LineString([(EAST + 5, NORTH - 50), (EAST + 9, NORTH + 90)])], [*UP, 203.0]), "cross", more=LINES),
    raster("contours twice", "fine", lines(LEVELS * 2, UP * 2), more=LINES),
    raster("contours that are points", "input", lines([Point(EAST, NORTH + y) for y in YS], UP), "c.gpkg", more=LINES),
    raster("contours that are polygons", "fine", lines([Point(EAST + 20, NORTH + 18).buffer(r) for r in range(5, 60, 5)], [200.0 - r / 10 for r in range(5, 60, 5)]), more=LINES),
    raster("contours elsewhere", "input", lines([LineString([(EAST + 9000, NORTH + y), (EAST + 9100, NORTH + y)]) for y in YS], UP), "c.gpkg", more=LINES),
    raster("contours of one point each", "ground", lines([LineString([(EAST, NORTH + y)] * 2) for y in YS], UP), "inputs.contours", more=LINES),
    raster("contours in a CRS of degrees, said to be metres", "input", lines([LineString([(15.0, 45.1 + y / 1e5), (15.1, 45.1 + y / 1e5)]) for y in YS], UP), "c.gpkg", more=LINES),
]  # fmt: skip
