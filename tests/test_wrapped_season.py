"""With a made-up catalog that wraps every message, whatever a person reads of a season plan comes out wrapped."""

import re

import openpyxl
import pytest
import season_cases as cases
from bracketed_words import write_bracketed
from builders import UTM
from french_marks import against_the_rule
from icalendar import Calendar
from matplotlib.text import Text
from page_texts import page_texts
from viewer_texts import shown

from geoagro.cli.season_summary import season_summary
from geoagro.outputs.season.charts import CHARTS
from geoagro.outputs.season.files import write_season
from geoagro.outputs.season.ics import season_calendar
from geoagro.outputs.season.names import Names
from geoagro.outputs.season.report_data import report_data
from geoagro.outputs.words.say import Words

PLAN = cases.standard_plan()
WORD = re.compile(r"[^\W\d_]{3,}")
KEYS = set(PLAN.figures["key"])
OWN = sorted(
    {*map(str, PLAN.calendar["planting"]), "Lemon", *(c.caution for c in cases.CROPS.values() if c.caution)} - {""}
)
BARE = re.compile(
    "|".join(re.escape(text) for text in sorted(OWN, key=len, reverse=True)) + "|"  # what this plan calls its own
    r"R\d{3}-\w+"  # names of beds and rows
    r"|\(EUR\)|\bEUR\b"  # the design's own currency
    r"|\bpert\b|\btriangular\b"  # kinds of distribution, as the design writes them
)


@pytest.fixture(scope="module")
def words(tmp_path_factory):
    """Swedish, so that days and months in numbers differ from English, with marks round every message."""
    return Words("sv", catalogs=write_bracketed(tmp_path_factory.mktemp("wrapped"), "sv", "⟦⟧"))


@pytest.fixture(scope="module")
def folder(words, tmp_path_factory):
    folder = tmp_path_factory.mktemp("season")
    write_season(PLAN, cases.field()[0], UTM, folder, words=words)
    return folder


def bare(text, words):
    """What is left with words in it once wrapped parts, days by the locale, and names of the design are taken out."""
    left = text
    while (inner := re.sub(r"⟦[^⟦⟧]*⟧", "", left)) != left:
        left = inner
    named = [words.month_name(day) for day in PLAN.cash["month"].iloc[:12]]
    named += words.locale.days["format"]["abbreviated"].values()
    left = re.sub("|".join(map(re.escape, sorted(named, key=len, reverse=True))), "", BARE.sub("", left))
    return left.strip() if WORD.search(left) else ""


def texts_of(data):
    if isinstance(data, str):
        yield data
    elif isinstance(data, dict):
        for key, value in data.items():
            if key not in {"language", "region", "level", "title", "align", "currency", "page_words"}:
                yield from texts_of(value)
    elif isinstance(data, list):
        for value in data:
            yield from texts_of(value)


def test_what_the_season_report_prints_is_translated(words):
    data = report_data(PLAN, words)
    cited = {str(source) for source in PLAN.rates["source"]}  # works cited are named as they are called
    found = {text: left for text in texts_of(data) if (left := bare(text, words)) and text not in cited}
    assert not found, found


def test_every_cell_of_the_spreadsheets_is_translated(folder, words):
    found, cited = set(), {str(source) for source in PLAN.rates["source"]}
    for name in ("season.xlsx", "season_days.xlsx"):
        for sheet in openpyxl.load_workbook(folder / name, data_only=True):
            kept = 3 if sheet.title == sheet.parent.sheetnames[-1] else 0  # names in files
            for row in sheet.iter_rows():
                for cell in row:
                    skipped = cell.column == kept or cell.value in cited or cell.value in KEYS
                    if isinstance(cell.value, str) and not skipped and (left := bare(cell.value, words)):
                        found.add((sheet.title, cell.column_letter, left))
    assert not found, sorted(found)[:40]


def test_every_event_of_the_calendar_is_translated(folder, words):
    events = Calendar.from_ical((folder / "season.ics").read_bytes()).walk("VEVENT")
    lines = [line for event in events for line in f"{event['summary']}\n{event['description']}".split("\n")]
    assert lines
    found = {left for line in lines if (left := bare(line, words))}
    assert not found, sorted(found)[:20]


@pytest.mark.parametrize("name", CHARTS)
def test_every_word_of_the_charts_is_translated(name, words):
    figure = CHARTS[name](Names(PLAN, words))
    figure.draw_without_rendering()
    texts = [text.get_text() for text in figure.findobj(Text) if text.get_visible()]
    assert len(texts) > 3
    found = {left for text in texts if (left := bare(text, words))}
    assert not found, found


def test_what_the_command_says_is_translated(words):
    text = season_summary(PLAN, [], words)
    assert text.count("\n") > 20
    assert bare(" ".join(text.replace(PLAN.name, "").split()), words) == ""


def test_pages_are_set_with_translated_words(folder):
    pages = "".join(page_texts(folder / "season.pdf"))
    assert pages.count("⟦") > 500


def test_what_a_viewer_shows_of_the_season_is_said(folder, words):
    texts = list(shown(folder / "season.gpkg"))
    assert len(texts) > 100
    assert [
        (where, text) for where, text in texts if bare(text, words) and "meaning of season_bed_map" not in where
    ] == []


def test_texts_that_are_put_together_have_french_marks_too():
    """What joins two texts is said like any other text: "Note : maïs", never "Note: maïs"."""
    words = Words("fr")
    sources = [str(source).split(" (range")[0] for source in PLAN.rates["source"]]
    cited = [*sources, *(source.split("; setting")[0].split("; other")[0] for source in sources), *OWN]
    texts = [*texts_of(report_data(PLAN, words)), re.sub("\n *", " ", season_summary(PLAN, [], words))]
    events = Calendar.from_ical(season_calendar(PLAN, words).to_ical()).walk("VEVENT")
    texts += [line for event in events for line in f"{event['summary']}\n{event['description']}".split("\n")]
    assert sum("\u00a0:" in text for text in texts) > 100
    said = (re.sub("|".join(map(re.escape, sorted(cited, key=len, reverse=True))), "", text) for text in texts)
    assert {
        text: wrong for text in said if (wrong := against_the_rule(text, "`season.free_beds: {cover: auto}`"))
    } == {}
