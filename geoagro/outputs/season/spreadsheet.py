"""The season plan as a spreadsheet: typed cells, one sheet per table, sums as formulas."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import xlsxwriter
from xlsxwriter.utility import xl_range

from geoagro.outputs.season.names import Names
from geoagro.outputs.tables.column_words import head_of, unit_words
from geoagro.outputs.tables.printing import (
    column_width,
    name_table,
    number_letters,
    row_height,
    set_up_page,
    sheet_name,
)
from geoagro.outputs.words.say import ENGLISH, Words
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
from geoagro.values.words import say

_MADE = datetime(2000, 1, 1)  # a fixed day, so that the same plan gives the same file
_MOST_ROWS = 1_000_000  # of 1,048,576 that a sheet can hold
_WIDEST = 70
_AS_THEY_ARE = ("key", "bed", "beds")  # names for programs, and of beds
_MEANING_COLUMNS = (
    (say("Sheet"), 24),
    (say("Column"), 28),
    (say("Name in files"), 26),
    (say("Unit"), 18),
    (say("Meaning"), 90),
)
_GRID_MONTHS, _GRID_SCALE, _GRID_WIDTH = (
    24,
    46,
    12,
)  # months to a page of the grid, the percentage at which they fit, letters of a month

SHEETS = {
    FIGURES.name: say("Key figures"),
    FINDINGS.name: say("Findings"),
    MATERIAL.name: say("Material"),
    MATERIAL_DAYS.name: say("Planting days"),
    ORDERS.name: say("Orders"),
    CALENDAR.name: say("Calendar"),
    SPELLS.name: say("Days of work"),
    BED_TASKS.name: say("Calendar by bed"),
    DAYS.name: say("Work by day"),
    WEEKS.name: say("Work by week"),
    LABOUR.name: say("Work by month"),
    YIELDS.name: say("Harvest"),
    CASH.name: say("Money by month"),
    YEARS.name: say("Years"),
    SENSITIVITY.name: say("What matters most"),
    BED_MONTHS.name: say("Beds by month"),
    FREE_BEDS.name: say("Free beds"),
    NUTRIENTS.name: say("Nutrients"),
    WOOD.name: say("Wood"),
    BY_ZONE.name: say("By zone"),
    RATES.name: say("Rates"),
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


def write_sheet(plan: SeasonPlan, path: Path, words: Words = ENGLISH) -> None:
    """Write the workbook that is for printing: all but the tables with a line for every day or bed."""
    tables = [(spec, frame) for spec, frame in plan.tables() if spec.name not in DAY_BY_DAY]
    write_tables(tables, Names(plan, words), path)


def write_day_sheet(plan: SeasonPlan, path: Path, words: Words = ENGLISH) -> None:
    """Write the workbook of days and beds, to be filtered; beds by month stand as a grid of beds and months."""
    tables = [(spec, frame) for spec, frame in plan.tables() if spec.name in DAY_BY_DAY]
    write_tables(tables, Names(plan, words), path)


def write_tables(tables: list[tuple[LayerSpec, Any]], names: Names, path: Path) -> None:
    """Write tables, each to its sheet, and the meaning of every column to the last one."""
    title, words = names.plan.name, names.words
    book = xlsxwriter.Workbook(str(path), {"strings_to_formulas": False, "strings_to_urls": False})
    book.set_properties({"title": title, "created": _MADE})
    looks = _looks(book)
    for spec, frame in tables:
        sheet = book.add_worksheet(sheet_name(words(SHEETS[spec.name]), book))
        if spec is BED_MONTHS:
            _write_grid(sheet, frame, looks, names)
        elif len(frame) > _MOST_ROWS:
            too_many = say("{n} rows are too many for a sheet; see table {table} in season.gpkg.")
            sheet.write_string(0, 0, words(too_many, n=len(frame), table=spec.name))
        else:
            _write_table(sheet, spec, said(spec, frame, names), looks, names)
    meanings = book.add_worksheet(sheet_name(words(say("Columns")), book))
    _write_meanings(meanings, [spec for spec, _ in tables], looks, words)
    set_up_page(meanings, title=title)
    book.close()


def _looks(book: Any) -> dict[str, Any]:
    return {
        "head": book.add_format({"bold": True, "text_wrap": True, "valign": "top", "bottom": 1, "bg_color": "#e9eeee"}),
        "head_of_numbers": book.add_format(
            {"bold": True, "text_wrap": True, "valign": "top", "bottom": 1, "bg_color": "#e9eeee", "align": "right"}
        ),
        "month": book.add_format(
            {"bold": True, "num_format": "mmm yyyy", "align": "left", "bottom": 1, "bg_color": "#e9eeee"}
        ),
        "text": book.add_format({"valign": "top", "align": "left", "indent": 1}),
        "int": book.add_format({"num_format": "#,##0", "valign": "top"}),
        "float": book.add_format({"num_format": "#,##0.00", "valign": "top"}),
        "date": book.add_format({"num_format": "yyyy-mm-dd", "valign": "top", "align": "left", "indent": 1}),
        "sum": book.add_format({"num_format": "#,##0.00", "bold": True, "top": 1}),
        "wrap": book.add_format({"text_wrap": True, "valign": "top", "align": "left", "indent": 1}),
    }


def _write_table(sheet: Any, spec: LayerSpec, frame: pd.DataFrame, looks: dict[str, Any], names: Names) -> None:
    sheet.freeze_panes(1, 0)
    heads = [_head(field, names) for field in spec.fields]
    head_looks = [looks["head_of_numbers" if field.kind in ("int", "float") else "head"] for field in spec.fields]
    name_table(sheet, spec.name, heads, len(frame), head_looks)
    widths = [
        _width(head, field, frame[field.name], added=field.name in _SUMMED.get(spec.name, ()))
        for head, field in zip(heads, spec.fields, strict=True)
    ]
    if height := row_height(list(zip(heads, widths, strict=True))):
        sheet.set_row(0, height)
    for k, (field, width) in enumerate(zip(spec.fields, widths, strict=True)):
        sheet.set_column(k, k, width)
        _write_column(sheet, k, frame[field.name], field, looks, wraps=width >= _WIDEST)
    _set_heights(sheet, spec, frame, widths)
    _write_sums(sheet, spec, frame, looks, names.words)
    set_up_page(sheet, title=names.plan.name, letters=sum(widths))


def _set_heights(sheet: Any, spec: LayerSpec, frame: pd.DataFrame, widths: list[float]) -> None:
    """Make rows as high as the texts that wrap in them."""
    wrapped = [(f.name, width) for f, width in zip(spec.fields, widths, strict=True) if width >= _WIDEST]
    for row in range(len(frame) if wrapped else 0):
        if height := row_height([(str(frame[name].iloc[row]), width) for name, width in wrapped]):
            sheet.set_row(row + 1, height)


def _write_column(sheet: Any, k: int, values: Any, field: Field, looks: dict[str, Any], *, wraps: bool) -> None:
    look = looks["wrap"] if wraps else looks[field.kind if field.kind != "bool" else "text"]
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


def _write_sums(sheet: Any, spec: LayerSpec, frame: pd.DataFrame, looks: dict[str, Any], words: Words) -> None:
    columns = _SUMMED.get(spec.name, ())
    if not columns or not len(frame):
        return
    row = len(frame) + 1
    sheet.write_string(row, 0, words(say("Sum")), looks["sum"])
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


def _write_grid(sheet: Any, frame: pd.DataFrame, looks: dict[str, Any], names: Names) -> None:
    """Beds down, months across, the crops in the cells; free months stay empty."""
    grid = frame.pivot(index="bed", columns="month", values="crops").loc[frame["bed"].drop_duplicates()]
    sheet.freeze_panes(1, 1)
    sheet.set_column(0, 0, 14)
    words = [word for crops in set(frame["crops"]) if crops for word in names.crops(crops).split()]
    width = max(_GRID_WIDTH, *(len(word) + 3 for word in words))
    sheet.set_column(1, grid.shape[1], width)
    sheet.write_string(0, 0, names.words(say("Bed")), looks["head"])
    _print_grid(sheet, grid.shape[1], names.plan.name)
    for k, month in enumerate(pd.DatetimeIndex(grid.columns), start=1):
        sheet.write_datetime(0, k, month.to_pydatetime(), looks["month"])
    for row, (bed, cells) in enumerate(zip(grid.index, grid.to_numpy(), strict=True), start=1):
        sheet.write_string(row, 0, str(bed), looks["text"])
        told = [names.crops(crops) if crops else "" for crops in cells]
        if height := row_height([(text, width) for text in told]):
            sheet.set_row(row, height)
        for k, text in enumerate(told, start=1):
            if text:
                sheet.write_string(row, k, text, looks["wrap"])


def _write_meanings(sheet: Any, specs: list[LayerSpec], looks: dict[str, Any], words: Words) -> None:
    sheet.freeze_panes(1, 0)
    for k, (name, width) in enumerate(_MEANING_COLUMNS):
        sheet.write_string(0, k, words(name), looks["head"])
        sheet.set_column(k, k, width)
    rows = [
        (words(SHEETS[s.name]), words(head_of(f)), f.name, unit_words(f.unit, words), words(f.description))
        for s in specs
        for f in s.fields
    ]
    for row, cells in enumerate(rows, start=1):
        if height := row_height([(cell, width) for cell, (_, width) in zip(cells, _MEANING_COLUMNS, strict=True)]):
            sheet.set_row(row, height)
        for k, cell in enumerate(cells):
            sheet.write_string(row, k, cell, looks["wrap"])


def _head(field: Field, names: Names) -> str:
    if not field.unit:
        return names.words(head_of(field))
    unit = names.plan.rule.currency if field.unit in ("money", "currency") else unit_words(field.unit, names.words)
    return f"{names.words(head_of(field))} ({unit})"


def said(spec: LayerSpec, frame: pd.DataFrame, names: Names) -> pd.DataFrame:
    """Say the texts of a table in the reader's language; numbers and days stay."""
    texts = [field.name for field in spec.fields if field.kind == "text" and field.name not in _AS_THEY_ARE]
    told = {name: [names.cell(name, text) if text else text for text in frame[name].fillna("")] for name in texts}
    return frame.assign(**told)


def _width(head: str, field: Field, values: Any, *, added: bool) -> float:
    """Give room for the longest cell as it is shown, and for the sum below."""
    if field.kind in ("int", "float"):
        numbers = values[np.isfinite(values.astype(float))].astype(float)
        ends = [numbers.min(), numbers.max(), numbers.sum() if added else 0.0] if len(numbers) else []
        longest = max(
            (number_letters(float(one), 2 if added or field.kind == "float" else 0) for one in ends), default=0
        )
    else:
        texts = values.fillna("").astype(str).str.len()
        longest = 10 if field.kind == "date" else int(texts.max()) if len(texts) else 0
    return column_width(head, longest, most=_WIDEST)
