"""Pages about water in the report: there where water was looked at on these very rows, else a line that says why not."""

import re
import shutil
from dataclasses import replace

import pyogrio
import pytest
from page_texts import page_texts
from PIL import Image

from geoagro import example_field, lay_out, read_crop_library, read_layout_file, write_layout
from geoagro.inputs.laid import water_file
from geoagro.inputs.laid.laid_out import read_laid_out
from geoagro.inputs.laid.water_file import read_water
from geoagro.outputs.report.maps import MapData
from geoagro.outputs.report.pdf import page_room, write_report_pdf
from geoagro.outputs.report.water import WaterPages, water_blocks, water_pages
from geoagro.outputs.water.files import write_water
from geoagro.outputs.water.picture import WaterMap, draw_water
from geoagro.outputs.words.say import Words
from geoagro.reports.account import account_for
from geoagro.values.layers import Field
from geoagro.values.report import ReportRule
from geoagro.values.results.water import WATER_FINDINGS, WATER_PICTURE
from geoagro.values.rules.water import WaterRule, checksum_of
from geoagro.water.analysis import water_on_rows
from geoagro.water.records.words import CAUTION

EN = Words("en")
STORM = WaterRule(rows="store", rain_mm=200, curve_number=95)


def laid_into(folder, *, bearing_deg=90.0):
    design, *rest = example_field()
    rows = design.rows.model_copy(update={"bearing_deg": bearing_deg})
    laid = lay_out(design.model_copy(update={"rows": rows}), *rest, read_crop_library())
    write_layout(laid, folder)
    return laid


@pytest.fixture(scope="module")
def folder_and_map(tmp_path_factory):
    """A folder with the layout of the example field, what a storm does on it, and what its map shows."""
    folder = tmp_path_factory.mktemp("field")
    laid = laid_into(folder)
    plan = water_on_rows(laid.terrain.judged, laid.terrain.slope, laid.rows, laid.site.boundary, rule=STORM)
    drawn = WaterMap(laid.site, laid.rows, laid.terrain, laid.contours)
    write_water(plan, drawn, folder, of_rows=read_layout_file(folder).rows_checksum(), of_rule=checksum_of(STORM))
    return folder, plan, drawn


@pytest.fixture(scope="module")
def watered(folder_and_map):
    return folder_and_map[:2]


@pytest.fixture
def copied(watered, tmp_path):
    return shutil.copytree(watered[0], tmp_path / "field")


def report_of(folder, words=EN, water=STORM):
    """Text of the report's pages, blanks drawn together."""
    file = read_layout_file(folder)
    laid, rule = (
        read_laid_out(file, {}, design=file.design.model_copy(update={"water": water})),
        ReportRule(block_scale=1000),
    )
    write_report_pdf(account_for(laid, rule), rule, MapData(laid, None, words), folder / "report.pdf")
    return re.sub(r"\s+", " ", " ".join(page_texts(folder / "report.pdf")))


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_the_legend_of_the_map_is_no_smaller_than_7_points_on_the_report_s_page(folder_and_map, tmp_path, paper):
    """The map is drawn for A3; the page of the report is smaller."""
    folder, plan, drawn = folder_and_map
    file = read_layout_file(folder)
    laid = read_laid_out(file, {}, design=file.design.model_copy(update={"water": STORM}))
    wide, high = page_room(ReportRule(paper=paper))
    pages = water_pages(laid.water, tmp_path, (wide, high))
    with Image.open(tmp_path / WATER_PICTURE) as picture:
        drawn_mm = picture.size[0] / picture.info["dpi"][0] * 25.4
    smaller = wide * pages.width / 100 / drawn_mm
    (legend,) = draw_water(plan, drawn).legends
    assert min(text.get_fontsize() for text in legend.get_texts()) * smaller >= 7.0


def test_the_report_shows_what_water_does_on_these_rows(watered):
    folder, plan = watered
    text = report_of(folder)
    for finding in plan.findings:
        assert finding.text in text
    over = plan.row_water["over_m3"].sort_values()
    assert over.iloc[-1] > 1
    assert f"{over.iloc[-1]:.1f}" in text
    for criterion in plan.water_criteria.itertuples():
        assert criterion.criterion in text
        assert criterion.limit in text
    assert f"{plan.water_balance['volume_m3'].iloc[0]:.1f}" in text
    assert text.count(CAUTION) == 1


def test_without_a_look_at_water_the_report_says_how_to_take_one(copied):
    (copied / "water.png").unlink()
    text = report_of(copied)
    assert "Water was not looked at. Run `geoagro water DESIGN`" in text
    assert CAUTION not in text


def test_pages_of_other_rows_are_left_out_and_the_report_says_so(copied):
    laid_into(copied, bearing_deg=80.0)
    text = report_of(copied)
    assert "The rows were changed since water was looked at" in text
    assert "Published criteria" not in text


def test_pages_of_another_storm_are_left_out_and_the_report_says_so(copied):
    text = report_of(copied, water=STORM.model_copy(update={"rain_mm": 90}))
    assert "The design says other things of water since it was looked at" in text
    assert "Published criteria" not in text


def test_the_same_layout_written_again_keeps_its_pages(copied):
    laid_into(copied)
    assert not isinstance(read_water(read_layout_file(copied), STORM), str)


def test_another_picture_is_no_page_of_the_report(copied):
    shutil.copy(copied / "layout.png", copied / "water.png")
    assert read_water(read_layout_file(copied), STORM) == "edited"


def test_an_edited_verdict_is_no_page_of_the_report(copied):
    criteria = pyogrio.read_dataframe(copied / "water.gpkg", layer="water_criteria")
    pyogrio.write_dataframe(
        criteria.assign(verdict="passes"), copied / "water.gpkg", layer="water_criteria", driver="GPKG"
    )
    assert read_water(read_layout_file(copied), STORM) == "edited"
    assert "is not as `geoagro water` wrote it" in report_of(copied)


def test_pages_of_another_version_of_the_program_are_left_out(copied, monkeypatch):
    """Its tables may have other columns: the report says how to take another look, and doesn't break."""
    later = replace(
        WATER_FINDINGS, fields=(*WATER_FINDINGS.fields, Field("weight", "text", "A column of another version."))
    )
    monkeypatch.setattr(water_file, "_TABLES", (later,))
    assert read_water(read_layout_file(copied), STORM) == "edited"


def test_only_the_ten_rows_that_run_over_most_are_listed(watered):
    seen = read_water(read_layout_file(watered[0]), STORM)
    many = seen.rows.loc[[0] * 12].assign(row=range(1, 13), over_m3=[float(k) for k in range(12)])
    pages = WaterPages(type(seen)(seen.picture, seen.findings, seen.criteria, seen.balance, many), 100)
    tables = [block for block in water_blocks(pages, EN) if block["kind"] == "table"]
    listed = next(table["rows"] for table in tables if table["columns"][0]["head"] == "Row")
    assert [row["cells"][0] for row in listed] == [str(k) for k in range(12, 2, -1)]
