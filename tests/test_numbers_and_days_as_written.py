"""Thousands are set apart and days written out as the reader's language has them, on the pages of every product.

Witness: the CLDR tables of babel. Codes, checksums and coordinates keep their digits together: they are typed elsewhere.
"""

import re

import pytest
import season_cases as cases
from babel.numbers import format_decimal
from builders import EAST, NORTH, plane, square_site, straight_beds, straight_rows
from pypdf import PdfReader
from report_builders import laid_out

from geoagro.outputs.report.maps import MapData
from geoagro.outputs.report.pdf import write_report_pdf
from geoagro.outputs.season.charts import CHARTS
from geoagro.outputs.season.rate_names import ITEMS, MONEY_UNITS, UNITS
from geoagro.outputs.season.report import write_report
from geoagro.outputs.season.report_data import report_data
from geoagro.outputs.stakes.files import write_stakes
from geoagro.outputs.words.say import CATALOGS, Words
from geoagro.reports.account import account_for
from geoagro.stakeout.stake_out import stake_out
from geoagro.values.report import ReportRule
from geoagro.values.stakeout import StakeRule

LANGUAGES = ["en", *sorted(path.stem for path in CATALOGS.glob("*.po"))]
CHART = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 4"><rect width="9" height="4"/></svg>'
DAY = re.compile(r"\b\d{4}-\d{2}-\d{2}\b")
TOGETHER = re.compile(r"(?<![\d.,:\u202f\u00a0])\d{4,}(?![\d\u202f])")
CODES = re.compile(r"EPSG:\d+|[EN] \d{6,7}|\b(?=[a-f\d]*[a-f])[a-f\d]{16}\b|[A-Za-z]+\d+[A-Za-z]*")
A_YEAR = re.compile(r"(?:19|20)\d\d$")


def text_of(path):
    return " ".join(page.extract_text() for page in PdfReader(path).pages)


def is_coordinate(number):
    """Tell whether a number stands for a line of the grid on a block sheet."""
    return min(abs(number - EAST), abs(number - NORTH)) < 500


def bare_numbers(text, language):
    """Numbers of four figures and more without a mark between thousands, but for years and codes."""
    found = [n for n in TOGETHER.findall(CODES.sub(" ", text)) if not A_YEAR.match(n) and not is_coordinate(int(n))]
    return [n for n in found if format_decimal(int(n), locale=language) != n]


@pytest.fixture(scope="module", params=LANGUAGES)
def pages(request, tmp_path_factory):
    """Text of the report, the season plan and the sheets of stakes in a language."""
    language, folder = request.param, tmp_path_factory.mktemp(request.param)
    words = Words(language)
    laid, rule = laid_out(size_m=60.0), ReportRule()
    account = account_for(laid, rule)
    write_report_pdf(account, rule, MapData(laid, None, words), folder / "report.pdf")
    for name in CHARTS:
        (folder / f"{name}.svg").write_text(CHART)
    plan = cases.standard_plan()
    write_report(plan, folder, folder / "season.pdf", words)
    rows, stake_rule = straight_rows(size_m=60.0, spacing_m=5.0), StakeRule()
    stakes = stake_out(rows, straight_beds(rows), square_site(), plane(), stake_rule)
    write_stakes(stakes, rows, square_site(), stake_rule, folder, words=words)
    names = ("report", "season", "sheets", "procedure", "pocket_list")
    return language, account, {name: text_of(folder / f"{name}.pdf") for name in names}


def test_thousands_are_set_apart_on_every_page(pages):
    language, account, texts = pages
    assert {name: bare_numbers(text, language) for name, text in texts.items()} == {name: [] for name in texts}
    told = format_decimal(account.headline.standing_at_once, locale=language)
    assert len(told) > 4
    assert re.sub(r"\s", " ", told) in re.sub(r"\s", " ", texts["report"])


def test_no_day_is_written_as_programs_write_it(pages):
    _, _, texts = pages
    assert {name: DAY.findall(text) for name, text in texts.items()} == {name: [] for name in texts}


@pytest.mark.parametrize(
    ("language", "told"), [("en", "1,234"), ("es", "12.345"), ("fr", "1\u202f234"), ("pt_BR", "1.234")]
)
def test_the_search_for_bare_numbers_finds_them(language, told):
    assert bare_numbers(f"{told} plants in 2027, EPSG:32633, N 6680120", language) == []
    assert bare_numbers("rows 12345", language) == ["12345"]


def test_the_range_behind_a_rates_source_is_said_in_the_language_too():
    plan = cases.standard_plan()
    ranged = [str(text) for text in plan.rates["source"] if " (range " in str(text)]
    assert ranged
    rows = report_data(plan, Words("es"))["rates"]["rows"]
    assert not [row for row in rows if "(range" in row[-1]]
    assert any("(rango 0,0" in row[-1] for row in rows)


def test_every_rate_has_words_for_what_it_is_and_for_its_unit():
    plan = cases.standard_plan()
    assert set(plan.rates["item"]) <= set(ITEMS)
    assert set(plan.rates["unit"]) - {"", "%"} <= {*UNITS, *MONEY_UNITS}  # a sign needs no words
    assert {"yield in company", "x yield in company"} <= {*ITEMS, *UNITS}
