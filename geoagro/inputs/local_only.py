"""What is read lies on this machine: formats by role, told by content and not by name; no remote source, no embedded code.

Formats that only point elsewhere (tile services, catalogues, virtual layers) aren't read at all, but for virtual
rasters (VRT), whose every source is looked at.
"""

from __future__ import annotations

import re
from pathlib import Path
from xml.etree import ElementTree

from geoagro.errors import InputError

RASTER_DRIVERS = (
    "GTiff", "AAIGrid", "GRASSASCIIGrid", "VRT", "HFA", "EHdr", "ENVI", "ERS", "SAGA", "GSAG", "GSBG", "GS7BG", "SRTMHGT",
    "USGSDEM", "DTED", "XYZ", "NWT_GRD", "NWT_GRC", "RST", "ILWIS", "AIG", "BT", "BYN", "GXF", "GTX", "ISG", "SIGDEM", "ZMap",
    "RRASTER", "PCRaster", "HF2", "LCP", "RMF", "BAG", "GRIB", "netCDF", "HDF5", "HDF5Image", "GPKG", "JP2OpenJPEG", "PNG",
    "JPEG", "GIF", "BMP", "PNM", "Leveller", "Terragen", "SDTS",
)  # fmt: skip
"""Files of cells. Pictures stand here so that they are told apart in words and not as damaged files."""

CLOSED = {
    "GDAL_VRT_ENABLE_PYTHON": "NO",
    "GML_DOWNLOAD_SCHEMA": "NO",
    "GML_SKIP_RESOLVE_ELEMS": "ALL",
    "CPL_VSIL_CURL_ALLOWED_EXTENSIONS": ".none",
    "GDAL_DISABLE_READDIR_ON_OPEN": "FALSE",
}
"""Settings of the reading library that keep it from the network and from running code in files."""

_XML_ROOTS = ("kml", "gpx", "FeatureCollection", "SimpleFeatureCollection", "featureCollection", "CityModel")
_JSON_TYPES = (
    "FeatureCollection", "Feature", "Topology", "Point", "MultiPoint", "LineString", "MultiLineString", "Polygon",
    "MultiPolygon", "GeometryCollection",
)  # fmt: skip
_HEAD = 65_536
_MOST_VRT = 20_000_000
_DEEPEST = 4
_REMOTE = re.compile(
    r"://|^/?vsi(?!zip|mem|sparse|subfile)|/vsi(curl|s3|gs|az|adls|oss|swift|webhdfs|hdfs|stdin)", re.IGNORECASE
)
_PREFIXED = re.compile(r"^[A-Za-z][A-Za-z0-9_]+:(?![\\/])")
_LOCAL_PREFIXES = ("netcdf:", "hdf5:", "gpkg:", "gtiff_dir:", "grib:", "bag:")
_CODE = ("PixelFunctionCode", "PixelFunctionLanguage", "PixelFunctionArguments")


def check_vector(path: Path, *, where: str) -> None:
    """Raise InputError where a file isn't one of the vector formats read here, whatever it is called."""
    if path.is_dir():
        return
    with path.open("rb") as file:
        check_vector_head(file.read(_HEAD), where=where)


def check_vector_head(head: bytes, *, where: str) -> None:
    """Do the same for the first bytes of a file; a zip archive's members are looked at where it is opened."""
    text = head.decode("utf-16" if head[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8-sig", "replace").lstrip()
    if text.startswith("<"):
        root = _xml_root(text)
        if root not in _XML_ROOTS:
            raise InputError(f"{where}: is XML of the kind '{root}', which may point elsewhere. {_SAFE_VECTORS}")
    elif text.startswith("{"):
        found = re.search(r'"type"\s*:\s*"(\w+)"', text)
        named = re.search(r'"stac_version"|"gdal_streamed_alg"|"conformsTo"|"collections"\s*:', text)
        esri = '"geometryType"' in text or '"spatialReference"' in text
        if named or not (esri or (found and _some_type(text))):
            raise InputError(f"{where}: is JSON, but not GeoJSON with features of its own. {_SAFE_VECTORS}")
    elif not (head.startswith(_SIGNATURES) or text.lower().startswith(_TEXT_STARTS) or _is_dxf(text)):
        raise InputError(
            f"{where}: can't be read as vector data (its content is of no format known here). {_SAFE_VECTORS}"
        )


_SIGNATURES = (b"SQLite format 3\0", b"\x00\x00\x27\x0a", b"fgb\x03", b"PK\x03\x04", b"AutoCAD Binary DXF", b"\x1e{")
_TEXT_STARTS = ("!table", "version ", "# @vgmt")
_SAFE_VECTORS = (
    "Readable: GeoPackage, GeoJSON, Shapefile (also zipped), KML/KMZ, GPX, DXF, GML, FlatGeobuf, CSV of points; save the "
    "features themselves as one of these."
)


def _some_type(text: str) -> bool:
    return any(found in _JSON_TYPES for found in re.findall(r'"type"\s*:\s*"(\w+)"', text))


def _is_dxf(text: str) -> bool:
    lines = [line.strip() for line in text.split("\n", 6)[:6]]
    return ("0" in lines[:4] and "SECTION" in lines) or lines[:1] == ["999"]


def _xml_root(text: str) -> str:
    """Local name of the first element."""
    for name in re.findall(r"<([A-Za-z_][\w.:-]*)", re.sub(r"<!--.*?-->|<\?.*?\?>", "", text, flags=re.DOTALL)):
        return str(name).rpartition(":")[2]
    return "?"


def check_raster(path: Path, *, where: str, depth: int = 0) -> None:
    """Raise InputError where a virtual raster names a source that isn't a local file of cells, or holds code."""
    if path.is_dir():
        return
    with path.open("rb") as file:
        head = file.read(_HEAD)
        if not head.lstrip(b"\xef\xbb\xbf \t\r\n").startswith(b"<"):
            return
        if b"<VRTDataset" not in head:
            raise InputError(
                f"{where}: is XML of the kind '{_xml_root(head.decode('utf-8', 'replace'))}', which points elsewhere. Save "
                "the cells themselves as GeoTIFF."
            )
        text = head + file.read(_MOST_VRT)
    _check_vrt(text, path, where, depth)


def _check_vrt(text: bytes, path: Path, where: str, depth: int) -> None:
    if b"<!ENTITY" in text or b"<!DOCTYPE" in text:
        raise InputError(f"{where}: declares entities, which no virtual raster needs. Save it as GeoTIFF.")
    try:
        root = ElementTree.fromstring(text)  # entities are refused above
    except ElementTree.ParseError as error:
        raise InputError(f"{where}: isn't a sound virtual raster ({error}). Save it as GeoTIFF.") from error
    for element in root.iter():
        if element.tag in _CODE[:2] or (element.tag == "PixelFunctionType" and "." in (element.text or "")):
            raise InputError(
                f"{where}: holds program code ({element.tag}), which is never run. Save its result as GeoTIFF."
            )
        if element.tag in (
            "SourceFilename",
            "SourceDataset",
            "MaskFilename",
            "OverviewFile",
            "Filename",
            "DatasetDescription",
        ):
            _check_source((element.text or "").strip(), element, path, where, depth)
        elif _REMOTE.search(element.text or "") and element.tag not in ("SRS", "GeoTransform", "MDI"):
            raise InputError(
                f"{where}: names something remote ({(element.text or '').strip()[:80]}). Save it as GeoTIFF."
            )


def _check_source(name: str, element: ElementTree.Element, path: Path, where: str, depth: int) -> None:
    plain = name.lower()
    wrapped = bool(_PREFIXED.match(name)) and not plain.startswith(_LOCAL_PREFIXES)
    if not name or _REMOTE.search(name) or wrapped or name.startswith(("<", "{")):
        raise InputError(
            f"{where}: names a source that isn't a file on this machine ({name[:80] or 'nothing'}). Nothing is fetched: "
            "download it yourself and save it as GeoTIFF."
        )
    if plain.startswith(_LOCAL_PREFIXES) or plain.startswith("/vsi"):
        return
    inside = (
        path.parent / name if element.get("relativeToVRT", element.get("relativetoVRT", "0")) == "1" else Path(name)
    )
    if not inside.exists():
        raise InputError(
            f"{where}: its source {name[-80:]} isn't there. Put the tile back, or build the virtual raster anew."
        )
    if depth >= _DEEPEST:
        raise InputError(f"{where}: virtual rasters in virtual rasters, more than {_DEEPEST} deep. Save it as GeoTIFF.")
    check_raster(inside, where=where, depth=depth + 1)
