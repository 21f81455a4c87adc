"""Points and traces of one file of a survey, brought into the working CRS."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import shapely

from geoagro.arrays import Bools
from geoagro.inputs.files import reading
from geoagro.inputs.survey import columns
from geoagro.inputs.survey.fit import NEAR_M, Known, Numbers, fitted
from geoagro.inputs.survey.raw import Asked, Raw, read_raw
from geoagro.inputs.vector.features import refuse_endless
from geoagro.values.site import Finding, Site
from geoagro.values.survey import SURVEY_POINTS, SURVEY_TRACES, What

_DESIGN = "design"  # position of a point that is only where the design has it: nobody measured it


@dataclass(frozen=True, eq=False)
class Reading:
    """How files are to be read: what was asked for, and what is known of the field."""

    site: Site
    asked: Asked
    what: What | None
    repairs: tuple[str, ...]
    places: Callable[[], Known] | None
    dated: bool
    """Whether the day was stated, so that the files' own aren't looked at."""


@dataclass(frozen=True, eq=False)
class Seen:
    """One file of a survey: its layers in the working CRS, its days (None where they weren't asked for), and what was found.

    `findings` are of the file, of its points and of its traces; `repairs` names those that it needed.
    """

    where: str
    points: gpd.GeoDataFrame
    traces: gpd.GeoDataFrame
    days: Any
    findings: tuple[tuple[Finding, ...], tuple[Finding, ...], tuple[Finding, ...]]
    repairs: frozenset[str]


def read_seen(path: Path, where: str, how: Reading) -> Seen:
    """Read one file; raises InputError or CrsError that begin with `where`."""
    with reading(where):
        raw = read_raw(path, where, how.site, how.asked)
        refuse_endless(raw.geometries, where=where)
        lines = np.isin(shapely.get_type_id(raw.geometries), [1, 2, 5])
        dots = shapely.get_type_id(raw.geometries) == 0
        points, of_points, used = _points(raw, dots, how)
        traces, of_traces = SURVEY_TRACES.empty(how.site.crs), tuple[Finding, ...]()
        if lines.any() and (how.what == "rows" or not dots.any()):
            traces, of_traces, more = _traces(raw, lines, how)
            used |= more
        findings = (raw.findings, of_points, of_traces)
        return Seen(where, points, traces, None if how.dated else columns.days(raw.table), findings, used)


def _points(raw: Raw, dots: Any, how: Reading) -> tuple[Any, tuple[Finding, ...], frozenset[str]]:
    site = how.site
    if not dots.any():
        return SURVEY_POINTS.empty(site.crs), (), frozenset()
    geometries, table = raw.geometries[dots], raw.table[dots].reset_index(drop=True)
    names, status = columns.texts(table, columns.NAMES), columns.status(raw.where, table)
    there = ~shapely.is_empty(geometries) & (np.array(columns.texts(table, columns.POSITIONS)) != _DESIGN)
    x, y, findings, used = (
        np.full(len(there), np.nan),
        np.full(len(there), np.nan),
        tuple[Finding, ...](),
        frozenset[str](),
    )
    if there.any():
        numbers = Numbers(shapely.get_x(geometries[there]), shapely.get_y(geometries[there]), raw.crs)
        given = np.array(names, dtype=object)[there]
        fit = fitted(
            numbers, site, where=raw.where, repairs=how.repairs, several=how.asked.several, names=given, places=how.places
        )  # fmt: skip
        x[there], y[there], findings, used = fit.x, fit.y, fit.findings, fit.repairs
    placed = np.full(len(there), shapely.Point(), dtype=object)
    placed[there] = shapely.points(x[there], y[there])
    away = np.where(there, shapely.distance(site.boundary, placed), 0.0)
    frame = SURVEY_POINTS.frame(
        {
            "point": np.arange(1, len(x) + 1),
            "name": names,
            "status": status,
            "crop": columns.texts(table, columns.CROPS),
            "x": x,
            "y": y,
            "z": columns.heights(geometries, table),
            "far": away > NEAR_M,
            "photo": columns.texts(table, columns.PHOTOS),
            "bearing_deg": columns.measured(table, columns.BEARINGS),
            "note": columns.texts(table, columns.NOTES),
            "dbh_cm": columns.measured(table, columns.STEMS),
            "tree_height_m": columns.measured(table, columns.TALL),
        },
        geometry=placed,
        crs=site.crs,
    )
    return frame, findings, used


def _traces(raw: Raw, lines: Bools, how: Reading) -> tuple[gpd.GeoDataFrame, tuple[Finding, ...], frozenset[str]]:
    flat = shapely.force_2d(raw.geometries[lines])
    xy = shapely.get_coordinates(flat)
    numbers = Numbers(xy[:, 0], xy[:, 1], raw.crs)
    fit = fitted(numbers, how.site, where=raw.where, repairs=how.repairs, several=how.asked.several)
    names = columns.texts(raw.table[lines].reset_index(drop=True), columns.NAMES)
    frame = SURVEY_TRACES.frame(
        {"trace": np.arange(1, len(flat) + 1), "name": names},
        geometry=shapely.set_coordinates(flat, np.column_stack([fit.x, fit.y])),
        crs=how.site.crs,
    )
    return frame, fit.findings, fit.repairs
