"""What a claim rests on beside the layout: parcels of the boundary file, photos, and the list of native kinds."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import shapely
from pyproj import CRS

from geoagro.arrays import Shapes
from geoagro.crs import WGS84, transform_geometries
from geoagro.errors import InputError
from geoagro.inputs.files import find_file, reading
from geoagro.inputs.laid.own_table import own_table
from geoagro.inputs.local_only import check_vector
from geoagro.inputs.vector.features import Features
from geoagro.inputs.vector.file import read_features
from geoagro.inputs.vector.rings import polygons_of
from geoagro.inputs.vector.text_table import read_text
from geoagro.values.design import Design, VectorSource
from geoagro.values.results.evidence import PARCELS_GIVEN, PHOTOS, Evidence, binomial
from geoagro.values.rules.claim import Native, PhotoSource
from geoagro.values.survey import SURVEY_POINTS

_COLUMNS = {
    "photo": ("photo", "picture", "image", "name", "number", "id"),
    "date": ("date", "day", "time"),
    "bearing_deg": ("bearing_deg", "bearing", "direction_deg", "direction"),
    "shows": ("shows", "note", "remark", "description"),
}


def read_evidence(design: Design, *, boundary: VectorSource, crs: CRS, surveys: Sequence[Path] = ()) -> Evidence:
    """Read what section `report` of a design names, in the working CRS.

    Parameters
    ----------
    boundary
        The boundary as the layout was made from it.
    surveys
        Files of surveys, for photos noted in the field.

    Raises
    ------
    InputError, CrsError
        With key and file, where something is missing, unreadable or not what it should be.
    """
    rule, folder = design.report, design.folder
    photos = [_noted(path, crs) for path in surveys]
    if rule.photos is not None:
        photos.insert(0, read_photos(rule.photos, folder=folder, crs=crs))
    kept = [frame for frame in photos if len(frame)]
    return Evidence(
        parcels=None if rule.parcels is None else read_parcels(boundary, rule.parcels, folder=folder, crs=crs),
        photos=gpd.GeoDataFrame(pd.concat(kept, ignore_index=True), crs=crs) if kept else PHOTOS.empty(crs),
        native=None if rule.native is None else read_native(rule.native, folder=folder),
    )


def read_parcels(boundary: VectorSource, attribute: str, *, folder: Path, crs: CRS) -> gpd.GeoDataFrame:
    """Layer PARCELS_GIVEN: polygons of the boundary joined by the value of an attribute, in order of that value.

    Raises InputError where the file has no such attribute, or a polygon has no id.
    """
    features = read_features(boundary, key="inputs.boundary", folder=folder)
    known = [str(name) for name in features.table.columns if name != "geometry"]
    if attribute not in known:
        raise InputError(
            f"report.parcels: {features.where} has no attribute '{attribute}' (it has {', '.join(known) or 'none'}). "
            "Name one of them."
        )
    ids = [_text(value) for value in features.table[attribute]]
    if empty := [k for k, name in enumerate(ids, start=1) if not name]:
        raise InputError(
            f"report.parcels: feature {empty[0]} of {features.where} has no '{attribute}'. Give every parcel its id."
        )
    shapes = _parcel_shapes(features, crs, np.array(ids, dtype=object))
    return PARCELS_GIVEN.frame({"parcel": list(shapes)}, geometry=list(shapes.values()), crs=crs)


def _parcel_shapes(features: Features, crs: CRS, ids: Shapes) -> dict[str, Any]:
    flat, shapes = features.flat_in(crs), {}
    for name in sorted(set(ids)):
        polygons, _ = polygons_of(features, flat[ids == name])
        whole = shapely.union_all(shapely.make_valid(polygons))
        parts = [part for part in shapely.get_parts(whole) if part.geom_type == "Polygon"]
        shapes[str(name)] = shapely.MultiPolygon(parts)
    return shapes


def _text(value: object) -> str:
    if value is None or (isinstance(value, float) and np.isnan(value)):
        return ""
    return str(int(value)) if isinstance(value, float) and value.is_integer() else str(value).strip()


def read_photos(source: PhotoSource, *, folder: Path, crs: CRS) -> gpd.GeoDataFrame:
    """Layer PHOTOS from a table or layer of points; raises InputError where it holds other shapes or a wrong bearing."""
    given = VectorSource(file=source.file, layer=source.layer, crs=source.crs)
    features = read_features(given, key="report.photos", folder=folder)
    if (shapely.get_type_id(features.geometries) != shapely.GeometryType.POINT).any():
        raise InputError(f"{features.where}: photos are points, but it holds {features.kinds()}.")
    table = features.table.rename(columns=lambda name: str(name).strip().lower())
    texts = {name: _first(table, wanted) for name, wanted in _COLUMNS.items()}
    numbers = pd.to_numeric(pd.Series(texts["bearing_deg"]).replace("", None), errors="coerce").to_numpy(dtype=float)
    wrong = [t for t, n in zip(texts["bearing_deg"], numbers, strict=True) if t and not 0 <= n <= 360]
    if wrong:
        raise InputError(f"{features.where}: bearing '{wrong[0]}' isn't a number from 0 to 360. Put it right.")
    names = [name or str(k) for k, name in enumerate(texts["photo"], start=1)]
    columns = {"photo": names, "date": [day[:10] for day in texts["date"]], "shows": texts["shows"]}
    where = [source.file.name] * len(names)
    return _photos(features.flat_in(crs), columns | {"bearing_deg": numbers % 360, "source": where}, crs)


def _first(table: pd.DataFrame, wanted: tuple[str, ...]) -> list[str]:
    name = next((name for name in wanted if name in table), None)
    return [""] * len(table) if name is None else [_text(value) for value in table[name]]


def _noted(path: Path, crs: CRS) -> gpd.GeoDataFrame:
    """Photos whose number was noted at a point of a survey."""
    check_vector(path, where=str(path))
    with reading(str(path)):
        if SURVEY_POINTS.name not in {str(name) for name, _ in pyogrio.list_layers(path)}:
            return PHOTOS.empty(crs)
        points = own_table(path, SURVEY_POINTS.name)
    if "photo" not in points or not len(points):
        return PHOTOS.empty(crs)
    points = points[points["photo"].fillna("") != ""]
    shows = [
        " · ".join(text for text in (name, note) if text)
        for name, note in zip(points["name"].fillna(""), points["note"].fillna(""), strict=True)
    ]
    columns = {
        "photo": points["photo"].tolist(),
        "date": [path.stem[:10]] * len(points),
        "bearing_deg": points["bearing_deg"].to_numpy(dtype=float),
        "shows": shows,
        "source": [path.stem.replace("_", " ")] * len(points),
    }
    shapes = np.array([s if s is not None else shapely.Point() for s in points.geometry], dtype=object)
    return _photos(shapes, columns, crs)


def _photos(points: Shapes, columns: dict[str, Any], crs: CRS) -> gpd.GeoDataFrame:
    lonlat = transform_geometries(points, crs, WGS84)
    places = {
        "x": shapely.get_x(points), "y": shapely.get_y(points),
        "lon": np.round(shapely.get_x(lonlat), 7), "lat": np.round(shapely.get_y(lonlat), 7),
    }  # fmt: skip
    return PHOTOS.frame(columns | places, geometry=list(points), crs=crs)


def read_native(rule: Native, *, folder: Path) -> frozenset[str]:
    """Genus and species of every kind on the user's list; raises InputError for a line without a scientific name."""
    if rule.file is None:
        lines = [(f"report.native.names[{k}]", name) for k, name in enumerate(rule.names, start=1)]
    else:
        path = find_file(rule.file, folder=folder, key="report.native")
        where = f"report.native.file ({path.name})"
        text = read_text(path, where=where)
        lines = [(f"{where}: line {k}", cell.strip()) for k, cell in _first_cells(text, where)]
        lines = [(place, cell) for place, cell in lines if cell and not cell.startswith("#")]
        if lines and not binomial(lines[0][1]):
            lines = lines[1:]  # names of columns
    wrong = next(((place, name) for place, name in lines if not binomial(name)), None)
    if wrong:
        raise InputError(
            f"{wrong[0]}: '{wrong[1]}' is no scientific name; write genus and species, e.g. Quercus robur."
        )
    return frozenset(binomial(name) for _, name in lines)


def _first_cells(text: str, where: str) -> list[tuple[int, str]]:
    """First cell of every line, with the number of that line; raises InputError for a text that can't be parted."""
    reader = csv.reader(text.splitlines(), delimiter=";" if ";" in text else ",")
    try:
        return [(reader.line_num, next(iter(row), "")) for row in reader]
    except csv.Error as error:
        raise InputError(f"{where}: line {reader.line_num}: isn't a list ({error}). Look at its quotes.") from error
