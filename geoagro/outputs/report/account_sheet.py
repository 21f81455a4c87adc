"""The account as a spreadsheet: typed cells, and formulas for every sum."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

import xlsxwriter
from xlsxwriter.utility import xl_col_to_name, xl_rowcol_to_cell

from geoagro.outputs.report.cell_words import said
from geoagro.outputs.tables.cells import Table, account_tables
from geoagro.outputs.tables.column_words import head_words, unit_words
from geoagro.outputs.tables.printing import (
    column_width,
    name_table,
    number_letters,
    row_height,
    set_up_page,
    sheet_name,
    told_apart,
)
from geoagro.outputs.words.say import Words
from geoagro.reports.records.account import Account
from geoagro.values.words import say

_MADE = datetime(2000, 1, 1)  # a fixed day, so that the same account gives the same file
_WIDEST = 60
_MEANING_COLUMNS = (
    (say("Sheet"), 24),
    (say("Column"), 28),
    (say("Name in files"), 26),
    (say("Unit"), 18),
    (say("Meaning"), 90),
)

_SHEETS = {
    "account_parcels": say("Parcels"),
    "account_eligible": say("Eligible ground"),
    "account_conditions": say("Limits"),
    "account_species": say("Species"),
    "account_by_year": say("Trees by year"),
    "account_photos": say("Photos"),
    "account_surveyed": say("Who surveyed"),
    "account_indicators": say("Indicators"),
    "account_areas": say("Areas"),
    "account_crops": say("Crops"),
    "account_strata": say("Strata"),
    "account_zones": say("Zones"),
    "account_zone_crops": say("Zones by crop"),
    "account_rows": say("Rows"),
    "account_beds": say("Beds"),
    "account_uncertainty": say("Uncertainty"),
    "account_survival": say("Surveys"),
    "account_built": say("As built"),
    "account_found": say("As found"),
    "account_sources": say("Sources"),
    "account_parts": say("Parts of the field"),
    "row_summary": say("Rows by crop"),
    "layout_quality": say("Row quality"),
    "account_findings": say("Findings"),
}


@dataclass(frozen=True)
class Sheet:
    """A worksheet that holds one table: where its rows begin and end (counted from 0)."""

    name: str
    table: Table
    first: int
    last: int

    def column(self, name: str) -> int:
        """Place of a column."""
        return self.table.spec.columns.index(name)

    @property
    def quoted(self) -> str:
        """Its name within a formula."""
        return "'" + self.name.replace("'", "''") + "'"

    def span(self, name: str) -> str:
        """All values of a column, for a formula on another sheet."""
        letter = xl_col_to_name(self.column(name))
        return f"{self.quoted}!${letter}${self.first + 1}:${letter}${self.last + 1}"


def write_account_sheet(account: Account, words: Words, path: Path) -> None:
    """Write the workbook: a summary, one sheet per table with its sums, and the meaning of every column."""
    book = xlsxwriter.Workbook(str(path), {"strings_to_formulas": False, "strings_to_urls": False})
    book.set_properties({"title": account.name, "created": _MADE})
    looks = _Looks(book, account.name)
    front = book.add_worksheet(sheet_name(words(say("Summary")), book))
    sheets = {
        table.spec.name: _sheet(book, table, words(_SHEETS[table.spec.name]), words, looks)
        for table in account_tables(account)
        if table.rows
    }
    _summary(front, account, sheets, words, looks)
    _meanings(book, sheets, words, looks)
    book.close()


def write_table_book(title: str, tables: list[tuple[str, Table]], words: Words, path: Path) -> None:
    """Write tables under the names given, each with its sums as formulas, and the meaning of every column."""
    book = xlsxwriter.Workbook(str(path), {"strings_to_formulas": False, "strings_to_urls": False})
    book.set_properties({"title": title, "created": _MADE})
    looks = _Looks(book, title)
    sheets = {table.spec.name: _sheet(book, table, words(name), words, looks) for name, table in tables}
    _meanings(book, sheets, words, looks)
    book.close()


class _Looks:
    """Formats of cells, made once."""

    def __init__(self, book: Any, title: str) -> None:
        self.title_text = title
        self.title = book.add_format({"bold": True, "font_size": 14})
        self.head = book.add_format(
            {"bold": True, "text_wrap": True, "valign": "top", "bottom": 1, "bg_color": "#E9EEF0"}
        )
        self.head_of_numbers = book.add_format(
            {"bold": True, "text_wrap": True, "valign": "top", "bottom": 1, "bg_color": "#E9EEF0", "align": "right"}
        )
        self.text = book.add_format({"valign": "top", "text_wrap": True, "align": "left", "indent": 1})
        self._book, self._numbers = book, dict[tuple[int, bool], Any]()

    def number(self, decimals: int, *, total: bool = False) -> Any:
        """Give a number format with thousands marks and fixed decimals; totals are bold under a line."""
        key = (decimals, total)
        if key not in self._numbers:
            pattern = "#,##0" + ("." + "0" * decimals if decimals else "")
            more = {"bold": True, "top": 1} if total else {}
            self._numbers[key] = self._book.add_format({"num_format": pattern, "valign": "top", **more})
        return self._numbers[key]


def _sheet(book: Any, table: Table, name: str, words: Words, looks: _Looks) -> Sheet:
    page = book.add_worksheet(sheet_name(name, book))
    fields, rows = table.spec.fields, said(table, words)
    heads = _heads(table, words)
    number = [any(isinstance(row[k], (int, float)) for row in rows) for k in range(len(fields))]
    head_looks = [looks.head_of_numbers if one else looks.head for one in number]
    name_table(page, table.spec.name, heads, len(table.rows), head_looks)
    widths = [
        _width(head, [row[place] for row in rows], table.decimals(fields[place]), added=table.added_up(fields[place]))
        for place, head in enumerate(heads)
    ]
    set_up_page(page, title=looks.title_text, letters=sum(widths))
    if height := row_height(list(zip(heads, widths, strict=True))):
        page.set_row(0, height)
    for place, field in enumerate(fields):
        page.set_column(place, place, widths[place])
        for line, row in enumerate(rows, start=1):
            _cell(page, (line, place), row[place], looks, table.decimals(field))
    for line, row in enumerate(rows, start=1):
        texts = [(value, width) for value, width in zip(row, widths, strict=True) if isinstance(value, str)]
        if height := row_height(texts):
            page.set_row(line, height)
    page.freeze_panes(1, 1)
    sheet = Sheet(page.get_name(), table, 1, len(table.rows))
    if table.spec.name == "account_areas":
        _area_sums(page, sheet, looks)
    else:
        _column_sums(page, sheet, words, looks)
    return sheet


def _heads(table: Table, words: Words) -> list[str]:
    """Heads of all columns in this language, no two alike."""
    return told_apart([head_words(field, words) for field in table.spec.fields])


def _width(head: str, column: list[Any], decimals: int, *, added: bool) -> float:
    """Give room for the longest cell as it is shown, and for the sum below."""
    numbers = [float(value) for value in column if isinstance(value, (int, float))]
    texts = [len(value) for value in column if isinstance(value, str)]
    letters = [number_letters(value, decimals) for value in (*numbers, *([sum(numbers)] if added else []))]
    return column_width(head, max([*texts, *letters], default=0), most=_WIDEST)


def _cell(page: Any, at: tuple[int, int], value: Any, looks: _Looks, decimals: int) -> None:
    if isinstance(value, (int, float)):
        page.write_number(*at, value, looks.number(decimals))
    elif value is not None:
        page.write_string(*at, value, looks.text)


def _column_sums(page: Any, sheet: Sheet, words: Words, looks: _Looks) -> None:
    """Put a line of sums under the table, where a column's sum means something."""
    line, table = sheet.last + 1, sheet.table
    summed = [field for field in table.spec.fields if table.added_up(field)]
    for field in summed:
        place = sheet.column(field.name)
        span = f"{xl_rowcol_to_cell(sheet.first, place)}:{xl_rowcol_to_cell(sheet.last, place)}"
        page.write_formula(
            line, place, f"=SUM({span})", looks.number(table.decimals(field), total=True), table.total(field)
        )
    if summed and not table.added_up(table.spec.fields[0]):
        page.write_string(line, 0, words(say("Sum")), looks.number(0, total=True))


def _area_sums(page: Any, sheet: Sheet, looks: _Looks) -> None:
    """Write each area that has parts as the sum of its parts, and shares as formulas."""
    rows, columns = sheet.table.rows, sheet.table.spec.columns
    items = [row[0] for row in rows]
    for line, row in enumerate(rows, start=sheet.first):
        parts = [sheet.first + k for k, other in enumerate(rows) if other[1] == row[0]]
        for place in (columns.index(name) for name in ("area_m2", "ground_area_m2", "geodesic_area_m2")):
            if parts and row[place] is not None:
                formula = "=" + "+".join(xl_rowcol_to_cell(part, place) for part in parts)
                page.write_formula(line, place, formula, looks.number(1), row[place])
        area, share = columns.index("area_m2"), columns.index("field_pct")
        field = xl_rowcol_to_cell(sheet.first + items.index("field"), area, row_abs=True)
        if row[share] is not None:
            formula = f"=ROUND({xl_rowcol_to_cell(line, area)}/{field}*100,2)"
            page.write_formula(line, share, formula, looks.number(2), row[share])


def _summary(page: Any, account: Account, sheets: dict[str, Sheet], words: Words, looks: _Looks) -> None:
    set_up_page(page, title=account.name, head_rows=0)
    page.set_column(0, 0, 46)
    page.set_column(1, 1, 16)
    page.set_column(2, 2, 90)
    page.write_string(0, 0, account.name, looks.title)
    last = 1
    for line, (label, value, decimals, unit, formula) in enumerate(_summary_lines(account, sheets, words), start=2):
        page.write_string(line, 0, label, looks.text)
        if value is None:
            continue
        if formula:
            page.write_formula(line, 1, formula, looks.number(decimals), value)
        else:
            page.write_number(line, 1, value, looks.number(decimals))
        page.write_string(line, 2, unit, looks.text)
        last = line
    for line, caution in enumerate(account.cautions, start=last + 2):
        text = words(caution.text, **caution.values)
        page.write_string(line, 0, words(say("Caution")), looks.text)
        page.write_string(line, 2, text, looks.text)
        if height := row_height([(text, 90)]):
            page.set_row(line, height)


def _summary_lines(account: Account, sheets: dict[str, Sheet], words: Words) -> list[tuple[str, Any, int, str, str]]:
    head = account.headline
    areas, crops, rows = (sheets.get(f"account_{name}") for name in ("areas", "crops", "rows"))

    def area(item: str) -> str:
        assert areas is not None
        line = [row[0] for row in areas.table.rows].index(item) + areas.first
        return f"={areas.quoted}!{xl_rowcol_to_cell(line, areas.column('area_m2'))}"

    def total(sheet: Sheet | None, column: str) -> str:
        return f"=SUM({sheet.span(column)})" if sheet else ""

    geodesic = head.field_geodesic_m2
    return [
        (words(say("Planted area")), head.planted_m2, 1, "m²", total(crops, "share_area_m2")),
        (words(say("Trees")), head.trees, 0, "", total(rows, "trees")),
        (words(say("All planting points")), head.plants, 0, "", total(crops, "plants")),
        (words(say("Plants standing at once")), head.standing_at_once, 0, "", ""),
        (words(say("Planted in all, repeats included")), head.all_plantings, 0, "", total(crops, "all_plantings")),
        (words(say("Gross field")), head.field_m2, 1, "m²", area("field")),
        (words(say("Gross field on the ellipsoid")), geodesic, 1, "m²", ""),
        (words(say("Plantable ground")), head.plantable_m2, 1, "m²", area("plantable")),
        (words(say("Length of tree rows")), head.row_length_m, 1, "m", total(rows, "length_m")),
        (words(say("Crops")), head.crops, 0, "", ""),
        (words(say("Tree rows")), head.rows, 0, "", ""),
    ]


def _meanings(book: Any, sheets: dict[str, Sheet], words: Words, looks: _Looks) -> None:
    page = book.add_worksheet(sheet_name(words(say("Columns")), book))
    set_up_page(page, title=looks.title_text)
    for place, (head, width) in enumerate(_MEANING_COLUMNS):
        page.write_string(0, place, words(head), looks.head)
        page.set_column(place, place, width)
    lines = [
        (sheet.name, head, field.name, unit_words(field.unit, words), words(field.description))
        for sheet in sheets.values()
        for head, field in zip(_heads(sheet.table, words), sheet.table.spec.fields, strict=True)
    ]
    for line, cells in enumerate(lines, start=1):
        if height := row_height([(cell, width) for cell, (_, width) in zip(cells, _MEANING_COLUMNS, strict=True)]):
            page.set_row(line, height)
        for place, text in enumerate(cells):
            page.write_string(line, place, text, looks.text)
