"""The season plan as a spreadsheet: typed cells, one sheet per table, sums as formulas."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import xlsxwriter
from xlsxwriter.utility import xl_range

from geoagro.outputs.tables.printing import name_table, row_height, set_up_page
from geoagro.season.records.tables import (
    BED_MONTHS,
    BED_TASKS,
    BY_ZONE,
    CALENDAR,
    CASH,
    DAYS,
    FIGURES,
    FINDINGS,
    FREE_BEDS,
    LABOUR,
    MATERIAL,
    MATERIAL_DAYS,
    NUTRIENTS,
    ORDERS,
    RATES,
    SENSITIVITY,
    SPELLS,
    WEEKS,
    YEARS,
    YIELDS,
    SeasonPlan,
)
from geoagro.season.records.wood import WOOD
from geoagro.values.layers import Field, LayerSpec

_MADE = datetime(2000, 1, 1)  # a fixed day, so that the same plan gives the same file
_MOST_ROWS = 1_000_000  # of 1,048,576 that a sheet can hold
_WIDEST = 70
_WRAPPED = ("text", "definition")
_GRID_MONTHS, _GRID_SCALE = 24, 46  # months to a page of the grid, and the percentage at which they fit

SHEETS = {
    FIGURES.name: "Key figures",
    FINDINGS.name: "Findings",
    MATERIAL.name: "Material",
    MATERIAL_DAYS.name: "Planting days",
    ORDERS.name: "Orders",
    CALENDAR.name: "Calendar",
    SPELLS.name: "Days of work",
    BED_TASKS.name: "Calendar by bed",
    DAYS.name: "Work by day",
    WEEKS.name: "Work by week",
    LABOUR.name: "Work by month",
    YIELDS.name: "Harvest",
    CASH.name: "Money by month",
    YEARS.name: "Years",
    SENSITIVITY.name: "What matters most",
    BED_MONTHS.name: "Beds by month",
    FREE_BEDS.name: "Free beds",
    NUTRIENTS.name: "Nutrients",
    WOOD.name: "Wood",
    BY_ZONE.name: "By zone",
    RATES.name: "Rates",
}

_SUMMED = {
    BY_ZONE.name: tuple(BY_ZONE.columns[1:]),
    MATERIAL.name: ("places", "pieces", "spares", "total", "weight_kg", "cost"),
    MATERIAL_DAYS.name: ("places", "total", "weight_kg"),
    CALENDAR.name: ("hours",),
    SPELLS.name: ("hours",),
    BED_TASKS.name: ("hours",),
    DAYS.name: ("hours", "person_days"),
    WEEKS.name: ("wanted", "person_days", "capacity"),
    LABOUR.name: ("hours", "person_days", "cost"),
    YIELDS.name: tuple(YIELDS.columns[2:]),
    CASH.name: tuple(c for c in CASH.columns[2:] if not c.startswith("balance")),
    WOOD.name: ("trees", *(c for c in WOOD.columns if c.startswith(("dry_", "m3_", "income_")))),
    YEARS.name: tuple(c for c in YEARS.columns[1:] if not c.startswith("balance")),
}


DAY_BY_DAY = frozenset(spec.name for spec in (MATERIAL_DAYS, SPELLS, BED_TASKS, DAYS, BED_MONTHS, FREE_BEDS))
"""Tables with a line for every day or bed: they fill hundreds of pages, so they have a workbook of their own."""


def write_sheet(plan: SeasonPlan, path: Path) -> None:
    """Write the workbook that is for printing: all but the tables with a line for every day or bed."""
    tables = [(spec, frame) for spec, frame in plan.tables() if spec.name not in DAY_BY_DAY]
    write_tables(tables, plan.name, plan.rule.currency, path)


def write_day_sheet(plan: SeasonPlan, path: Path) -> None:
    """Write the workbook of days and beds, to be filtered; beds by month stand as a grid of beds and months."""
    tables = [(spec, frame) for spec, frame in plan.tables() if spec.name in DAY_BY_DAY]
    write_tables(tables, plan.name, plan.rule.currency, path)


def write_tables(tables: list[tuple[LayerSpec, Any]], title: str, currency: str, path: Path) -> None:
    """Write tables, each to its sheet, and the meaning of every column to the last one."""
    book = xlsxwriter.Workbook(str(path), {"strings_to_formulas": False, "strings_to_urls": False})
    book.set_properties({"title": title, "created": _MADE})
    looks = _looks(book)
    for spec, frame in tables:
        sheet = book.add_worksheet(SHEETS[spec.name])
        if spec is BED_MONTHS:
            _write_grid(sheet, frame, looks, title)
        elif len(frame) > _MOST_ROWS:
            sheet.write_string(
                0, 0, f"{len(frame):,} rows are too many for a sheet; see table {spec.name} in season.gpkg."
            )
        else:
            _write_table(sheet, spec, frame, looks, currency)
        if spec is not BED_MONTHS:
            set_up_page(sheet, title=title)
    meanings = book.add_worksheet("Columns")
    _write_meanings(meanings, [spec for spec, _ in tables], looks)
    set_up_page(meanings, title=title)
    book.close()


def _looks(book: Any) -> dict[str, Any]:
    return {
        "head": book.add_format({"bold": True, "text_wrap": True, "valign": "top", "bottom": 1, "bg_color": "#e9eeee"}),
        "text": book.add_format({"valign": "top"}),
        "int": book.add_format({"num_format": "#,##0", "valign": "top"}),
        "float": book.add_format({"num_format": "#,##0.00", "valign": "top"}),
        "date": book.add_format({"num_format": "yyyy-mm-dd", "valign": "top", "align": "left"}),
        "sum": book.add_format({"num_format": "#,##0.00", "bold": True, "top": 1}),
        "wrap": book.add_format({"text_wrap": True, "valign": "top"}),
    }


def _write_table(sheet: Any, spec: LayerSpec, frame: pd.DataFrame, looks: dict[str, Any], currency: str) -> None:
    sheet.freeze_panes(1, 0)
    sheet.set_row(0, 32)
    name_table(sheet, spec.name, [_head(field, currency) for field in spec.fields], len(frame), looks["head"])
    for k, field in enumerate(spec.fields):
        values = frame[field.name]
        sheet.set_column(k, k, _width(field, values))
        _write_column(sheet, k, values, field, looks)
    _set_heights(sheet, spec, frame)
    _write_sums(sheet, spec, frame, looks)


def _set_heights(sheet: Any, spec: LayerSpec, frame: pd.DataFrame) -> None:
    """Make rows as high as the texts that wrap in them."""
    wrapped = [field for field in spec.fields if field.name in _WRAPPED]
    for row in range(len(frame) if wrapped else 0):
        texts = [(str(frame[f.name].iloc[row]), _width(f, frame[f.name])) for f in wrapped]
        if height := row_height(texts):
            sheet.set_row(row + 1, height)


def _write_column(sheet: Any, k: int, values: Any, field: Field, looks: dict[str, Any]) -> None:
    look = looks["wrap"] if field.name in _WRAPPED else looks[field.kind if field.kind != "bool" else "text"]
    write = (
        sheet.write_string
        if field.kind == "text"
        else sheet.write_datetime
        if field.kind == "date"
        else sheet.write_number
    )
    ready = values.astype(object) if field.kind == "date" else values.to_numpy()
    for row, (value, empty) in enumerate(zip(ready, pd.isna(values), strict=True), start=1):
        if not empty and not (field.kind == "float" and not np.isfinite(value)):
            write(row, k, value, look)


def _write_sums(sheet: Any, spec: LayerSpec, frame: pd.DataFrame, looks: dict[str, Any]) -> None:
    columns = _SUMMED.get(spec.name, ())
    if not columns or not len(frame):
        return
    row = len(frame) + 1
    sheet.write_string(row, 0, "Sum", looks["sum"])
    for name in columns:
        k = spec.columns.index(name)
        sheet.write_formula(row, k, f"=SUM({xl_range(1, k, row - 1, k)})", looks["sum"], float(frame[name].sum()))


def _print_grid(sheet: Any, months: int, title: str) -> None:
    """Have the grid print two years to a page, with the beds' names and the months on every page."""
    set_up_page(sheet, title=title)
    sheet.fit_page = False  # a page as wide as eight years could not be read
    sheet.set_print_scale(_GRID_SCALE)
    sheet.repeat_columns(0, 0)
    sheet.set_v_pagebreaks(range(_GRID_MONTHS + 1, months, _GRID_MONTHS))


def _write_grid(sheet: Any, frame: pd.DataFrame, looks: dict[str, Any], title: str) -> None:
    """Beds down, months across, the crops in the cells; free months stay empty."""
    grid = frame.pivot(index="bed", columns="month", values="crops").loc[frame["bed"].drop_duplicates()]
    sheet.freeze_panes(1, 1)
    sheet.set_column(0, 0, 14)
    sheet.set_column(1, grid.shape[1], 12)
    sheet.write_string(0, 0, "bed", looks["head"])
    _print_grid(sheet, grid.shape[1], title)
    for k, month in enumerate(pd.DatetimeIndex(grid.columns), start=1):
        sheet.write_datetime(0, k, month.to_pydatetime(), looks["date"])
    for row, (bed, cells) in enumerate(zip(grid.index, grid.to_numpy(), strict=True), start=1):
        sheet.write_string(row, 0, str(bed), looks["text"])
        for k, crops in enumerate(cells, start=1):
            if crops:
                sheet.write_string(row, k, crops, looks["text"])


def _write_meanings(sheet: Any, specs: list[LayerSpec], looks: dict[str, Any]) -> None:
    sheet.freeze_panes(1, 0)
    for k, (name, width) in enumerate((("sheet", 18), ("column", 20), ("unit", 10), ("meaning", 90))):
        sheet.write_string(0, k, name, looks["head"])
        sheet.set_column(k, k, width)
    rows = [(SHEETS[s.name], f.name, f.unit, f.description) for s in specs for f in s.fields]
    for row, cells in enumerate(rows, start=1):
        if height := row_height([(cells[3], 90)]):
            sheet.set_row(row, height)
        for k, cell in enumerate(cells):
            sheet.write_string(row, k, cell, looks["wrap"])


def _head(field: Field, currency: str) -> str:
    unit = currency if field.unit == "money" else field.unit
    said = unit in field.name.split("_")
    return f"{field.name} ({unit})" if unit and not said else field.name


def _width(field: Field, values: Any) -> float:
    if field.kind != "text":
        return 13
    longest = max((len(str(v)) for v in values.head(500)), default=8)
    return float(min(max(longest, len(field.name)) + 2, _WIDEST))
