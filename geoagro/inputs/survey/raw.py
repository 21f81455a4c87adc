"""One file of a survey as it was saved: points or lines of any format, in the CRS of that file."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import shapely
from pyproj import CRS

from geoagro.arrays import Floats, Shapes
from geoagro.crs import WGS84, name_of, parse_crs
from geoagro.errors import CrsError, InputError
from geoagro.inputs.survey.columns import NAMES, texts
from geoagro.inputs.vector.features import Features
from geoagro.inputs.vector.file import read_features
from geoagro.inputs.vector.ogr import read_layer, unzipped
from geoagro.inputs.vector.point_list import has_coordinates, read_point_list
from geoagro.inputs.vector.text_table import listed, number, read_text, table_of
from geoagro.values.design import VectorSource
from geoagro.values.site import Finding, Site
from geoagro.values.words import Sentence


@dataclass(frozen=True, eq=False)
class Raw:
    """Features of a file in its CRS, with their attributes (names in small letters)."""

    where: str
    geometries: Shapes
    table: Any
    crs: CRS
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True)
class Asked:
    """CRS and layer that were asked for; with `several` files, one that states its CRS keeps it."""

    crs: str | None = None
    layer: str | None = None
    several: bool = False


def read_raw(path: Path, where: str, site: Site, asked: Asked) -> Raw:
    """Read the features of a file; raises InputError or CrsError that begin with `where`."""
    if path.suffix.lower() in (".csv", ".txt"):
        return _list(path, where, site, asked)
    if path.suffix.lower() == ".gpx":
        return _gpx(path, where, asked.layer)
    try:
        features = _vector(path, asked)
    except (InputError, CrsError) as error:
        raise type(error)(str(error).replace(_by_name(path), where, 1)) from error
    geometries, index = shapely.get_parts(features.geometries, return_index=True)
    findings = tuple(replace(one, where=one.where.replace(_by_name(path), where, 1)) for one in features.findings)
    return Raw(where, geometries, _named(features.table.iloc[index]), features.crs, findings)


def _by_name(path: Path) -> str:
    """How the reader of features names the file: without the folders that tell it from others of its name."""
    return f"survey ({path.name})"


def _vector(path: Path, asked: Asked) -> Features:
    source = VectorSource(file=Path(path.name), layer=asked.layer, crs=asked.crs)
    if asked.several and asked.crs is not None:
        try:
            return read_features(source.model_copy(update={"crs": None}), key="survey", folder=path.parent)
        except CrsError:  # it states none
            pass
    return read_features(source, key="survey", folder=path.parent)


def _list(path: Path, where: str, site: Site, asked: Asked) -> Raw:
    """Points with a header, or point, northing, easting, height, description without one."""
    given = parse_crs(asked.crs, where="--crs") if asked.crs else None
    text = read_text(path, where=where)
    first = text.lstrip().splitlines()[:1]
    if first and _is_number(first[0].split(",")[1:3]):
        table = listed(text, ["point", "north", "east", "z", "desc"], where=where)
        xy = _sound(table, where)
        note = Finding("note", where, Sentence("no header: taken as point, northing, easting, height, description"))
        return Raw(
            where,
            np.asarray(shapely.points(xy), dtype=object),
            _named(table),
            given or site.crs,
            (note, *_taken(given, site, where)),
        )
    head = first[0].lower() if first else ""
    degrees = any(word in head for word in ("lat", "lon"))
    if degrees and asked.several and given is not None and given.is_projected:
        given = None  # meant for the other files: this one says that it is in degrees
    if first and not has_coordinates(first[0]):
        return _tally(text, where, site)
    read = read_point_list(path, where=where, crs=given or (WGS84 if degrees else site.crs))
    findings = read.findings if given or degrees else (*read.findings, *_taken(given, site, where))
    return Raw(where, read.geometries, _named(read.table), read.crs, findings)


def _tally(text: str, where: str, site: Site) -> Raw:
    """Take a list of names with their state, without any positions."""
    table = _named(table_of(text, where=where))
    names = np.array(texts(table, NAMES), dtype=object)
    if not any(names):
        raise InputError(
            f"{where}: has neither coordinates (columns x and y, or lon and lat) nor names ({', '.join(NAMES)}). Add either."
        )
    note = Finding("note", where, Sentence("has no coordinates: {n} {n:line|lines} taken by name", n=len(table)))
    return Raw(where, np.full(len(table), shapely.Point(), dtype=object), table, site.crs, (note,))


def _sound(table: Any, where: str) -> Floats:
    """Easting and northing of a list if all of them are finite; else tell the line of the first that isn't."""
    xy = np.array([[number(text) for text in table[name]] for name in ("east", "north")]).T
    wrong = np.isnan(xy).any(axis=1)
    if wrong.any():
        raise InputError(
            f"{where}: line {table.index[int(wrong.argmax())]}: northing or easting is missing or not a number. Complete the "
            "line, or take it out."
        )
    return xy


def _is_number(fields: list[str]) -> bool:
    try:
        return len([float(field) for field in fields]) == 2
    except ValueError:
        return False


def _taken(given: CRS | None, site: Site, where: str) -> tuple[Finding, ...]:
    if given is not None:
        return ()
    return (Finding("note", where, Sentence("states no CRS: taken as {crs}, the layout's own", crs=name_of(site.crs))),)


def _gpx(path: Path, where: str, layer: str | None) -> Raw:
    """Waypoints, tracks and routes together, or only what `layer` names."""
    names = (layer,) if layer else ("waypoints", "tracks", "routes")
    if layer and layer not in ("waypoints", "tracks", "routes"):
        raise InputError(f"{where}: layer must be waypoints, tracks or routes (got '{layer}').")
    parts: list[Any] = []
    findings: list[Finding] = []
    for name in names:
        table, _, found = read_layer(unzipped(path, where=where), name, where=where, only=None)
        parts.append(table[~table.geometry.is_empty & table.geometry.notna()])
        findings += found
    table = pd.concat([p for p in parts if len(p)], ignore_index=True) if any(map(len, parts)) else None
    if table is None:
        raise InputError(f"{where}: holds no {' or '.join(names)}.")
    geometries, index = shapely.get_parts(table.geometry.to_numpy(), return_index=True)
    return Raw(where, geometries, _named(table.iloc[index]), WGS84, tuple(findings))


def _named(table: pd.DataFrame) -> Any:
    plain = pd.DataFrame(table).reset_index(drop=True)
    plain.columns = pd.Index([str(name).strip().lower() for name in plain.columns])
    return plain
