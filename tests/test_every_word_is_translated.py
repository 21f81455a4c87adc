"""Each product in a made-up language in which every message is bracketed: a word outside brackets can't be translated."""

import json
import re
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import pytest
from babel import Locale
from bracketed_words import write_bracketed
from matplotlib.text import Text
from page_texts import page_texts
from report_builders import laid_out

from geoagro import (
    bed_light_of,
    bed_sheets_of,
    example_field,
    example_layout,
    lay_out,
    read_crop_library,
    recipe_of,
    recipe_yields_of,
    rows_of,
    stakes_of,
    write_stakes,
)  # fmt: skip
from geoagro.cli.hand.compare import options_summary
from geoagro.outputs.beds.cover_chart import draw_cover
from geoagro.outputs.beds.picture import draw_bed
from geoagro.outputs.layout.light_chart import draw_light
from geoagro.outputs.layout.picture import draw_layout
from geoagro.outputs.map import page as page_module
from geoagro.outputs.map.page import write_map_page
from geoagro.outputs.options.page import draw_page
from geoagro.outputs.report.maps import MapData
from geoagro.outputs.rows.difficulty_picture import draw_difficulty
from geoagro.outputs.rows.picture import draw_plan
from geoagro.outputs.water.picture import WaterMap, draw_water
from geoagro.outputs.words.say import Words
from geoagro.pipeline.options import figures_compared
from geoagro.reports.account import account_for
from geoagro.values.report import ReportRule
from geoagro.values.results.options import OptionResult
from geoagro.values.rules.water import WaterRule
from geoagro.water.analysis import water_on_rows

WORD = re.compile(r"[^\W\d_]{3,}")
MONTHS = set(Locale("eo").months["format"]["abbreviated"].values())  # by the locale's own data
# the design's name, names of files and systems, which are the same in every language
NAMES = re.compile(
    r"\b(example|field|Invented Hill|\w+\.(csv|gpx|kml|geojson|dxf|gpkg|pdf|png)|EPSG|[RBC]\d+\S*)\b", re.IGNORECASE
)


@pytest.fixture(scope="module")
def words(tmp_path_factory):
    folder = write_bracketed(tmp_path_factory.mktemp("made_up"))
    return Words("eo", catalogs=folder)


@pytest.fixture(scope="module")
def laid():
    return lay_out(*example_field(), read_crop_library())


def bare(text):
    """Words that stand outside all brackets."""
    depth, outside = 0, []
    for sign in text:
        depth += (sign == "«") - (sign == "»")
        outside.append(sign if depth <= 0 and sign not in "«»" else " ")
    return [word for word in WORD.findall(NAMES.sub(" ", "".join(outside))) if word not in MONTHS]


def drawn(figure):
    figure.canvas.draw()
    return "\n".join(text.get_text() for text in figure.findobj(Text) if text.get_visible())


def test_a_bare_word_is_found():
    assert bare("«Rows: «tree bed»» and 3 m, R001") == ["and"]


def test_pictures_of_layout_and_light(laid, words):
    library = read_crop_library()
    assert bare(drawn(draw_layout(laid, words))) == []
    light, yields = bed_light_of(laid, library), recipe_yields_of(laid.design, library)
    assert bare(drawn(draw_light(light, yields, "example", words))) == []


def test_pictures_of_rows(words):
    plan = rows_of(*example_field())
    assert bare(drawn(draw_plan(plan, words))) == []
    assert bare(drawn(draw_difficulty(plan, plan.difficulty, words))) == []


def test_pages_of_beds(laid, words):
    library = read_crop_library()
    for sheet in bed_sheets_of(laid.design, library):
        for side in ("", "above", "below"):
            assert bare(drawn(draw_bed(replace(sheet, row_side=side), words=words))) == []
    assert bare(drawn(draw_cover(recipe_of(laid, library), "example", words))) == []


def test_the_page_of_options(words):
    def option(name, spacing, beds, problem=""):
        figures = {"beds_of_field_pct": beds, "field_ha": 2.0, "row_length": 3000.0} | {
            one.key: beds for one in figures_compared()
        }
        shape = [[(0.0, 0.0), (9.0, 0.0), (9.0, 9.0), (0.0, 0.0)]]
        return OptionResult(name, "field.yaml", {"5": spacing}, name, figures, "EUR", shape, shape, problem)

    options = [option("1", "4", 0.5), option("2", "5", 0.6), option("3", "6", 0.4, "33")]
    text = drawn(draw_page(options, figures_compared(), words, title="field")).replace("EUR", "")
    assert bare(text) == []
    summary = options_summary(options, figures_compared(), [Path("options.png")], words)
    assert bare(summary.replace("EUR", "")) == []


def test_the_map_of_water(laid, words):
    rule = WaterRule(rows="store", rain_mm=80, curve_number=85)
    plan = water_on_rows(laid.terrain.judged, laid.terrain.slope, laid.rows, laid.site.boundary, rule=rule)
    assert bare(drawn(draw_water(plan, WaterMap(laid.site, laid.rows, laid.terrain, laid.contours), words))) == []


@pytest.mark.parametrize("receiver", ["phone", "rtk"])
def test_all_that_is_printed_for_stakes(receiver, words, tmp_path):
    laid = example_layout()
    design = laid.design.model_copy(update={"stakeout": laid.design.stakeout.model_copy(update={"receiver": receiver})})
    stakes = stakes_of(design, laid.site, laid.rows, laid.beds, laid.terrain)
    write_stakes(stakes, laid.rows, laid.site, design.stakeout, tmp_path, beds=laid.beds, words=words)
    for name in ("sheets.pdf", "pocket_list.pdf", "procedure.pdf"):
        for text in page_texts(tmp_path / name):
            assert bare(text) == [], name
    assert bare((tmp_path / "about.txt").read_text()) == []


class _Page(HTMLParser):
    """Texts of a page, those of its tags that people read or hear, and its data."""

    def __init__(self):
        super().__init__()
        self.texts, self.data, self.within = [], None, ""

    def handle_starttag(self, tag, attrs):
        self.within = tag if tag in ("script", "style") else ""
        self.texts += [
            value for name, value in attrs if name in ("aria-label", "title", "placeholder", "alt") and value
        ]
        self.is_data = tag == "script" and ("type", "application/json") in attrs

    def handle_data(self, data):
        if self.within == "script" and self.is_data:
            self.data = json.loads(data)
        elif not self.within:
            self.texts.append(data)

    def handle_endtag(self, tag):
        self.within = ""


def test_the_offline_map(words, tmp_path):
    laid = laid_out()
    write_map_page(account_for(laid, ReportRule()), MapData(laid, None, words), tmp_path / "map.html")
    page = _Page()
    page.feed((tmp_path / "map.html").read_text(encoding="utf-8"))
    data = page.data
    layers = [
        text
        for one in data["layers"]
        for text in (one["title"], one["feature_title"], *(line["words"] for line in one["lines"]))
    ]
    crops = [crop["stratum"] for crop in data["crops"]]  # the fixture's crops are the design's own, with its own words
    facts = [text for pair in data["facts"] for text in pair]
    assert bare("\n".join([*page.texts, *data["words"].values(), *layers, *crops, *facts])) == []


# what the map's script keeps in the browser's store and writes into files for programs
KEPT = ("not looked at", "not set", "geoagro notes ", "use strict")


def test_the_script_of_the_map_says_nothing_itself():
    found = []
    for path in sorted((Path(page_module.__file__).parent / "script").glob("*.js")):
        code = re.sub(r"//.*|/\*.*?\*/", "", path.read_text(encoding="utf-8"))
        found += [text for line in code.splitlines() for text in re.findall(r'"([^"]*)"', line)]
    sentences = [text for text in found if re.search(r"[A-Za-z]{3,} [A-Za-z]{2,}", text) and text not in KEPT]
    assert [text for text in sentences if not text.startswith(("#", "."))] == []
