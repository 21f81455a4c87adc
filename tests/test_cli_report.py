"""Reports and maps from a written layout, as a user runs them."""

import hashlib
import json
import re
import shutil
from dataclasses import replace

import builders
import geopandas as gpd
import pandas as pd
import pyogrio
import pytest
from click.testing import CliRunner
from page_texts import page_texts
from report_builders import field, planting

from geoagro.cli.main import group
from geoagro.errors import EditedError, InputError
from geoagro.inputs.design.file import read_design
from geoagro.outputs.geopackage.layer import OutputLayer
from geoagro.outputs.geopackage.writer import write_geopackage
from geoagro.outputs.layout.files import write_layout
from geoagro.reports.tables import layout_tables
from geoagro.rows.quality_table import ROWS
from geoagro.values.layout import Layout
from geoagro.values.measures import Measures
from geoagro.values.site import Finding, SourceFile
from geoagro.values.survey import AREAS_ASBUILT, SURVEY_ABOUT, SURVIVAL
from geoagro.values.terrain import CONTOURS

DESIGN = """
name: {name}
inputs:
  boundary: {{ file: boundary.gpkg }}
  elevation: {{ file: heights.tif, unit: m }}
crops:
  hill_plum: {{ name: Hill plum, habit: tree, stratum: high, canopy_width_m: 4, spacing_m: 3 }}
  shade_alder: {{ name: Shade alder, habit: tree, stratum: emergent, canopy_width_m: 6, spacing_m: 12 }}
  salad: {{ name: Salad, habit: herb, stratum: low, canopy_width_m: 0.3, spacing_m: 0.5 }}
  bitter_root: {{ name: Bitter root, habit: shrub, stratum: medium, canopy_width_m: 1.2, spacing_m: 1 }}
report: {{ prepared_by: A. Grower, as_of: 2031-04-15, block_scale: 1000 }}
"""


def written(folder, name="Invented strip", size_m=30.0, east_m=0.0):
    """A design file, its boundary, and a layout written as `geoagro layout` does."""
    folder.mkdir(exist_ok=True)
    file = folder / "design.yaml"
    file.write_text(DESIGN.format(name=name), encoding="utf-8")
    site, terrain, ground, rows, beds, unplanted = field(size_m=size_m, setback_m=1.0)
    boundary = folder / "boundary.gpkg"
    gpd.GeoDataFrame(geometry=[site.boundary], crs=site.crs).to_file(boundary)
    known = SourceFile("boundary", "boundary.gpkg", hashlib.sha256(boundary.read_bytes()).hexdigest())
    site = replace(site, name=name, sources=(known,), findings=(Finding("note", "boundary.gpkg", "1 polygon."),))
    plants = planting(beds)
    plants = replace(plants, frame=plants.frame[plants.frame.intersects(site.boundary)].reset_index(drop=True))
    quality = Measures((ROWS.is_(7),))
    tables = layout_tables(site, terrain, ground, beds, plants, unplanted, quality=quality)
    laid = Layout(
        read_design(file), site, terrain, ground, rows, beds, plants, unplanted, CONTOURS.empty(site.crs), tables
    )
    write_layout(laid, folder / "result", design_file=file)
    return file


def run(*arguments):
    return CliRunner().invoke(group, [str(a) for a in arguments], catch_exceptions=True)


@pytest.fixture(scope="module")
def reported(tmp_path_factory):
    """A design whose report has been written, and what the command said."""
    design = written(tmp_path_factory.mktemp("field") / "strip")
    return design, run("report", design)


@pytest.fixture
def copied(reported, tmp_path):
    folder = tmp_path / "strip"
    shutil.copytree(reported[0].parent, folder)
    return folder


def test_report_writes_every_file_from_the_layout_alone(reported):
    design, done = reported
    assert done.exit_code == 0, done.output
    assert re.search(r"Invented strip: 0\.\d{2,3} ha planted, 84 trees", done.output)
    folder = design.parent / "result"
    names = {"report.pdf", "report.xlsx", "report.json", "report.gpkg", "field_parts.geojson", "report_areas.csv"}
    assert names <= {path.name for path in folder.iterdir()}
    assert "maps have no relief" in done.output
    content = json.loads((folder / "report.json").read_text())
    sources = {row["item"]: row["now"] for row in content["tables"]["account_sources"]["rows"]}
    assert sources["boundary"] == "unchanged"
    areas = pyogrio.read_dataframe(folder / "layout.gpkg", layer="area_summary").set_index("item")["area_m2"]
    assert content["headline"]["field_m2"]["value"] == areas["field"]
    assert content["mixture_shares_by"] == "canopy"


def test_map_writes_one_page_in_the_language_asked_for(copied):
    done = run("map", copied / "design.yaml", "--locale", "de")
    assert done.exit_code == 0, done.output
    page = (copied / "result" / "map.html").read_text()
    assert page.startswith('<!doctype html>\n<html lang="de"')
    assert re.search(r'"0,\d{2,3} ha"', page)
    wrong = run("map", copied / "design.yaml", "--locale", "xx_none")
    assert wrong.exit_code == 2 and "is not a language" in wrong.output


def test_map_of_more_plants_than_a_page_carries_comes_in_pages(copied):
    done = run("map", copied / "design.yaml", "--plants-per-page", "100")
    assert done.exit_code == 0, done.output
    pages = sorted(path.stem for path in (copied / "result" / "map_parts").iterdir())
    assert f"map.html and {len(pages)} pages of parts in" in done.output
    assert {"A1", "B1"} <= set(pages)
    assert '"part":null' in (copied / "result" / "map.html").read_text()
    assert run("map", copied / "design.yaml").exit_code == 0
    assert not (copied / "result" / "map_parts").exists()


def test_surveys_beside_the_layout_and_what_changed_since_are_taken_in(copied):
    design = copied / "design.yaml"
    design.write_text(design.read_text() + "rows: { spacing_m: 6 }\n")
    with (copied / "boundary.gpkg").open("ab") as file:
        file.write(b"x")
    about = SURVEY_ABOUT.frame(
        {"item": ["date", "what", "warning"], "value": ["2031-10-02", "plants", "rows: row 3 stands 0.40 m downslope"]}
    )
    counts = {
        "crop": ["all"],
        "row": [0],
        "planned": [84],
        "surveyed": [80],
        "alive": [72],
        "replaced": [0],
        "dead": [5],
        "missing": [3],
    }
    survival = SURVIVAL.frame(
        counts | {"survival_pct": [90.0], "low_pct": [81.0], "high_pct": [95.0], "method": ["count"]}
    )
    areas = AREAS_ASBUILT.frame(
        {"item": ["tree_beds"], "definition": ["Tree beds."], "designed_m2": [196.0], "built_m2": [190.0]}
    )
    tables = [(SURVEY_ABOUT, about), (SURVIVAL, survival), (AREAS_ASBUILT, areas)]
    layers = [OutputLayer(spec, frame) for spec, frame in tables]
    (copied / "result" / "surveys").mkdir()
    write_geopackage(copied / "result" / "surveys" / "2031-10-02_autumn.gpkg", layers, builders.UTM)
    done = run("report", design)
    assert done.exit_code == 0, done.output
    assert "was changed after the layout was made (sections rows)" in done.output
    assert "Input file boundary.gpkg has been changed" in done.output
    assert "Survey 2031-10-02 autumn warned: rows: row 3 stands 0.40 m downslope" in done.output
    rows = pd.read_csv(copied / "result" / "report_survival.csv")
    assert rows[["survey", "crop", "alive", "survival_pct"]].iloc[0].tolist() == ["2031-10-02 autumn", "all", 72, 90.0]
    assert pd.read_csv(copied / "result" / "report_built.csv")["less_m2"].tolist() == [-6.0]


def test_an_edited_layer_and_a_missing_layout_are_refused_and_leave_the_old_report(copied):
    folder = copied / "result"
    before = (folder / "report.pdf").read_bytes()
    beds = pyogrio.read_dataframe(folder / "layout.gpkg", layer="vegetable_beds")
    beds["geometry"] = beds.geometry.buffer(0.2)
    pyogrio.write_dataframe(beds, folder / "layout.gpkg", layer="vegetable_beds", driver="GPKG")
    failed = run("report", copied / "design.yaml")
    assert isinstance(failed.exception, EditedError)
    assert "edited after the layout" in str(failed.exception)
    assert (folder / "report.pdf").read_bytes() == before
    (folder / "layout.gpkg").unlink()
    assert isinstance(run("map", copied / "design.yaml").exception, InputError)


def test_the_first_page_tells_the_length_of_rows_to_the_decimal_of_its_table(reported):
    """Rounded to 0.1 m and then to a metre it could differ from the table of the same report."""
    folder = reported[0].parent / "result"
    length = pd.read_csv(folder / "report_rows.csv")["length_m"].sum()
    assert f"{length:,.1f} m long in all" in page_texts(folder / "report.pdf")[0]


def test_portfolio_adds_up_what_the_reports_say(tmp_path):
    first, second = written(tmp_path / "a", "First field"), written(tmp_path / "b", "Second field", 36.0)
    done = run("portfolio", first, second, "--output", tmp_path / "all", "--title", "Both", "--as-of", "2031-05-01")
    assert done.exit_code == 0, done.output
    content = json.loads((tmp_path / "all" / "portfolio.json").read_text())
    fields = content["tables"]["portfolio_fields"]["rows"]
    assert [row["field"] for row in fields] == ["First field", "Second field"]
    assert content["totals"]["trees"]["value"] == sum(row["trees"] for row in fields)
    assert any("share" in caution["text"] for caution in content["cautions"])  # both lie on the same invented ground
    twice = run("portfolio", first, first, "--output", tmp_path / "all")
    assert "Two fields are called 'First field'" in str(twice.exception)
