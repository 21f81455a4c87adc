"""Write layers of a layout as GeoParquet, FlatGeobuf, GeoJSON, zipped Shapefile or KML."""

from __future__ import annotations

import tempfile
import zipfile
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Any, Literal, get_args

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import shapely
from pyogrio.errors import DataSourceError
from pyproj import CRS

from geoagro.crs import WGS84, transform_geometries
from geoagro.errors import OutputError
from geoagro.outputs.exchange.parquet_parts import write_parquet_parts
from geoagro.outputs.exchange.short_names import short_names
from geoagro.outputs.staging import staged, unwritten
from geoagro.outputs.tables.plain_text import file_stem, printable

Format = Literal["geoparquet", "flatgeobuf", "geojson", "shapefile", "kml"]
FORMATS: tuple[Format, ...] = get_args(Format)
_MADE = (2000, 1, 1, 0, 0, 0)  # a fixed day, so that the same layout gives the same file
_LONGEST_TEXT = 254  # bytes of a text in a Shapefile's table


def write_layers(
    layers: Mapping[str, gpd.GeoDataFrame | Iterator[gpd.GeoDataFrame]], kind: Format, folder: Path
) -> list[Path]:
    """Write each layer into a file of its own, all or none; returns the files.

    GeoJSON and KML are in longitude and latitude, as their standards ask (RFC 7946; OGC KML 2.2); the others keep the layout's
    CRS. Shapefiles have short names (their list lies in the zip) and hold texts of 254 bytes at most.

    A layer may come in parts (an iterator of frames): GeoParquet then gets a row group for each.

    Raises
    ------
    OutputError
        Where a layer is empty, doesn't fit the format, or the folder can't be written to.
    """
    writer, ending = _WRITERS[kind]
    names = {name: f"{file_stem(name)}{ending}" for name in layers}
    with staged(folder, list(names.values())) as new:
        for name, frame in layers.items():
            try:
                if isinstance(frame, Iterator):
                    _in_parts(frame, kind, new / names[name], name)
                    continue
                if len(frame) == 0:
                    raise OutputError(f"Layer {name} is empty; there is nothing to write. Leave it out.")
                writer(_plain(frame), new / names[name], name)
            except pyogrio.errors.GeometryError as error:
                raise OutputError(f"Layer {name} can't be written as {kind}: {error}.") from error
            except (DataSourceError, OSError) as error:
                raise OutputError(unwritten(folder / names[name], error, room=folder)) from error
    return [folder / name for name in names.values()]


def _in_parts(parts: Iterator[gpd.GeoDataFrame], kind: Format, path: Path, name: str) -> None:
    if kind != "geoparquet":
        raise OutputError(
            f"Layer {name} holds too many features to be written as {kind}. Take geoparquet, or read it from the layout's "
            "GeoPackage."
        )
    write_parquet_parts((_plain(part) for part in parts), path)


def _plain(frame: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """Take what no text may hold out of texts; polygons run as RFC 7946 asks, outer rings counter-clockwise."""
    texts = pd.DataFrame(frame.drop(columns=frame.geometry.name)).select_dtypes(include=["object", "string"]).columns
    done: dict[str, Any] = {str(n): _printable(frame[n]) for n in texts}
    shapes = shapely.orient_polygons(frame.geometry.to_numpy(), exterior_cw=False)
    return frame.assign(**done).set_geometry(gpd.GeoSeries(shapes, crs=frame.crs, index=frame.index))


def _printable(texts: Any) -> Any:
    """Look at each different text once, not at each feature."""
    code, known = pd.factorize(texts)
    clean = np.array([*(printable(text) if isinstance(text, str) else text for text in known), None], dtype=object)
    return clean[code]


def _geoparquet(frame: gpd.GeoDataFrame, path: Path, name: str) -> None:  # noqa: ARG001
    frame.to_parquet(path, index=False, geometry_encoding="WKB")


def _flatgeobuf(frame: gpd.GeoDataFrame, path: Path, name: str) -> None:
    pyogrio.write_dataframe(frame, path, layer=name, driver="FlatGeobuf", promote_to_multi=_mixed(frame))


def _in_lonlat(frame: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    places = transform_geometries(frame.geometry.to_numpy(), CRS(frame.crs), WGS84)
    return frame.set_geometry(gpd.GeoSeries(places, index=frame.index, crs=WGS84))


def _geojson(frame: gpd.GeoDataFrame, path: Path, name: str) -> None:
    lonlat = _in_lonlat(frame)
    pyogrio.write_dataframe(lonlat, path, layer=name, driver="GeoJSON", layer_options={"RFC7946": "YES"})


def _kml(frame: gpd.GeoDataFrame, path: Path, name: str) -> None:
    lonlat = _in_lonlat(frame)
    first = next((column for column in ("name", "label", "bed", "plant", "row") if column in lonlat), None)
    shown = lonlat if first in {None, "name"} else lonlat.assign(name=lonlat[first].astype(str))
    pyogrio.write_dataframe(shown, path, layer=name, driver="KML", dataset_options={"NameField": "name"})


def _mixed(frame: gpd.GeoDataFrame) -> bool:
    return bool(frame.geom_type.nunique() > 1)


def _shapefile(frame: gpd.GeoDataFrame, path: Path, name: str) -> None:
    """Write the parts of a Shapefile into a zip, with a list of the names as they were."""
    attributes = [str(column) for column in frame.columns if column != frame.geometry.name]
    texts = [
        n for n in attributes if frame[n].map(lambda v: isinstance(v, str) and len(v.encode()) > _LONGEST_TEXT).any()
    ]
    if texts:
        raise OutputError(
            f"Layer {name}: column {texts[0]} holds a text of more than {_LONGEST_TEXT} bytes, which a Shapefile would cut off. "
            "Choose another format."
        )
    short = short_names(attributes)
    columns = {n: frame[n].astype("int32") for n in attributes if frame[n].dtype == bool}
    listed = "".join(f"{new},{old}\n" for old, new in short.items())
    with tempfile.TemporaryDirectory(dir=path.parent) as work:
        base = Path(work) / f"{file_stem(name)}.shp"
        pyogrio.write_dataframe(
            frame.assign(**columns).rename(columns=short), base, driver="ESRI Shapefile",
            layer_options={"ENCODING": "UTF-8", "DBF_DATE_LAST_UPDATE": "2000-01-01"}, promote_to_multi=_mixed(frame),
        )  # fmt: skip
        parts = {part.name: part.read_bytes() for part in sorted(Path(work).iterdir())}
    parts["names.csv"] = f"short,name\n{listed}".encode()
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as file:
        for part, content in parts.items():
            file.writestr(zipfile.ZipInfo(part, _MADE), content, zipfile.ZIP_DEFLATED)


_WRITERS: dict[str, tuple[Callable[[gpd.GeoDataFrame, Path, str], None], str]] = {
    "geoparquet": (_geoparquet, ".parquet"),
    "flatgeobuf": (_flatgeobuf, ".fgb"),
    "geojson": (_geojson, ".geojson"),
    "shapefile": (_shapefile, ".shp.zip"),
    "kml": (_kml, ".kml"),
}
