"""One set of numbers: what the account says is what every file says, to the last digit."""

import csv
import json
import re
from dataclasses import replace
from datetime import date
from itertools import takewhile

import builders
import openpyxl
import pandas as pd
import pyogrio
import pytest
import shapely
from page_texts import filled_and_told, page_texts
from pypdf import PdfReader
from report_builders import CROPS, laid_out
from shapely import MultiPolygon, Point, box

from geoagro.crs import WGS84, transform_geometries
from geoagro.errors import DesignError, OutputError
from geoagro.outputs.report.account_data import write_account_csv, write_account_geopackage, write_account_json
from geoagro.outputs.report.account_sheet import write_account_sheet
from geoagro.outputs.report.cell_words import said
from geoagro.outputs.report.files import write_report
from geoagro.outputs.report.maps import MapData
from geoagro.outputs.report.parts_geojson import write_parts
from geoagro.outputs.report.pdf import block_frames, write_report_pdf
from geoagro.outputs.tables.cells import account_tables
from geoagro.outputs.words.say import Words
from geoagro.reports.account import account_for
from geoagro.values.measures import hectare_decimals
from geoagro.values.plants import PLANTS, Plants
from geoagro.values.report import ReportRule

RULE = ReportRule(prepared_by="A. Grower", as_of=date(2031, 4, 15), boundary_error_m=0.4, block_scale=1000)
EN = Words("en")


@pytest.fixture(scope="module")
def laid():
    return laid_out(size_m=50.0, setback_m=1.3)


@pytest.fixture(scope="module")
def account(laid):
    return account_for(laid, RULE, terrain=builders.plane(size_m=50.0))


@pytest.fixture(scope="module")
def folder(tmp_path_factory, account, laid):
    folder = tmp_path_factory.mktemp("report")
    write_account_json(account, EN, folder / "report.json")
    write_account_csv(account, folder)
    write_account_sheet(account, EN, folder / "report.xlsx")
    write_account_geopackage(account, laid.crs, folder / "report.gpkg")
    write_parts([("", account)], folder / "field_parts.geojson")
    write_report_pdf(account, RULE, MapData(laid, builders.plane(size_m=50.0), EN), folder / "report.pdf")
    return folder


@pytest.fixture(scope="module")
def pdf_text(folder):
    return "\n".join(page_texts(folder / "report.pdf"))


def test_tables_follow_each_other_so_that_no_pages_are_left_nearly_empty(folder):
    pages = filled_and_told(folder / "report.pdf")
    tables = list(takewhile(lambda page: "Block sheets" not in page[1], pages))
    shares = [round(share, 2) for share, _ in tables]
    assert len(tables) > 4
    assert sum(share < 0.35 for share in shares) <= 1, shares  # the last before the sheets may end anywhere


def test_json_csv_sheet_and_geopackage_hold_the_same_tables(account, folder):
    tables = json.loads((folder / "report.json").read_text())["tables"]
    book = openpyxl.load_workbook(folder / "report.xlsx", data_only=True)
    sheets = {sheet.title: sheet for sheet in book}
    names = {"account_areas": "Areas", "account_crops": "Crops", "account_rows": "Rows", "account_strata": "Strata"}
    for table in account_tables(account):
        rows = [list(row.values()) for row in tables[table.spec.name]["rows"]]
        assert rows == [list(row) for row in table.rows]
        if table.spec.name in names:
            sheet = sheets[names[table.spec.name]]
            cells = [[c.value for c in row] for row in sheet.iter_rows(min_row=2, max_row=1 + len(rows))]
            assert cells == [list(row) for row in said(table, Words("en"))]
            written = pyogrio.read_dataframe(folder / "report.gpkg", layer=table.spec.name)
            for name, field in zip(table.spec.columns, table.spec.fields, strict=True):
                if field.kind != "text":
                    ours = [row[table.spec.columns.index(name)] for row in table.rows]
                    theirs = [None if pd.isna(value) else value for value in written[name].tolist()]
                    assert theirs == ours
    with (folder / "report_areas.csv").open() as file:
        lines = {row["item"]: row["area_m2"] for row in csv.DictReader(file)}
    assert lines["field"] == f"{account.headline.field_m2:.1f}"


def test_every_formula_of_the_sheet_gives_the_value_stored_beside_it(folder):
    formulas = openpyxl.load_workbook(folder / "report.xlsx")
    values = openpyxl.load_workbook(folder / "report.xlsx", data_only=True)
    checked = 0
    for sheet in formulas:
        for row in sheet.iter_rows():
            for cell in row:
                if isinstance(cell.value, str) and cell.value.startswith("="):
                    got = evaluate(cell.value[1:], values, sheet.title)
                    assert got == pytest.approx(values[sheet.title][cell.coordinate].value, abs=1e-6), cell.value
                    checked += 1
    assert checked > 40


def evaluate(formula, book, sheet):
    """Work out SUM over a range, sums of cells, references to other sheets, and ROUND(a/b*100,2)."""

    def cells(reference):
        name, _, span = reference.rpartition("!")
        found = book[name.strip("'") or sheet][span.replace("$", "")]
        return [c.value or 0 for row in found for c in row] if isinstance(found, tuple) else [found.value or 0]

    if match := re.fullmatch(r"SUM\((.+)\)", formula):
        return sum(cells(match[1]))
    if match := re.fullmatch(r"ROUND\(([A-Z0-9$]+)/([A-Z0-9$]+)\*100,2\)", formula):
        return round(cells(match[1])[0] / cells(match[2])[0] * 100, 2)
    return sum(cells(part)[0] for part in formula.split("+"))


def test_the_pages_say_the_same_numbers(account, pdf_text):
    head = account.headline
    first_page = pdf_text[:1500]
    assert f"{head.planted_m2 / 10_000:,.{hectare_decimals(account.area_sd_m2)}f} ha" in first_page.replace("\xa0", " ")
    assert f"{head.trees:,}" in first_page
    for column in ("area_m2", "ground_area_m2", "geodesic_area_m2"):
        for value in account.areas[column].dropna():
            assert f"{value:,.1f}" in pdf_text
    for row in account.crops.itertuples():
        assert f"{row.share_area_m2:,.1f}" in pdf_text
        assert f"{row.plants:,}" in pdf_text
    assert f"{account.crops['share_area_m2'].sum():,.1f}" in pdf_text


def test_cautions_checksums_and_room_for_a_signature_are_on_the_pages(account, pdf_text):
    flat = " ".join(pdf_text.split())
    assert "No survey of what was planted" in flat
    assert "Signature" in flat
    assert "abababababababab" in flat
    assert "Poisonous raw" in flat
    assert "Page 1 of" in flat


def test_the_same_account_gives_the_same_bytes_and_fonts_are_inside(account, laid, folder, tmp_path):
    write_report_pdf(account, RULE, MapData(laid, builders.plane(size_m=50.0), EN), tmp_path / "again.pdf")
    write_account_sheet(account, EN, tmp_path / "again.xlsx")
    assert (tmp_path / "again.pdf").read_bytes() == (folder / "report.pdf").read_bytes()
    assert (tmp_path / "again.xlsx").read_bytes() == (folder / "report.xlsx").read_bytes()
    fonts = {}
    for page in PdfReader(folder / "report.pdf").pages:
        fonts |= {key: font.get_object() for key, font in page["/Resources"].get("/Font", {}).items()}
    assert fonts
    for font in fonts.values():
        inner = font["/DescendantFonts"][0].get_object() if "/DescendantFonts" in font else font
        assert {"/FontFile2", "/FontFile3"} & set(inner["/FontDescriptor"])


def test_plots_are_valid_right_handed_and_have_seven_decimals(account, folder, laid):
    text = (folder / "field_parts.geojson").read_text()
    features = json.loads(text)["features"]
    assert len(features) == 1
    numbers = re.findall(r"-?\d+\.\d+", text.split('"coordinates":')[1])
    assert all(len(number.split(".")[1]) == 7 for number in numbers)
    shape = shapely.from_geojson(json.dumps(features[0]["geometry"]))
    assert shape.is_valid
    assert shape.exterior.is_ccw
    assert shape.exterior.coords[0] == shape.exterior.coords[-1]
    truth = transform_geometries(laid.boundary, laid.crs, WGS84)
    assert shapely.hausdorff_distance(shape, truth) < 1e-7
    assert features[0]["properties"]["geodesic_area_m2"] == account.headline.field_geodesic_m2
    assert features[0]["properties"]["area_m2"] == account.headline.field_m2


def test_parts_with_holes_turn_them_the_other_way_and_one_across_the_date_line_is_refused(account, laid, tmp_path):
    holed = account.parts.geometry.iloc[0].difference(Point(builders.EAST + 25, builders.NORTH + 25).buffer(5))
    write_parts([("A-", replace(account, parts=account.parts.set_geometry([holed])))], tmp_path / "field_parts.geojson")
    feature = json.loads((tmp_path / "field_parts.geojson").read_text())["features"][0]
    shape = shapely.from_geojson(json.dumps(feature["geometry"]))
    assert feature["properties"]["part"] == "A-01"
    assert not shape.interiors[0].is_ccw
    wide = account.parts.to_crs(4326).set_geometry([box(-179.9, 0, 179.9, 1)])
    with pytest.raises(OutputError, match="180th meridian"):
        write_parts([("", replace(account, parts=wide))], tmp_path / "field_parts.geojson")


def test_a_name_that_looks_like_a_formula_or_markup_stays_text(laid, tmp_path):
    crops = CROPS | {"salad": replace(CROPS["salad"], name="=1+1 #strong[x] <script>")}
    account = account_for(replace(laid, crops=crops, name="#panic() & $x$"), RULE)
    write_account_sheet(account, EN, tmp_path / "report.xlsx")
    write_account_csv(account, tmp_path)
    write_report_pdf(account, RULE, MapData(replace(laid, crops=crops), None, EN), tmp_path / "report.pdf")
    book = openpyxl.load_workbook(tmp_path / "report.xlsx")
    assert "=1+1 #strong[x] <script>" in [cell.value for cell in book["Crops"]["B"] if cell.data_type == "s"]
    assert "'=1+1 #strong[x] <script>" in (tmp_path / "report_crops.csv").read_text()
    text = " ".join(page_texts(tmp_path / "report.pdf"))
    assert "#panic() & $x$" in text
    assert "#strong[x]" in text


def test_numbers_and_words_follow_the_language(account, laid, tmp_path):
    catalog = tmp_path / "de.po"
    catalog.write_text(
        'msgid ""\nmsgstr "Content-Type: text/plain; charset=utf-8\\n"\n\n'
        'msgid "Planted area"\nmsgstr "Bepflanzte Fläche"\n\nmsgid "{share:.1f} % of the gross field"\n'
        'msgstr "{share:.1f} % vom Feld"\n',
        encoding="utf-8",
    )
    words = Words("de", catalogs=tmp_path)
    write_report_pdf(account, RULE, MapData(laid, None, words), tmp_path / "report.pdf")
    text = page_texts(tmp_path / "report.pdf")[0]
    assert "Bepflanzte Fläche" in text
    assert "% vom Feld" in text
    decimals = hectare_decimals(account.area_sd_m2)
    assert f"{account.headline.planted_m2 / 10_000:.{decimals}f}".replace(".", ",") in text
    assert "15. April 2031" in text
    with pytest.raises(DesignError, match="not a language"):
        Words("tlh-klingon-x")


def test_blocks_cover_the_field_and_empty_ones_are_left_out():
    two = MultiPolygon([box(0, 0, 100, 100), box(900, 900, 1000, 1000)])
    scale, frames = block_frames(two, "auto", (180.0, 230.0))
    assert 1 < len(frames) <= 16
    assert shapely.union_all([box(*frame) for frame in frames]).covers(two)
    assert all(box(*frame).intersects(two) for frame in frames)
    assert frames[0][2] - frames[0][0] == pytest.approx(180 * scale / 1000)


def test_a_field_without_plants_on_a_slope_raster_alone_is_reported_too(tmp_path):
    laid = laid_out(size_m=30.0, plants=lambda _: Plants(PLANTS.empty(builders.UTM)))
    bare = account_for(laid, RULE)
    assert (bare.headline.planted_m2, bare.headline.plants) == (0.0, 0)
    terrain = replace(builders.plane(size_m=30.0), heights=None, smooth=None, aspect_deg=None)
    written = write_report(bare, RULE, MapData(laid, terrain, EN), tmp_path)
    text = page_texts(tmp_path / "report.pdf")[0]
    assert re.search(r"Planted area\s+0\.0+\s", text)
    assert all(path.is_file() for path in written)
