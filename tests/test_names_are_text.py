"""Names with formulas, markup and odd letters stay text in every file that a run writes."""

import csv
from xml.etree import ElementTree

import pytest
from icalendar import Calendar
from input_files import EAST, NORTH, slope_north, write_raster, write_vector
from openpyxl import load_workbook
from shapely import Point, box

from geoagro.cli.main import group
from geoagro.outputs.tables.plain_text import FORMULA_SIGNS, file_stem

NAME = """=HYPERLINK("x") <b>&amp; ]]> {{x}} \u05d2 50 % 'q' \\\\ #"""
DESIGN = """\
name: %r
inputs:
  boundary: {file: field.gpkg}
  elevation: {file: dem.tif}
  exclusions:
    - {file: well.gpkg, name: '@SUM(1) <i>]]>', buffer_m: 2}
rows: {method: straight}
plantings:
  - {crop: apple, bed: tree, name: '+trees <u>', mixture: '=m'}
  - {crop: bean, bed: vegetable, name: '-1+beans ]]>', mixture: '@n;BEGIN:VEVENT'}
start_date: 2026-03-01
season: {years: 2, crew: {people: 2}}
report: {prepared_for: '=funder', note: '<script>alert(1)</script> ]]>'}
"""


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    folder = tmp_path_factory.mktemp("odd names")
    write_vector(folder / "field.gpkg", [box(EAST, NORTH, EAST + 36, NORTH + 30)])
    write_vector(folder / "well.gpkg", [Point(EAST + 18, NORTH + 15)])
    write_raster(folder / "dem.tif", slope_north(shape=(80, 90)), units="m")
    (folder / "design.yaml").write_text(DESIGN % NAME.replace("'", "*"), encoding="utf-8")
    for command in ("layout", "stakes", "report", "season", "map"):
        group(args=[command, str(folder / "design.yaml")], standalone_mode=False)
    return folder / "result"


def is_number(text):
    try:
        float(text)
    except ValueError:
        return False
    return True


def test_no_cell_of_a_csv_file_is_a_formula(written):
    files = sorted(written.rglob("*.csv"))
    assert len(files) >= 6
    for path in files:
        with path.open(encoding="utf-8", newline="") as file:
            cells = [cell for row in csv.reader(file) for cell in row]
        assert not [c for c in cells if c.startswith(FORMULA_SIGNS) and not is_number(c)], path


def test_no_cell_of_a_spreadsheet_is_a_formula_of_a_name(written):
    for path in sorted(written.rglob("*.xlsx")):
        for sheet in load_workbook(path):
            for row in sheet.iter_rows():
                for cell in row:
                    assert cell.data_type != "f" or "HYPERLINK" not in str(cell.value), path


def test_xml_is_sound_and_descriptions_hold_no_markup(written):
    files = [p for p in written.rglob("*") if p.suffix in {".kml", ".gpx", ".svg"}]
    assert len(files) >= 3
    for path in files:
        root = ElementTree.parse(path).getroot()
        for element in root.iter():
            if element.tag.endswith("description"):
                assert "<" not in (element.text or "")


def test_the_calendar_holds_one_event_per_task_and_the_name_as_it_is(written):
    calendar = Calendar.from_ical((written / "season.ics").read_bytes())
    assert {part.name for part in calendar.subcomponents} == {"VEVENT"}
    assert "HYPERLINK" in str(calendar["x-wr-calname"])


def test_the_map_runs_nothing_that_a_name_says(written):
    text = (written / "map.html").read_text(encoding="utf-8")
    assert "<script>alert(1)" not in text
    assert "<b>&amp; ]]>" not in text


@pytest.mark.parametrize(
    "text", ["a/b", "..", "nul", "COM1.txt", "a\0b", "x" * 400, "\u05d2" * 300, " a. ", "", "a:b|c?"]
)
def test_file_names_are_safe_on_every_system(tmp_path, text):
    stem = file_stem(text)
    assert 0 < len(stem.encode()) <= 121
    assert not set(stem) & set('<>:"/\\|?*\0')
    (tmp_path / f"{stem}.gpkg").write_text("")
    assert stem.split(".")[0].lower() not in {"nul", "con", "com1"}
