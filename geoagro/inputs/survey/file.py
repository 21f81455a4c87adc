"""Read what was surveyed in the field: points of stakes or plants, or traces of rows."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from pyproj import CRS
from scipy.spatial import cKDTree

from geoagro.arrays import Bools, Floats, Shapes
from geoagro.crs import WGS84, name_of, parse_crs
from geoagro.errors import InputError
from geoagro.inputs.files import checksums, find_file, reading
from geoagro.inputs.survey.fit import NEAR_M, Known, Numbers, fitted
from geoagro.inputs.survey.status import status_word
from geoagro.inputs.vector.features import refuse_endless
from geoagro.inputs.vector.file import read_features
from geoagro.inputs.vector.ogr import read_layer, unzipped
from geoagro.inputs.vector.point_list import has_coordinates, read_point_list
from geoagro.inputs.vector.text_table import listed, number, read_text, table_of
from geoagro.values.design import VectorSource
from geoagro.values.site import Finding, Site
from geoagro.values.survey import SURVEY_POINTS, SURVEY_TRACES, Survey, What
from geoagro.values.words import Sentence

_NAMES = ("mark", "name", "point", "stake", "plant", "label", "id")
_POSITIONS = ("position",)
_STATUSES = ("status", "state", "condition", "desc", "description", "cmt", "comment")
_STATUS_ONLY = ("status", "state", "condition")
_CROPS = ("crop", "species", "tree")
_HEIGHTS = ("z", "height", "elevation", "ele", "z_m")
_PHOTOS = ("photo", "picture", "image")
_BEARINGS = ("bearing_deg", "bearing", "direction_deg")
_NOTES = ("note", "notes", "remark")
_STEMS = ("dbh_cm", "diameter_cm")
_TALL = ("tree_height_m",)
_DATES = ("date", "time", "surveyed")
_DESIGN = "design"  # position of a point that is only where the design has it: nobody measured it
_SAME_PLACE_M = 0.02


@dataclass(frozen=True, eq=False)
class _Raw:
    """Features of a survey in the CRS of its file, with their attributes (names in small letters)."""

    where: str
    geometries: Shapes
    table: Any
    crs: CRS
    findings: tuple[Finding, ...] = ()


def read_survey(
    path: Path,
    site: Site,
    *,
    what: What | None = None,
    on: date | None = None,
    crs: str | None = None,
    layer: str | None = None,
    repair: str | None = None,
    known_marks: frozenset[str] = frozenset(),
    places: Callable[[], Known] | None = None,
    by: str = "",
    receiver: str = "",
) -> Survey:
    """Read a survey (GPX, CSV, GeoPackage, KML and the like) into the working CRS, and check it.

    Parameters
    ----------
    what
        What its points are; found from names, crops and geometry where left out.
    on
        Day of the survey; taken from the file's own dates where left out.
    crs
        CRS where the file states none. Lists of points are taken as being in the working CRS otherwise, or in
        longitude and latitude if their columns say so.
    repair
        Mistake to undo, as an earlier run's message named it.
    known_marks
        Names of the design's stakes, to tell what the points are.
    places
        Gives names and places of the design, to tell apart mistakes that put the points nearly alike.
    by, receiver
        Who surveyed and with what, as stated.

    Raises
    ------
    InputError, CrsError
        If the file can't be read, lies elsewhere, has an unknown status, no date, or what its points are can't
        be told.

    >>> from pathlib import Path
    >>> from geoagro import example_layout, read_survey
    >>> import tempfile
    >>> laid = example_layout()
    >>> trees = laid.plants.by_crop()["apple"].iloc[:3]
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     file = Path(folder, "survey.csv")
    ...     text = trees.rename(columns={"plant": "name"})[["name", "x", "y"]].assign(date="2031-05-02").to_csv(index=False)
    ...     _ = file.write_text(text)
    ...     survey = read_survey(file, laid.site, what="plants")
    >>> survey.points["name"].tolist() == trees["plant"].astype(str).tolist(), str(survey.date)
    (True, '2031-05-02')
    """
    path = Path(path)
    find_file(Path(path.name), folder=path.parent, key="survey")
    with reading(f"survey ({path.name})"):
        survey = _survey(
            path, site, what=what, on=on, crs=crs, layer=layer, repair=repair, known_marks=known_marks, places=places
        )
    return replace(survey, by=by, receiver=receiver)


def _survey(
    path: Path,
    site: Site,
    *,
    what: What | None,
    on: date | None,
    crs: str | None,
    layer: str | None,
    repair: str | None,
    known_marks: frozenset[str],
    places: Callable[[], Known] | None,
) -> Survey:
    raw = _read(path, site, crs=crs, layer=layer)
    refuse_endless(raw.geometries, where=raw.where)
    lines = np.isin(shapely.get_type_id(raw.geometries), [1, 2, 5])
    dots = shapely.get_type_id(raw.geometries) == 0
    points, findings = _points(raw, dots, site, repair, places)
    traces = SURVEY_TRACES.empty(site.crs)
    if lines.any() and (what == "rows" or not dots.any()):
        traces, more = _traces(raw, lines, site, repair)
        findings += more
    told = what or _what(raw.where, points, traces, known_marks)
    _need(raw.where, told, points, traces)
    return Survey(
        name=path.stem,
        date=on or _date(raw),
        what=told,
        points=points,
        traces=traces,
        findings=(*raw.findings, *findings),
        source=checksums("survey", Path(path.name), path, [path])[0],
    )


def _read(path: Path, site: Site, *, crs: str | None, layer: str | None) -> _Raw:
    where = f"survey ({path.name})"
    if path.suffix.lower() in (".csv", ".txt"):
        return _list(path, where, site, crs)
    if path.suffix.lower() == ".gpx":
        return _gpx(path, where, layer)
    source = VectorSource(file=Path(path.name), layer=layer, crs=crs)
    features = read_features(source, key="survey", folder=path.parent)
    geometries, index = shapely.get_parts(features.geometries, return_index=True)
    return _Raw(where, geometries, _named(features.table.iloc[index]), features.crs, features.findings)


def _list(path: Path, where: str, site: Site, crs: str | None) -> _Raw:
    """Points with a header, or point, northing, easting, height, description without one."""
    given = parse_crs(crs, where="--crs") if crs else None
    text = read_text(path, where=where)
    first = text.lstrip().splitlines()[:1]
    if first and _is_number(first[0].split(",")[1:3]):
        table = listed(text, ["point", "north", "east", "z", "desc"], where=where)
        xy = _sound(table, where)
        note = Finding("note", where, Sentence("no header: taken as point, northing, easting, height, description"))
        return _Raw(
            where,
            np.asarray(shapely.points(xy), dtype=object),
            _named(table),
            given or site.crs,
            (note, *_taken(given, site, where)),
        )
    head = first[0].lower() if first else ""
    degrees = any(word in head for word in ("lat", "lon"))
    if first and not has_coordinates(first[0]):
        return _tally(text, where, site)
    read = read_point_list(path, where=where, crs=given or (WGS84 if degrees else site.crs))
    findings = read.findings if given or degrees else (*read.findings, *_taken(given, site, where))
    return _Raw(where, read.geometries, _named(read.table), read.crs, findings)


def _tally(text: str, where: str, site: Site) -> _Raw:
    """Take a list of names with their state, without any positions."""
    table = _named(table_of(text, where=where))
    names = np.array(_texts(table, _NAMES), dtype=object)
    if not any(names):
        raise InputError(
            f"{where}: has neither coordinates (columns x and y, or lon and lat) nor names ({', '.join(_NAMES)}). Add either."
        )
    note = Finding("note", where, Sentence("has no coordinates: {n} {n:line|lines} taken by name", n=len(table)))
    return _Raw(where, np.full(len(table), shapely.Point(), dtype=object), table, site.crs, (note,))


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


def _gpx(path: Path, where: str, layer: str | None) -> _Raw:
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
    return _Raw(where, geometries, _named(table.iloc[index]), WGS84, tuple(findings))


def _named(table: pd.DataFrame) -> Any:
    plain = pd.DataFrame(table).reset_index(drop=True)
    plain.columns = pd.Index([str(name).strip().lower() for name in plain.columns])
    return plain


def _points(
    raw: _Raw, dots: Any, site: Site, repair: str | None, places: Callable[[], Known] | None
) -> tuple[Any, list[Finding]]:
    if not dots.any():
        return SURVEY_POINTS.empty(site.crs), []
    geometries, table = raw.geometries[dots], raw.table[dots].reset_index(drop=True)
    names, status = _texts(table, _NAMES), _status(raw.where, table)
    there = ~shapely.is_empty(geometries) & (np.array(_texts(table, _POSITIONS)) != _DESIGN)
    x, y, findings = np.full(len(there), np.nan), np.full(len(there), np.nan), list[Finding]()
    if there.any():
        numbers = Numbers(shapely.get_x(geometries[there]), shapely.get_y(geometries[there]), raw.crs)
        given = np.array(names, dtype=object)[there]
        x[there], y[there], findings = fitted(
            numbers, site, where=raw.where, repair=repair, names=given, places=places
        )  # fmt: skip
    placed = np.full(len(there), shapely.Point(), dtype=object)
    placed[there] = shapely.points(x[there], y[there])
    away = np.where(there, shapely.distance(site.boundary, placed), 0.0)
    frame = SURVEY_POINTS.frame(
        {
            "point": np.arange(1, len(x) + 1),
            "name": names,
            "status": status,
            "crop": _texts(table, _CROPS),
            "x": x,
            "y": y,
            "z": _heights(geometries, table),
            "far": away > NEAR_M,
            "photo": _texts(table, _PHOTOS),
            "bearing_deg": _measured(table, _BEARINGS),
            "note": _texts(table, _NOTES),
            "dbh_cm": _measured(table, _STEMS),
            "tree_height_m": _measured(table, _TALL),
        },
        geometry=placed,
        crs=site.crs,
    )
    return frame, [*findings, *_doubts(raw.where, frame)]


def _doubts(where: str, points: Any) -> list[Finding]:
    """Say what looks wrong with the points though they lie at the field."""
    found = []
    twice = [name for name, count in Counter(points["name"]).items() if name and count > 1]
    if twice:
        text = Sentence(
            "{n} {n:name|names} used more than once: {names}; see below how {n:it was|they were} matched",
            n=len(twice),
            names=", ".join(twice[:8]),
        )
        found.append(Finding("warning", where, text))
    seen = points[np.isfinite(points["x"].to_numpy())]
    xy = seen[["x", "y"]].to_numpy().reshape(-1, 2)
    pairs: Any = cKDTree(xy).query_pairs(_SAME_PLACE_M, output_type="ndarray") if len(seen) else ()
    if len(pairs):
        at = ", ".join(str(seen["name"].iloc[i] or seen["point"].iloc[i]) for i in np.unique(pairs[:, 0])[:8])
        found.append(
            Finding(
                "warning",
                where,
                Sentence("{n} {n:point|points} surveyed twice at one place: {at}", n=len(pairs), at=at),
            )
        )
    far = points[points["far"]]
    if len(far):
        at = ", ".join(str(name or number) for name, number in zip(far["name"][:8], far["point"][:8], strict=True))
        text = Sentence(
            "{n} {n:point lies|points lie} more than {near_m:.0f} m outside the field: {at}; left out",
            n=len(far),
            near_m=NEAR_M,
            at=at,
        )
        found.append(Finding("warning", where, text))
    return found


def _traces(raw: _Raw, lines: Bools, site: Site, repair: str | None) -> tuple[gpd.GeoDataFrame, list[Finding]]:
    flat = shapely.force_2d(raw.geometries[lines])
    xy = shapely.get_coordinates(flat)
    x, y, findings = fitted(Numbers(xy[:, 0], xy[:, 1], raw.crs), site, where=raw.where, repair=repair)
    frame = SURVEY_TRACES.frame(
        {"trace": np.arange(1, len(flat) + 1), "name": _texts(raw.table[lines].reset_index(drop=True), _NAMES)},
        geometry=shapely.set_coordinates(flat, np.column_stack([x, y])),
        crs=site.crs,
    )
    return frame, findings


def _texts(table: pd.DataFrame, wanted: tuple[str, ...]) -> list[str]:
    """Values of the first of the wanted columns that the table has and that isn't empty throughout."""
    for name in wanted:
        if name in table and table[name].notna().any():
            return [_text(value) for value in table[name]]
    return [""] * len(table)


def _text(value: object) -> str:
    if value is None or (isinstance(value, float) and np.isnan(value)):
        return ""
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    return str(value).strip()


def _status(where: str, table: pd.DataFrame) -> list[str]:
    """Read a status from its own column, or as a word in a description."""
    texts = _texts(table, _STATUSES)
    own = any(name in table and table[name].notna().any() for name in _STATUS_ONLY)
    out = [status_word(text) for text in texts]
    if own:
        unknown = sorted({text for text, word in zip(texts, out, strict=True) if text and not word})
        if unknown:
            raise InputError(
                f"{where}: status '{unknown[0]}' isn't known{f' (and {len(unknown) - 1} more)' if unknown[1:] else ''}. "
                "Write planted, replaced, dead, missing or not looked at, or leave it empty."
            )
    return out


def _heights(geometries: Any, table: Any) -> Any:
    if shapely.has_z(geometries).all():
        return shapely.get_z(geometries)
    return _measured(table, _HEIGHTS)


def _measured(table: Any, wanted: tuple[str, ...]) -> Any:
    """Numbers of the first of the wanted columns that the table has; NaN where none or not a number."""
    for name in wanted:
        if name in table:
            return pd.to_numeric(table[name], errors="coerce").to_numpy(dtype=float)
    return np.full(len(table), np.nan)


def _date(raw: _Raw) -> date:
    for name in _DATES:
        if name not in raw.table:
            continue
        days = pd.to_datetime(raw.table[name], errors="coerce", utc=True).dropna()
        if len(days):
            found: date = days.median().date()
            return found
    raise InputError(f"{raw.where}: has no dates in it. Say when it was surveyed with --date, e.g. --date 2026-04-30.")


def _what(where: str, points: gpd.GeoDataFrame, traces: gpd.GeoDataFrame, known_marks: frozenset[str]) -> What:
    """Tell stakes by their names, plants by their crop or number, rows by lines; else ask."""
    if len(points) == 0 and len(traces):
        return "rows"
    named = [name for name in points["name"] if name]
    if named and np.mean([name in known_marks for name in named]) > 0.5:
        return "stakes"
    if (points["crop"] != "").any() or (named and np.mean([name.isdigit() for name in named]) > 0.5):
        return "plants"
    raise InputError(
        f"{where}: can't tell whether its points are stakes or plants. Say so with --what stakes or --what plants."
    )


def _need(where: str, what: What, points: gpd.GeoDataFrame, traces: gpd.GeoDataFrame) -> None:
    if what == "rows" and len(traces) == 0:
        raise InputError(f"{where}: holds no lines to take as traces of rows.")
    if what != "rows" and len(points) == 0:
        raise InputError(f"{where}: holds no points to take as {what}.")
