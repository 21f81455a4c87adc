"""Each account and portfolio in a made-up language in which every message is bracketed: no other word is left."""

import re
from dataclasses import replace

import openpyxl
import pytest
from page_texts import page_texts
from report_builders import laid_out
from test_every_word_is_translated import bare, words  # noqa: F401

from geoagro.beds import room
from geoagro.outputs.portfolio.files import portfolio_blocks, write_portfolio
from geoagro.outputs.report.account_sheet import write_account_sheet
from geoagro.outputs.report.cell_words import said
from geoagro.outputs.report.maps import MapData
from geoagro.outputs.report.pages import Pictures, report_blocks
from geoagro.outputs.tables.cells import account_tables
from geoagro.reports.account import account_for
from geoagro.reports.portfolio import portfolio_for
from geoagro.rows import quality_table
from geoagro.values.layout import LAYOUT_QUALITY
from geoagro.values.measures import Measures, Quantity
from geoagro.values.report import ReportRule

OF_THE_USER = {"crop", "bed", "plot", "survey", "rule", "broken", "scientific", "provenance", "crs", "field", "about"}
# names and sources of the fixture, works cited
OWN = re.compile(
    r"Bitter root|Hill plum|Salad|Shade alder|Poisonous raw; peel and boil|Prunus inventa|a plane built by a test|Hill 1973; Jost 2006|(?:ab){8}|geoagro|1 polygon|#[0-9a-f]{6}"
)
FOR_PROGRAMS = {"indicator", "unit", "value", "source", "sha256", "figure", "measure", "key"}


@pytest.fixture(scope="module")
def account():
    """Of a layout as it is read: plain texts, every measure of rows and beds among them."""
    every = [q for q in (*vars(quality_table).values(), *vars(room).values()) if isinstance(q, Quantity)]
    quality = Measures(tuple(q.is_(0.5, at=4.0) for q in every)).frame(LAYOUT_QUALITY)
    plain = quality.map(lambda cell: "".join(cell) if isinstance(cell, str) else cell)
    return account_for(replace(laid_out(), quality=plain), ReportRule())


def test_every_cell_of_the_account_is_said(account, words):  # noqa: F811
    found = set()
    for table in account_tables(account):
        for row in said(table, words):
            for field, value in zip(table.spec.fields, row, strict=True):
                if isinstance(value, str) and field.name not in OF_THE_USER | FOR_PROGRAMS and bare(OWN.sub("", value)):
                    found.add((table.spec.name, field.name, value))
    assert not found, sorted(found)


def test_blocks_of_the_report_are_said(account, words):  # noqa: F811
    pictures = Pictures("cover.svg", "overview.svg", None, (), 0, "")
    found = set()
    for text in _texts(report_blocks(account, ReportRule(), words, pictures)):
        if bare(OWN.sub("", text)):
            found.add(text)
    assert not found, sorted(found)


def test_names_of_sheets_heads_and_meanings_are_said(account, words, tmp_path):  # noqa: F811
    write_account_sheet(account, words, tmp_path / "report.xlsx")
    assert _bare_cells(tmp_path / "report.xlsx") == []


@pytest.fixture(scope="module")
def portfolio(words, tmp_path_factory):  # noqa: F811
    folder = tmp_path_factory.mktemp("portfolio")
    laids = [laid_out(size_m=size, name=name) for size, name in ((40.0, "Invented Hill"), (30.0, "geoagro"))]
    accounts = [account_for(laid, ReportRule()) for laid in laids]
    maps = [MapData(laid, None, words) for laid in laids]
    together = portfolio_for(accounts)
    write_portfolio(together, ReportRule(), maps, folder, title="geoagro", words=words)
    return folder, together


def test_pages_of_a_portfolio_are_said(portfolio, words):  # noqa: F811
    blocks = portfolio_blocks(portfolio[1], ReportRule(), "geoagro", words, drawn=True)
    assert [text for text in _texts(blocks) if bare(OWN.sub("", text))] == []
    assert "«" in page_texts(portfolio[0] / "portfolio.pdf")[0]


def test_the_workbook_of_a_portfolio_is_said(portfolio):
    assert _bare_cells(portfolio[0] / "portfolio.xlsx") == []


def _bare_cells(path):
    """Words outside brackets in names of sheets, heads and the sheet of meanings, where names in files are left out."""
    book, found = openpyxl.load_workbook(path, data_only=True), []
    for sheet in book:
        is_last = sheet.title == book.sheetnames[-1]
        cells = [cell for row in sheet.iter_rows(max_row=None if is_last else 1) for cell in row]
        texts = [sheet.title, *(str(c.value) for c in cells if c.value and not (is_last and c.column == 3))]
        found += [(sheet.title, text) for text in texts if bare(OWN.sub("", text))]
    return found


def _texts(data):
    """All texts of blocks that are printed: what is no name of a kind, a side or a picture."""
    if isinstance(data, str) and data not in {"auto", "share", "overview.svg", "outlines.svg"}:
        yield data
    elif isinstance(data, dict):
        for key, value in data.items():
            if key not in {"kind", "align", "map", "path", "name", "level", "width"}:
                yield from _texts(value)
    elif isinstance(data, list | tuple):
        for value in data:
            yield from _texts(value)
