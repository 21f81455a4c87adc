"""No page of a report or a season plan is left nearly empty: text reaches down a quarter of the page at least."""

import pytest
import season_cases as cases
from page_texts import filled
from pypdf import PdfReader
from report_builders import laid_out

from geoagro.outputs.report import blocks as b
from geoagro.outputs.report.maps import MapData
from geoagro.outputs.report.pdf import document, typeset, write_report_pdf
from geoagro.outputs.season.charts import CHARTS
from geoagro.outputs.season.report import write_report
from geoagro.outputs.words.say import Words
from geoagro.reports.account import account_for
from geoagro.values.report import ReportRule

A_QUARTER = (20 + 259 / 4) / 297
"""Share of the page's height down to a quarter of the room between its margins."""
A_LINE = "What stands here is long enough to fill a line of the page from one margin to the other, and goes on. "
GREY_FILL = b"0.8 scn"  # how the charts below are painted
CHART = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 180 {high}"><rect width="180" height="{high}" fill="#ccc"/></svg>'


def pages_of(path):
    """How far down text reaches on each page; one with a picture (all here are a quarter high) counts as full."""
    pages = PdfReader(path).pages
    return [1.0 if has_picture(page) else share for page, share in zip(pages, filled(path), strict=True)]


def has_picture(page):
    return "/XObject" in page["/Resources"] or GREY_FILL in page.get_contents().get_data()


def set_report(folder, pieces):
    """Set pieces as a report's pages; how far down text reaches on each."""
    words = Words("en")
    whole = document(title="Invented", author=None, status_words="", rule=ReportRule(), words=words, blocks=pieces)
    typeset(whole, folder, folder / "report.pdf")
    return pages_of(folder / "report.pdf")


def table(rows, *, words=1):
    columns = [b.column("Row", align="left"), b.column("Words", align="left", width=1)]
    return b.grid(columns, [b.row([str(k), A_LINE * words]) for k in range(rows)])


@pytest.mark.parametrize("rows", range(126, 181, 6))
def test_the_end_of_a_long_table_joins_the_page_before(tmp_path, rows):
    pages = set_report(tmp_path, [b.heading("Rows"), table(rows), b.BREAK, b.heading("Sheet"), table(24)])
    assert len(pages) >= 3
    assert min(pages) > A_QUARTER, (rows, pages)


def test_a_large_picture_waits_while_text_flows_on(tmp_path):
    (tmp_path / "map.svg").write_text(CHART.format(high=220))
    picture = b.picture("map.svg", "The caption below.", head="Map", waits=True)
    lines = [b.paragraph(f"{k} {A_LINE}") for k in range(30)]
    pages = set_report(tmp_path, [b.heading("First"), *lines[:5], picture, *lines[5:]])
    assert len(pages) == 2
    assert filled(tmp_path / "report.pdf")[0] > 0.5


def test_a_table_higher_than_a_page_runs_on_whatever_the_number_of_its_rows(tmp_path):
    pages = set_report(tmp_path, [b.heading("Findings"), table(12, words=18)])
    assert len(pages) >= 2
    assert max(pages) < 0.95


@pytest.mark.parametrize("size_m", [30.0, 60.0])
def test_a_report_has_no_page_nearly_empty(tmp_path, size_m):
    laid, rule = laid_out(size_m=size_m), ReportRule()
    write_report_pdf(account_for(laid, rule), rule, MapData(laid, None, Words("en")), tmp_path / "report.pdf")
    pages = pages_of(tmp_path / "report.pdf")
    assert min(pages) > A_QUARTER, pages


@pytest.mark.parametrize("high", [60, 120, 215])
def test_a_season_plan_has_no_page_nearly_empty_whatever_the_height_of_its_chart_of_beds(tmp_path, high):
    for name in CHARTS:
        (tmp_path / f"{name}.svg").write_text(CHART.format(high=high if name == "season_beds" else 75))
    write_report(cases.standard_plan(), tmp_path, tmp_path / "season.pdf")
    pages = pages_of(tmp_path / "season.pdf")
    assert min(pages) > A_QUARTER, pages
