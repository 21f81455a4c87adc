"""Rows that someone drew or edited, with the numbers and names that they had."""

from __future__ import annotations

import numpy as np
import pandas as pd
import shapely
from pyproj import CRS
from shapely import MultiPolygon

from geoagro.arrays import Floats, Ints, Shapes
from geoagro.errors import InputError
from geoagro.inputs.vector.features import Features
from geoagro.inputs.vector.repair import sound_polygons
from geoagro.values.site import DrawnRows, Finding
from geoagro.values.words import Sentence

SHORTEST_M = 0.01
"""What is shorter is a slip of the hand, not a row."""


def drawn_rows(features: Features, *, crs: CRS) -> tuple[DrawnRows, tuple[Finding, ...]]:
    """Lines as rows, coordinates untouched (in another CRS: transformed), with their `row` and `name` columns.

    A feature of several lines becomes one row where they join, else several; of rows with one number the longest keeps
    it. Polygons and points are refused.

    Raises
    ------
    InputError
        Where a feature is no line, or nothing is left.
    """
    flat = features.flat_in(crs)
    if features.nature == "listed" or bool((shapely.get_dimensions(flat) != 1).any()):
        raise InputError(
            f"{features.where}: a row is a line; the file holds {features.kinds()}. Name the layer with the lines, or take "
            "the others out with `where`."
        )
    lines, owner = _single_lines(flat)
    long = shapely.length(lines) >= SHORTEST_M
    findings = list(features.findings)
    if not long.all():
        text = Sentence("{n} {n:line|lines} shorter than 1 cm left out", n=int((~long).sum()))
        findings.append(features.finding("repair", text))
    lines, owner = lines[long], owner[long]
    if len(lines) == 0:
        raise InputError(f"{features.where}: holds no line of a centimetre or more. Name the right file or layer.")
    numbers = _numbers(features.table, len(features.geometries))[owner]
    names = np.array(_names(features.table, len(features.geometries)), dtype=object)[owner]
    numbers, doubled = _each_once(numbers, shapely.length(lines))
    if doubled:
        text = Sentence(
            "row number {rows} stands on several lines; the longest keeps it, the others get new numbers",
            rows=", ".join(map(str, doubled)),
        )
        findings.append(features.finding("warning", text))
    return DrawnRows(tuple(lines), tuple(int(n) for n in numbers), tuple(names)), tuple(findings)


def only_where(features: Features, *, crs: CRS) -> tuple[MultiPolygon, tuple[Finding, ...]]:
    """Ground inside the polygons of a file; raises InputError where there is none."""
    flat = features.flat_in(crs)
    if bool((shapely.get_dimensions(flat) != 2).any()):
        raise InputError(f"{features.where}: draw polygons around the rows to lay anew; found {features.kinds()}.")
    polygons, found = sound_polygons(features, shapely.get_parts(flat))
    area = shapely.union_all(polygons)
    return MultiPolygon([part for part in shapely.get_parts(area) if part.geom_type == "Polygon"]), (
        *features.findings,
        *found,
    )


def _single_lines(flat: Shapes) -> tuple[Shapes, Ints]:
    """Lines without repeated corners, and the feature each comes from; parts of one feature are joined where they meet."""
    many = shapely.get_type_id(flat) == shapely.GeometryType.MULTILINESTRING
    joined = flat.copy()
    joined[many] = shapely.line_merge(flat[many])
    lines, owner = shapely.get_parts(joined, return_index=True)
    return shapely.remove_repeated_points(lines, 0.0), owner


def _column(table: pd.DataFrame, name: str) -> pd.Series | None:
    found = [column for column in table.columns if str(column).lower() == name]
    return table[found[0]] if found else None


def _numbers(table: pd.DataFrame, count: int) -> Ints:
    """Whole numbers above 0 in column `row`; 0 for all else."""
    column = _column(table, "row")
    if column is None:
        return np.zeros(count, dtype=np.int64)
    value = np.asarray(pd.to_numeric(column, errors="coerce"), dtype=float)
    whole = np.isfinite(value) & (value > 0) & (value == np.round(value)) & (value < 1e6)
    return np.where(whole, np.nan_to_num(value), 0).astype(np.int64)


def _names(table: pd.DataFrame, count: int) -> list[str]:
    column = _column(table, "name")
    if column is None:
        return [""] * count
    return ["" if pd.isna(value) else str(value).strip() for value in column]


def _each_once(numbers: Ints, length: Floats) -> tuple[Ints, list[int]]:
    """Leave a number to the longest line that has it; returns which ones stood on several."""
    order = np.lexsort((np.arange(len(numbers)), -length, numbers))
    repeated = np.zeros(len(numbers), dtype=bool)
    repeated[order[1:]] = (numbers[order[1:]] == numbers[order[:-1]]) & (numbers[order[1:]] > 0)
    return np.where(repeated, 0, numbers), sorted({int(n) for n in numbers[repeated]})
