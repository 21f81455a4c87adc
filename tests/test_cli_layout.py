import dataclasses
import sys

import pyogrio
import pytest
from click.testing import CliRunner
from outputs_builders import small_layout
from plants_builders import crop, stand

import geoagro.pipeline
from geoagro.cli import terminal
from geoagro.cli.layout import command
from geoagro.cli.summary import layout_summary
from geoagro.errors import DesignError, LayoutError
from geoagro.outputs.geopackage.provenance import findings_table
from geoagro.outputs.staging import WORK
from geoagro.outputs.words.say import Words
from geoagro.values.layout import AREA_SUMMARY
from geoagro.values.site import Finding

DESIGN = """
name: Invented field
inputs:
  boundary: { file: a.gpkg }
  elevation: { file: b.tif }
output: { folder: out }
"""


@pytest.fixture
def design(tmp_path, monkeypatch):
    """A design file; the layout itself is a ready value, so that only the command is tested."""

    def ready(design, *, fitted, placing, placed, progress):
        progress("laying rows", 0.5)
        return small_layout(20)

    _, analysis = stand([{"crop": "a", "spacing_m": 0.5}], {"a": crop(spacing_range_m=(0.8, 1.2))}, months=3)
    monkeypatch.setattr(geoagro.pipeline, "layout", ready, raising=False)
    monkeypatch.setattr(geoagro.pipeline, "recipe_of", lambda laid, library, *, progress: analysis)
    path = tmp_path / "design.yaml"
    path.write_text(DESIGN)
    return path


def test_the_result_lands_where_the_design_says_and_the_account_names_it(design):
    done = CliRunner().invoke(command, [str(design)], catch_exceptions=False)
    assert done.exit_code == 0
    folder = design.parent / "out"
    assert {p.name for p in folder.iterdir()} == {"layout.gpkg", "layout.png", WORK}
    assert str(folder / "layout.gpkg") in done.stdout
    assert "all" in done.stdout
    assert "repaired, area changed" in done.stdout


def test_the_recipe_is_analysed_and_told_or_said_why_not(design, monkeypatch):
    done = CliRunner().invoke(command, [str(design)], catch_exceptions=False)
    assert "a stands 0.50 m apart" in done.stdout
    names = {name for name, _ in pyogrio.list_layers(design.parent / "out" / "layout.gpkg")}
    assert {"cover", "timeline", "weeding"} <= names

    def lacking(laid, library, *, progress):
        raise DesignError("crops.a.root_reach_m is missing; root conflicts needs it.")

    monkeypatch.setattr(geoagro.pipeline, "recipe_of", lacking)
    done = CliRunner().invoke(command, [str(design)], catch_exceptions=False)
    assert done.exit_code == 0
    assert "The recipe wasn't analysed: crops.a.root_reach_m is missing" in done.stdout


def test_output_goes_before_the_designs_folder(design, tmp_path):
    CliRunner().invoke(command, [str(design), "--output", str(tmp_path / "elsewhere")], catch_exceptions=False)
    assert (tmp_path / "elsewhere" / "layout.gpkg").exists()
    assert not (tmp_path / "out").exists()


def test_progress_goes_to_stderr_as_plain_lines_where_there_is_no_terminal(design):
    done = CliRunner().invoke(command, [str(design)], catch_exceptions=False)
    assert done.stderr.splitlines() == [
        "laying rows",
        "drawing layout.png",
        "sealing layout.gpkg",
        "writing layout.gpkg",
    ]
    assert "laying rows" not in done.stdout


def test_a_design_that_cannot_be_laid_out_touches_nothing(design, monkeypatch):
    def refused(design, *, fitted, placing, placed, progress):
        raise LayoutError("No row is long enough.")

    monkeypatch.setattr(geoagro.pipeline, "layout", refused, raising=False)
    done = CliRunner().invoke(command, [str(design)])
    assert done.exit_code != 0
    assert isinstance(done.exception, LayoutError)
    assert not (design.parent / "out").exists()


def test_a_missing_design_file_is_named(tmp_path):
    done = CliRunner().invoke(command, [str(tmp_path / "nowhere.yaml")])
    assert done.exit_code != 0
    assert "nowhere.yaml" in str(done.exception)


def test_bars_on_a_terminal_end_full_and_leave_a_line_per_step(monkeypatch, capsys):
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True)
    with terminal.shown_progress(Words("es")) as progress:
        for what in ("filling gaps", "laying rows"):
            for share in (0.0, 0.5, 0.4, 1.0):
                progress(what, share)
    shown = capsys.readouterr().err
    assert shown.count("100%") >= 2
    assert shown.index("relleno de huecos") < shown.index("laying rows")
    assert shown.endswith("\n")


def test_parts_are_set_in_under_their_whole():
    layout = small_layout(20)
    areas = AREA_SUMMARY.frame(
        {
            "item": ["field", "plantable", "vegetable_beds"],
            "part_of": ["", "field", "plantable"],
            "definition": ["", "", ""],
            **{name: [4e4, 3e4, 1e4] for name in ("area_m2", "ground_area_m2", "geodesic_area_m2")},
        }
    )
    tables = dataclasses.replace(layout.tables, area_summary=areas)
    lines = layout_summary(dataclasses.replace(layout, tables=tables), []).splitlines()
    assert lines[4:7] == [
        "  Gross field         4.00 ha",
        "    Plantable ground  3.00 ha",
        "      Vegetable beds  1.00 ha",
    ]


def test_what_planting_found_is_told_and_kept():
    layout = small_layout(20)
    found = Finding("warning", "plantings.maize", "12 plants left out at bed ends.")
    layout = dataclasses.replace(layout, plants=dataclasses.replace(layout.plants, findings=(found,)))
    assert "12 plants left out" in layout_summary(layout, [])
    assert "12 plants left out at bed ends." in set(findings_table(layout)["finding"])
