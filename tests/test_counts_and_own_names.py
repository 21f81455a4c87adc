"""One and many, units, findings and names of one's own, as each language writes them."""

import ast
import re
import string
from pathlib import Path
from types import SimpleNamespace

import pandas as pd
import pytest
import season_cases as cases
from babel.messages.pofile import read_po
from icalendar import Calendar
from pypdf import PdfReader
from pyproj import CRS

import geoagro
from geoagro.cli.habits.language import quiet_words
from geoagro.crs import choose_working_crs
from geoagro.inputs.crs_words import crs_words
from geoagro.inputs.design.crop_library import read_crop_library
from geoagro.inputs.design.own_names import own_crop_names, own_place_names
from geoagro.outputs.report.by_zone import zone_blocks
from geoagro.outputs.report.cell_words import about_words, source_words
from geoagro.outputs.report.officer import day_words
from geoagro.outputs.report.pdf import document, typeset
from geoagro.outputs.season.ics import season_calendar
from geoagro.outputs.season.names import Names
from geoagro.outputs.tables.column_words import unit_words
from geoagro.outputs.words.recognised import Recogniser
from geoagro.outputs.words.say import CATALOGS, Words
from geoagro.values.report import ReportRule
from geoagro.values.words import FORMS, CropName, Sentence
from geoagro.values.zones import PURPOSES, REST

PACKAGE = Path(geoagro.__file__).parent
LANGUAGES = ("en", "es", "fr", "pt_BR")


def messages(language):
    with (CATALOGS / ("geoagro.pot" if language == "en" else f"{language}.po")).open("rb") as file:
        return [str(m.string or m.id) for m in read_po(file) if m.id]


def forms(text):
    """Words that hang on a number: the number's name, and the word's forms."""
    return [(name, form.split(FORMS)) for _, name, form, _ in string.Formatter().parse(text) if form and FORMS in form]


# --- counts ----------------------------------------------------------------------------------------------------------
@pytest.mark.parametrize("language", LANGUAGES)
def test_no_text_leaves_the_number_open(language):
    assert [text for text in messages(language) if re.search(r"\w\((s|es|is|x|nes|ões|éis)\)", text)] == []


@pytest.mark.parametrize("language", LANGUAGES)
def test_each_word_that_hangs_on_a_number_has_two_forms_in_every_language_of_two(language):
    found = [(text, one) for text in messages(language) for _, one in forms(text)]
    assert len(found) > 60
    assert [(text, one) for text, one in found if len(one) != 2 or not all(one)] == []


@pytest.mark.parametrize(
    ("language", "none", "one", "two"),
    [
        ("en", "0 beds", "1 bed", "2 beds"),
        ("es", "0 camas", "1 cama", "2 camas"),
        ("fr", "0 planche", "1 planche", "2 planches"),
        ("pt_BR", "0 canteiro", "1 canteiro", "2 canteiros"),
    ],
)
def test_none_one_and_two_as_the_language_counts(language, none, one, two):
    """Kinds of counts by the Unicode plural rules (CLDR), as babel carries them; they read 0 as singular in fr and pt."""
    words = Words(language)
    shown = [words("{n} {n:bed|beds} ({beds})", n=n, beds="R001-T").removesuffix(" (R001-T)") for n in (0, 1, 2)]
    assert shown == [none, one, two]
    assert words("{n:.0f} {n:year|years}", n=1.0) == words("{n:.0f} {n:year|years}", n=1)


def test_a_language_with_more_forms_gets_the_one_for_its_count():
    """Polish has one, few, many and other: 1 plik, 2 pliki, 5 plików, 1.5 pliku (the usual example of plural rules)."""
    pl = Words("pl")
    assert [pl.form(n, ["plik", "pliki", "plików", "pliku"]) for n in (1, 2, 5, 22, 1.5)] == [
        "plik", "pliki", "plików", "pliki", "pliku",
    ]  # fmt: skip


def test_a_count_read_back_from_a_file_is_told_in_its_number_again():
    assert Words("es").again("1 row missing in the survey: 4.") == "1 hilera falta en el levantamiento: 4."
    assert Words("fr").again("2 rows missing in the survey: 4, 7.") == "2 lignes manquent dans le relevé\xa0: 4, 7."
    known = Recogniser(["{n} {n:piece|pieces} removed from row {row}"])
    assert known.find("1,200 pieces removed from row 4").values == {"n": "1,200", "row": "4"}
    assert known.find("3 things removed from row 4") is None


# --- units -----------------------------------------------------------------------------------------------------------
@pytest.mark.parametrize("language", LANGUAGES)
def test_square_and_cubic_metres_are_written_as_such(language):
    assert [text for text in messages(language) if re.search(r"(?<![\w.])m[23]\b", text)] == []


# --- findings --------------------------------------------------------------------------------------------------------
def bare(node, assigned):
    """Whether an expression is English of its own, not a message: a literal, an f-string, or a name that holds one."""
    if isinstance(node, ast.Name):
        return any(bare(one, {}) for one in assigned.get(node.id, []))
    if isinstance(node, ast.Constant):
        return isinstance(node.value, str) and " " in node.value
    return isinstance(node, ast.JoinedStr | ast.BinOp)


def bare_findings(source):
    for function in ast.walk(ast.parse(source)):
        if not isinstance(function, ast.FunctionDef):
            continue
        assigned = {}
        for node in ast.walk(function):
            if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name):
                assigned.setdefault(node.targets[0].id, []).append(node.value)
        for node in ast.walk(function):
            if isinstance(node, ast.Call) and node.args:
                name = getattr(node.func, "attr", getattr(node.func, "id", ""))
                if name in ("Finding", "finding") and bare(node.args[-1], assigned):
                    yield node.lineno


def test_every_finding_is_a_message():
    found = {str(p.relative_to(PACKAGE)): list(bare_findings(p.read_text("utf-8"))) for p in PACKAGE.rglob("*.py")}
    assert {path: lines for path, lines in found.items() if lines} == {}


def test_a_bare_finding_is_found():
    assert list(bare_findings('def f(n):\n    text = f"{n} left out"\n    return Finding("note", "a", text)')) == [3]
    assert list(bare_findings('def f(n):\n    return Finding("note", "a", Sentence("{n} left out", n=n))')) == []


@pytest.mark.parametrize(
    ("code", "told"),
    [
        (32633, "(el del ráster de alturas)"),
        (4326, "(la zona UTM de aquí, pues el ráster de alturas está en EPSG:4326 WGS 84, que va en grados)"),
        (3857, "que aquí tiene un error de escala del 44,17 %)"),
    ],
)
def test_why_a_crs_was_chosen_is_told_in_the_readers_language(code, told):
    chosen = choose_working_crs([("the elevation raster", CRS.from_epsg(code))], lon=15.0, lat=46.0)
    assert told in Words("es").again(crs_words(chosen)).replace("\xa0", " ")


# --- names of one's own ----------------------------------------------------------------------------------------------
OWN = """\
name: Maize
inputs:
  boundary: { file: b.gpkg }
  elevation: { file: e.tif, unit: m }
  areas: [{ name: rows, file: a.gpkg }]
crops:
  golden: { like: maize, name: Maize }
  bean: { spacing_m: 0.2 }
plantings:
  - { crop: golden, bed: vegetable, spacing_m: 0.3 }
  - { crop: cassava, name: Yam, bed: vegetable, spacing_m: 0.9 }
  - { crop: taro, name: taro, bed: vegetable, spacing_m: 0.5 }
zones: [{ name: Banana, within: { side: east }, purpose: leave alone }]
"""


@pytest.fixture(scope="module")
def words(tmp_path_factory):
    path = tmp_path_factory.mktemp("own") / "design.yaml"
    path.write_text(OWN)
    design = geoagro.read_design(path)
    return Words("es", own_crops=own_crop_names(design), own_places=own_place_names(design))


def test_crops_and_plantings_of_ones_own_keep_their_names_and_those_of_the_library_are_told(words):
    assert words.crops(["Maize", "Yam"]) == "Maize, Yam"
    assert words.crops(["maize", "yam", "common bean", "taro", "cassava"]) == "maíz, ñame, frijol común, taro, yuca"
    assert words(Sentence("{crop} up to {n:.0f} {n:week|weeks}", crop=CropName("Yam"), n=3)) == "Yam hasta 3 semanas"


@pytest.mark.parametrize(("locale", "bean"), [("en", "common bean"), ("es", "frijol común"), ("fr", "haricot commun")])
def test_a_crop_told_by_its_code_is_called_as_one_told_by_its_name(tmp_path, locale, bean):
    """Tables that hold codes (plants, ratios, light, wood) and those that hold names stand in one report."""
    path = tmp_path / "design.yaml"
    path.write_text(OWN.replace("golden:", "vp: { like: apple, name: Old_pear }\n  golden:"))
    words = quiet_words(locale, geoagro.read_design(path))
    assert words.crops(["bean", "common bean", "common_bean"]) == ", ".join([bean] * 3)
    assert words.crops(["vp", "Old pear", "golden", "Yam"]) == "Old pear, Old pear, Maize, Yam"
    assert words(Sentence("{crop} up to {n:.0f} {n:week|weeks}", crop=CropName("bean"), n=3)).startswith(bean)


def test_parts_of_the_field_keep_their_names(words):
    assert [about_words(name, words) for name in ("Banana", "Maize", "rows")] == ["Banana", "Maize", "rows"]
    assert about_words("banana", words) == "banano"


def test_every_crop_of_the_library_is_told_where_no_name_is_ones_own():
    es = Words("es")
    same = {crop.name for crop in read_crop_library().values() if es.crop(crop.name) == crop.name}
    assert all(Words("es", own_crops=[crop.name]).crop(crop.name) == crop.name for crop in read_crop_library().values())
    assert len(same) < 15, same


# --- what was left in English on pages of zones, sources and days --------------------------------------------------
def test_two_crops_read_back_from_a_file_are_told_and_a_key_to_type_is_not():
    es = Words("es")
    file = (
        "1 pair of plants stands on one place at the same time, e.g. sweet potato and lettuce in bed R001-D1, 35.00 m along line "
        "1 (700140.03, 6680086.87), weeks 0 to 12. Give one of them other lines or offsets, or plant it `after` the other."
    )
    assert es.again(file).startswith(
        "1 par de plantas ocupa un mismo lugar al mismo tiempo, p. ej. camote y lechuga en la cama"
    )
    assert es.again("plantings lettuce and sweet_potato") == "plantaciones lechuga y camote"
    assert es.again("planting citrus+banana") == "plantación cítricos+banano"


@pytest.mark.parametrize("language", LANGUAGES[1:])
def test_purposes_of_zones_and_sources_of_a_layout_are_told(language):
    words = Words(language)
    assert [p for p in PURPOSES if words(PURPOSES[p]) == p and p != "compost"] == []
    told = [source_words(item, words) for item in ("exclusions[1]", "tracks[2]", "elevation", "water_bodies[1]")]
    assert (
        all("[" not in text and "_" not in text for text in told) and told[1].endswith(" 2") and "track" not in told[1]
    )


@pytest.mark.parametrize(
    ("language", "day"), [("es", "3 nov 2026"), ("fr", "3 nov. 2026"), ("pt_BR", "3 de nov. de 2026")]
)
def test_days_that_a_table_keeps_as_text_are_written_as_the_language_does(language, day):
    assert (day_words("2026-11-03", Words(language)), day_words("last spring", Words(language))) == (day, "last spring")


# --- the calendar ----------------------------------------------------------------------------------------------------
@pytest.mark.parametrize("language", LANGUAGES)
def test_a_calendar_library_reads_the_calendar_and_its_language(language):
    """RFC 5545, 3.7.3: the identifier is a formal public one, which ends with its language (ISO 9070)."""
    read = Calendar.from_ical(season_calendar(cases.standard_plan(), Words(language)).to_ical())
    assert str(read["prodid"]) == f"-//geoagro//season plan//{language[:2].upper()}"
    events = list(read.walk("VEVENT"))
    assert len(events) > 5 and all(event.get("summary") and event.get("uid") for event in events)
    assert read.errors == [] and all(event.errors == [] for event in events)


# --- the table of zones ----------------------------------------------------------------------------------------------
def zones_page(folder, words):
    """Where each text of the report's tables of zones begins on the page, points from the left."""
    names = ["Nordhang", "Sortengarten"]
    whole = [
        "zone",
        "area_m2",
        "tree_beds_m2",
        "vegetable_beds_m2",
        "paths_m2",
        "other_m2",
        "trees",
        "plants",
        "all_plantings",
    ]
    ground = pd.DataFrame({name: [12_345.6] * 3 for name in whole} | {"zone": [*names, REST]})
    ground = ground.assign(purpose=["nursery", "leave alone", "crops"], row_spacing_m=5.0, rows=14, field_pct=33.33)
    crops = pd.DataFrame(
        {"zone": [*names, REST], "name": ["lettuce", "maize", "citrus"], "plants": 7, "all_plantings": 9}
    )
    pieces = list(zone_blocks(SimpleNamespace(zones=ground, zone_crops=crops), words))
    page = document(title="Invented", author=None, status_words="", rule=ReportRule(), words=words, blocks=pieces)
    typeset(page, folder, folder / "zones.pdf")
    found = {}
    PdfReader(folder / "zones.pdf").pages[0].extract_text(
        visitor_text=lambda text, moved, place, *_: found.setdefault(text.strip(), moved[4] + place[4])
    )
    return found


@pytest.mark.parametrize("language", LANGUAGES)
def test_zones_and_their_purposes_stand_beside_each_other_and_crops_in_the_readers_language(tmp_path, language):
    words = Words(language)
    found = zones_page(tmp_path, words)
    apart = next(x for text, x in found.items() if text.startswith(words(PURPOSES["nursery"]))) - found["Nordhang"]
    assert apart > 45  # 16 mm: longer than the longest of these names
    assert any(words.crop("lettuce") in text for text in found) and (language == "en" or "lettuce" not in found)


def test_notes_of_orders_and_units_in_words_are_told_in_workbooks():
    names = Names(cases.standard_plan(), Words("fr"))
    assert names.cell("notes", "harvest keeps 7 to 28 days") == "la récolte se garde 7 à 28 jours"
    assert unit_words("species", Words("es")) == "especies"
    wanted = {bed for bed in names.plan.orders["beds"] if " " in bed}
    assert wanted and all(" – " in bed for bed in wanted)  # the same in every language
