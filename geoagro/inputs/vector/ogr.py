"""Open vector files: pyogrio reads whole layers; fiona goes feature by feature where a broken ring stops that."""

from __future__ import annotations

import warnings
import zipfile
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from types import ModuleType
from typing import Any

import geopandas as gpd
import pyogrio
import shapely
from pyogrio.errors import DataLayerError, DataSourceError
from shapely.errors import GEOSException

from geoagro.errors import InputError
from geoagro.inputs.local_only import CLOSED, check_vector, check_vector_head
from geoagro.values.site import Finding
from geoagro.values.words import Sentence

pyogrio.set_gdal_config_options(CLOSED)

_IN_ZIP = (".shp", ".gpkg", ".geojson", ".json", ".kml", ".gml", ".fgb")


@dataclass(frozen=True)
class Layer:
    """A layer of a file; `geometry` is None for a table without one."""

    name: str
    geometry: str | None


def unzipped(path: Path, *, where: str) -> str:
    """Path for reading; the one vector file inside a zip archive, in whatever folder of it.

    Raises InputError where the archive is broken or holds none or several.
    """
    path = path.absolute()  # a bare name such as "WFS:x" would be taken for a service
    check_vector(path, where=where)
    _check_index(path, where)
    if path.suffix.lower() != ".zip":
        return str(path)
    try:
        with zipfile.ZipFile(path) as archive:
            names = archive.namelist()
            inside = [n for n in names if Path(n).suffix.lower() in _IN_ZIP and not n.startswith("__MACOSX/")]
            if len(inside) == 1:
                with archive.open(inside[0]) as member:
                    check_vector_head(member.read(65_536), where=where)
    except (zipfile.BadZipFile, NotImplementedError, RuntimeError, OSError, EOFError) as error:
        raise InputError(f"{where}: isn't a zip archive that can be read ({error}); copy it again.") from error
    if not inside:
        raise InputError(f"{where}: the archive holds no vector file ({', '.join(names[:5])}).")
    if len(inside) > 1:
        raise InputError(f"{where}: the archive holds several: {', '.join(inside)}. Unpack it and name one.")
    return f"/vsizip/{path}/{inside[0]}"


def _check_index(path: Path, where: str) -> None:
    """Refuse a shapefile whose index is missing: making a new one would write beside the user's file."""
    if path.suffix.lower() == ".shp" and not any(path.with_suffix(end).exists() for end in (".shx", ".SHX")):
        raise InputError(
            f"{where}: {path.stem}.shx isn't beside it; a shapefile is several files (.shp, .shx, .dbf, .prj). Copy all of "
            "them."
        )


def list_layers(path: str, *, where: str) -> list[Layer]:
    """Layers of a file, in its own order."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", RuntimeWarning)
            return [Layer(str(name), kind) for name, kind in pyogrio.list_layers(path)]
    except DataSourceError as error:
        raise InputError(
            f"{where}: can't be read as vector data ({_first_line(error)}). Readable: GeoPackage, GeoJSON, Shapefile "
            "(also zipped), KML/KMZ, GPX, DXF, CSV of points."
        ) from error


def layer_crs(path: str, layer: str, *, where: str) -> str | None:
    """CRS of a layer as text; None where it states none."""
    try:
        crs: str | None = pyogrio.read_info(path, layer=layer)["crs"]
    except (DataSourceError, DataLayerError) as error:
        raise InputError(f"{where}: can't be read ({_first_line(error)}).") from error
    return crs


def read_layer(
    path: str, layer: str, *, where: str, only: str | None, **options: str
) -> tuple[Any, str | None, tuple[Finding, ...]]:
    """Frame, CRS (as text, None where unstated) and findings of one layer; `only` picks features by attribute."""
    _check_count(path, layer, where)
    with warnings.catch_warnings(record=True) as caught:
        warnings.simplefilter("always")
        try:
            frame = pyogrio.read_dataframe(path, layer=layer, where=only, fid_as_index=False, **options)
            findings: tuple[Finding, ...] = ()
        except GEOSException:
            frame, findings = _by_feature(path, layer, where=where, only=only)
        except (DataSourceError, DataLayerError, ValueError) as error:
            raise _unreadable(error, where=where, only=only) from error
    findings += tuple(_warned(caught, where))
    if only is not None and len(frame) == 0:
        raise InputError(f"{where}: no feature fits where: {only}.")
    if not isinstance(frame, gpd.GeoDataFrame):
        raise InputError(f"{where}: layer '{layer}' has no features with geometry. Name another file or `layer`.")
    return frame, frame.crs.to_wkt() if frame.crs is not None else None, findings


def _check_count(path: str, layer: str, where: str) -> None:
    """Refuse a stored count of features that the file has no room for: the reader would make room for all of them first."""
    if not path.lower().endswith((".gpkg", ".fgb")):
        return  # other formats store no count
    try:
        told, room = int(pyogrio.read_info(path, layer=layer)["features"]), Path(path).stat().st_size
    except (OSError, DataSourceError, DataLayerError, ValueError):
        return  # in an archive, or unreadable, which reading tells in words
    if told > room:
        raise InputError(
            f"{where}: layer '{layer}' states more features than the file's {room:,} bytes have room for: it is damaged. Save "
            "the layer anew as GeoPackage, from where it was made."
        )


def _unreadable(error: Exception, *, where: str, only: str | None) -> InputError:
    if only is not None:
        return InputError(
            f"{where}: where: {only} can't be used ({_first_line(error)}). Write it as field = 'value', with the "
            "name of a field of the file."
        )
    if isinstance(error, UnicodeDecodeError):
        return InputError(f"{where}: holds texts that aren't in UTF-8. Save it again in UTF-8, or as GeoPackage.")
    return InputError(f"{where}: can't be read ({_first_line(error)}). Copy it again, or save it anew as GeoPackage.")


def _warned(caught: list[warnings.WarningMessage], where: str) -> list[Finding]:
    texts = dict.fromkeys(str(w.message).splitlines()[0] for w in caught if issubclass(w.category, RuntimeWarning))
    return [
        Finding("note", where, Sentence("reader says: {text}", text=text))
        for text in texts
        if "Non closed ring" not in text
    ]


def _fiona(where: str) -> ModuleType:
    """Load the library that reads feature by feature; few files need it, and not every Python has it."""
    try:
        return import_module("fiona")
    except ImportError as error:
        raise InputError(
            f"{where}: holds rings that are not closed, and the library that could close them (fiona) isn't installed "
            "on this machine. Install fiona, or close the rings with a GIS program and save the file anew."
        ) from error


def _by_feature(path: str, layer: str, *, where: str, only: str | None) -> tuple[Any, tuple[Finding, ...]]:
    """Read feature by feature, closing rings that stand open; rings of fewer than three corners are left out."""
    fiona = _fiona(where)
    closed, dropped, rows = 0, 0, []
    try:
        with fiona.Env(**CLOSED), fiona.open(path, layer=layer) as file:
            crs = file.crs_wkt or None
            for feature in file.filter(where=only):
                geometry, opened = _closed(feature.geometry)
                closed += opened
                dropped += geometry is None
                rows.append({**feature.properties, "geometry": geometry})
    except (fiona.errors.FionaError, ValueError) as error:
        raise InputError(
            f"{where}: holds rings that are not closed ({_first_line(error)}); repair the file."
        ) from error
    found = []
    if closed:
        found.append(
            Finding(
                "repair",
                where,
                Sentence(
                    "{closed} {closed:ring stood open and was|rings stood open and were} closed with a straight line",
                    closed=closed,
                ),
            )
        )
    if dropped:
        found.append(
            Finding(
                "repair",
                where,
                Sentence(
                    "{dropped} {dropped:feature|features} with fewer than three corners left out", dropped=dropped
                ),
            )
        )
    return gpd.GeoDataFrame(rows, geometry="geometry", crs=crs), tuple(found)


def _closed(geometry: Any) -> tuple[Any, int]:
    """Geometry with every ring closed, and how many had to be; None where too few corners are left."""
    if geometry is None:
        return None, 0
    if geometry.type not in ("Polygon", "MultiPolygon"):
        return shapely.geometry.shape(geometry), 0
    polygons = [geometry.coordinates] if geometry.type == "Polygon" else geometry.coordinates
    opened, parts = 0, []
    for rings in polygons:
        opened += sum(ring[0] != ring[-1] for ring in rings)
        kept = [ring for ring in rings if len(set(ring)) >= 3]
        if kept and kept[0] is rings[0]:
            parts.append(shapely.Polygon(kept[0], kept[1:]))
    return (shapely.MultiPolygon(parts) if parts else None), opened


def _first_line(error: Exception) -> str:
    return (str(error).strip().splitlines() or [type(error).__name__])[0].rstrip(".")
