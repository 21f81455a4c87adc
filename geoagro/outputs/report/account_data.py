"""The account for programs: JSON with units, CSV tables, a GeoPackage, and parts of the field as GeoJSON."""

from __future__ import annotations

import csv
import dataclasses
import json
import math
from pathlib import Path
from typing import Any

from pyproj import CRS

from geoagro.outputs.drawing.looks import FIELD, INK, Label, Marker, Style
from geoagro.outputs.geopackage.layer import OutputLayer
from geoagro.outputs.geopackage.writer import write_geopackage
from geoagro.outputs.tables.cells import Table, account_tables
from geoagro.outputs.tables.plain_text import guarded
from geoagro.outputs.words.say import ENGLISH, Words
from geoagro.reports.records.account import PARTS, Account
from geoagro.values.results.evidence import PHOTOS

FORMAT = "geoagro-account-1"
_UNITS = {"m2": "m2", "m": "m", "field": "1/ha", "planted": "1/ha"}


def write_account_json(account: Account, words: Words, path: Path) -> None:
    """Write everything as one JSON object: headline figures and tables, each number with its unit."""
    content = {
        "format": FORMAT,
        "field": account.name,
        "working_crs": account.crs_name,
        "row_spacing": {"value": account.spacing_m, "unit": "m"},
        "mixture_shares_by": account.share_basis,
        "trees_by": account.trees_basis,
        "headline": {name: {"value": _or_none(value), "unit": _unit(name)} for name, value in _headline(account)},
        "cautions": [words(caution.text, **caution.values) for caution in account.cautions],
        "tables": {table.spec.name: table_content(table) for table in account_tables(account)},
    }
    write_json(content, path)


def write_json(content: dict[str, Any], path: Path) -> None:
    """Write an object as readable JSON."""
    path.write_text(json.dumps(content, indent=1, ensure_ascii=False, allow_nan=False) + "\n", encoding="utf-8")


def _headline(account: Account) -> list[tuple[str, Any]]:
    return list(dataclasses.asdict(account.headline).items())


def _unit(name: str) -> str:
    return _UNITS.get(name.rsplit("_", 1)[-1], "1")


def _or_none(value: Any) -> Any:
    return None if isinstance(value, float) and not math.isfinite(value) else value


def table_content(table: Table) -> dict[str, Any]:
    """Give a table with the unit and meaning of each column."""
    names = table.spec.columns
    return {
        "title": table.title,
        "columns": [{"name": f.name, "unit": f.unit or None, "meaning": f.description} for f in table.spec.fields],
        "rows": [dict(zip(names, row, strict=True)) for row in table.rows],
    }


def csv_names(account: Account) -> list[str]:
    """Names of the CSV files, one per table that has rows."""
    return [_csv_name(table) for table in account_tables(account) if table.rows]


def empty_csv_names(account: Account) -> list[str]:
    """Names that an earlier account may have written, of tables that have no rows now."""
    return [_csv_name(table) for table in account_tables(account) if not table.rows]


def _csv_name(table: Table) -> str:
    return f"report_{table.spec.name.removeprefix('account_')}.csv"


def write_account_csv(account: Account, folder: Path) -> None:
    """Write each table that has rows as CSV."""
    for table in account_tables(account):
        if table.rows:
            write_csv(table, folder / _csv_name(table))


def write_csv(table: Table, path: Path) -> None:
    """Write a table as CSV: comma, point, UTF-8, one line of column names.

    A text that a spreadsheet would take for a formula gets an apostrophe in front.
    """
    with path.open("w", newline="", encoding="utf-8") as file:
        lines = csv.writer(file)
        lines.writerow(table.spec.columns)
        for row in table.rows:
            lines.writerow([_csv_cell(v, table, k) for k, v in enumerate(row)])


def _csv_cell(value: Any, table: Table, place: int) -> str:
    if value is None:
        return ""
    if isinstance(value, float):
        return f"{value:.{table.decimals(table.spec.fields[place])}f}"
    return str(value) if isinstance(value, int) else guarded(str(value))


def write_account_geopackage(account: Account, crs: CRS, path: Path, words: Words = ENGLISH) -> None:
    """Write parts of the field as polygons, and all tables, into one GeoPackage; `words` is the language of what viewers show."""
    layers = [OutputLayer(PARTS, account.parts, Style.plain(PARTS.title, FIELD))]
    photos = Style.plain(PHOTOS.title, Marker("#ffffff", "#20262b", "square", 2.0), label=Label("photo", INK))
    for spec, frame in account.tables.items():
        layers.append(OutputLayer(spec, frame, photos) if spec is PHOTOS else OutputLayer(spec, frame))
    write_geopackage(path, layers, crs, words=words)
