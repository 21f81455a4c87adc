"""Cells of the workbooks show all that is in them: columns fit their contents in the language, texts wrap, heads and sums too."""

import math

import openpyxl
import pytest
import season_cases as cases
from openpyxl.utils import get_column_letter
from report_builders import laid_out

from geoagro.outputs.report.account_sheet import write_account_sheet
from geoagro.outputs.season.spreadsheet import write_day_sheet, write_sheet
from geoagro.outputs.words.say import Words
from geoagro.reports.account import account_for
from geoagro.values.report import ReportRule

LINE_PT = 15.0
DATE = len("2027-03-01")


def widths(sheet):
    """Width of each column in letters; a run of columns is kept as one by the format."""
    found = {}
    for dimension in sheet.column_dimensions.values():
        for k in range(dimension.min, dimension.max + 1):
            found[get_column_letter(k)] = dimension.width
    return found


def lines(text, width):
    """Lines that a text takes where words don't break, but for those that are longer than a line."""
    count, used = 1, 0
    for word in str(text).split(" "):
        pieces = math.ceil(len(word) / width)
        if used + len(word) + (used > 0) <= width:
            used += len(word) + (used > 0)
        else:
            count, used = count + (used > 0) + pieces - 1, len(word) - (pieces - 1) * width
    return count


def shown(cell):
    if isinstance(cell.value, (int, float)):
        decimals = len(cell.number_format.partition(".")[2])
        return f"{cell.value:,.{decimals}f}"
    return str(cell.value)


def cut(path):
    """Cells of which something doesn't show."""
    found = []
    for sheet in openpyxl.load_workbook(path, data_only=True):
        room = widths(sheet)
        for row in sheet.iter_rows():
            high = sheet.row_dimensions[row[0].row].height or LINE_PT
            for cell in row:
                if cell.value is None:
                    continue
                width = room.get(cell.column_letter, 8.43)
                text = cell.value if isinstance(cell.value, str) else None
                if text is None:
                    ok = (DATE if cell.is_date else len(shown(cell))) <= width - 0.5
                elif cell.alignment.wrap_text:
                    ok = lines(text, width - 1) * LINE_PT <= high
                    ok &= cell.row > 1 or max(map(len, text.split())) <= width - 2  # a head breaks between words
                else:
                    ok = len(text) <= width or (cell.row, cell.column) == (1, 1)
                if not ok:
                    found.append((sheet.title, cell.coordinate, width, high, shown(cell)))
    return found


@pytest.mark.parametrize("language", ["en", "es", "fr", "pt_BR"])
def test_workbooks_of_the_season(language, tmp_path):
    plan = cases.standard_plan()
    write_sheet(plan, tmp_path / "season.xlsx", Words(language))
    write_day_sheet(plan, tmp_path / "season_days.xlsx", Words(language))
    assert cut(tmp_path / "season.xlsx") == []
    assert cut(tmp_path / "season_days.xlsx") == []


@pytest.mark.parametrize("language", ["en", "es", "fr", "pt_BR"])
def test_workbook_of_the_field(language, tmp_path):
    account = account_for(laid_out(size_m=30.0), ReportRule())
    write_account_sheet(account, Words(language), tmp_path / "report.xlsx")
    assert cut(tmp_path / "report.xlsx") == []


def test_what_is_cut_is_found(tmp_path):
    book = openpyxl.Workbook()
    for row in (["Jours de plantation", 123456.0], ["x" * 40, -9876543210.0]):
        book.active.append(row)
    book.active["B2"].number_format = "#,##0.00"
    book.save(tmp_path / "a.xlsx")
    assert [at for _, at, *_ in cut(tmp_path / "a.xlsx")] == ["A2", "B2"]
