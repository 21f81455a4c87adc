"""Spreadsheets as they come out of a printer: across, as wide as a page, heads repeated, tables named and filtered."""

import math
from datetime import datetime

import builders
import openpyxl
import pytest
import season_cases as cases
from report_builders import laid_out

from geoagro.outputs.report.account_sheet import write_account_sheet
from geoagro.outputs.season.spreadsheet import write_day_sheet, write_sheet
from geoagro.outputs.tables.cells import account_tables
from geoagro.outputs.words.say import Words
from geoagro.reports.account import account_for
from geoagro.season.records.tables import BED_MONTHS
from geoagro.values.report import ReportRule

PLAN = cases.standard_plan()


@pytest.fixture(scope="module")
def books(tmp_path_factory):
    folder = tmp_path_factory.mktemp("sheets")
    account = account_for(laid_out(size_m=30.0), ReportRule(), terrain=builders.plane(size_m=30.0))
    write_account_sheet(account, Words("en"), folder / "report.xlsx")
    write_sheet(PLAN, folder / "season.xlsx")
    write_day_sheet(PLAN, folder / "season_days.xlsx")
    return account, {path.name: openpyxl.load_workbook(path, data_only=True) for path in folder.iterdir()}


def test_every_sheet_lies_across_is_as_wide_as_can_be_read_and_repeats_its_head(books):
    for name, book in books[1].items():
        for sheet in book:
            place = f"{name} {sheet.title}"
            assert sheet.page_setup.orientation == "landscape", place
            assert sheet.page_setup.paperSize == 9, place  # A4
            assert "&P" in sheet.oddFooter.right.text, place
            if sheet.title == "Beds by month":
                assert sheet.print_title_cols == "$A:$A" and sheet.print_title_rows == "$1:$1"
                continue
            assert sheet.sheet_properties.pageSetUpPr.fitToPage, place
            assert sheet.page_setup.fitToHeight == 0, place  # as many pages long as needed; width 1 is the default
            wide = sum((one.width - 0.71) * (one.max - one.min + 1) for one in sheet.column_dimensions.values())
            across = sheet.page_setup.fitToWidth or 1  # a wide sheet goes on beside, its first column on each page
            assert across == max(1, math.ceil(round(wide, 1) / 230)), (place, wide)
            assert across == 1 or sheet.print_title_cols == "$A:$A", place
            assert sheet.title == "Summary" or sheet.print_title_rows == "$1:$1", place


def test_every_table_has_a_name_of_its_own_a_filter_and_all_its_rows(books):
    account, found = books
    rows = {table.spec.name: len(table.rows) for table in account_tables(account)}
    rows |= {spec.name: len(frame) for spec, frame in PLAN.tables() if spec is not BED_MONTHS}
    seen = {}
    for book in found.values():
        for sheet in book:
            for table in sheet.tables.values():
                assert table.name not in seen
                assert table.autoFilter.ref == table.ref
                top, bottom = (int("".join(c for c in end if c.isdigit())) for end in table.ref.split(":"))
                assert top == 1
                seen[table.name] = bottom - top
    assert seen == {name: count for name, count in rows.items() if count}


def test_numbers_and_days_are_numbers_and_days(books):
    """No cell of a column declared as number holds text, the line of sums aside."""
    specs = {spec.name: spec for spec, _ in PLAN.tables()} | {t.spec.name: t.spec for t in account_tables(books[0])}
    wanted = {"int": int | float, "float": int | float, "date": datetime}
    checked = 0
    for book in books[1].values():
        for sheet in book:
            for name, reference in sheet.tables.items():
                for field, cells in zip(specs[name].fields, zip(*sheet[reference], strict=True), strict=True):
                    if field.kind in wanted:
                        values = [cell.value for cell in cells[1:] if cell.value is not None]
                        assert all(isinstance(value, wanted[field.kind]) for value in values), (name, field.name)
                        checked += len(values)
    assert checked > 1000


def test_rows_are_as_high_as_the_texts_that_wrap_in_them(books):
    """Printed without a screen, a row keeps the height it was given: 15 points a line."""
    found = 0
    for book in books[1].values():
        for sheet in book:
            for cells in sheet.iter_rows(min_row=2):
                for cell in cells:
                    if cell.alignment.wrap_text and isinstance(cell.value, str):
                        width = sheet.column_dimensions[cell.column_letter].width
                        if len(cell.value) > width:
                            height = sheet.row_dimensions[cell.row].height or 15.0
                            assert height >= 15.0 * len(cell.value) / width - 1e-6, (sheet.title, cell.coordinate)
                            found += 1
    assert found >= 10
