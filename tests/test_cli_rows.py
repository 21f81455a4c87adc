"""`geoagro rows`, `geoagro check` and the summary of a layout, as a user meets them."""

import numpy as np
import pytest
from click.testing import CliRunner
from input_files import EAST, NORTH, write_raster, write_vector
from outputs_builders import small_layout
from shapely import LineString, box

from geoagro.cli.main import group
from geoagro.cli.summary import layout_summary

DESIGN = """\
name: invented
inputs:
  boundary: {file: field.gpkg}
  elevation: {file: dem.tif}
  guides: [{file: guide.gpkg}]
ground: {setback_m: 2}
rows: {method: straight, max_grade_pct: 2.5}
output: {folder: out}
"""


@pytest.fixture
def folder(tmp_path):
    write_vector(tmp_path / "field.gpkg", [box(EAST, NORTH, EAST + 50, NORTH + 45)])
    write_vector(tmp_path / "guide.gpkg", [LineString([(EAST, NORTH + 20), (EAST + 50, NORTH + 21)])])
    x, y = np.meshgrid(np.arange(130) * 2.0 - 79, 159 - np.arange(120) * 2.0)
    write_raster(tmp_path / "dem.tif", 200 + 0.06 * y + 1.2 * np.sin(x / 25), units="m")
    (tmp_path / "design.yaml").write_text(DESIGN)
    return tmp_path


def run(*words):
    return CliRunner().invoke(group, [str(word) for word in words], catch_exceptions=False)


def test_rows_are_written_and_told_in_words(folder):
    done = run("rows", folder / "design.yaml")
    assert done.exit_code == 0
    names = {p.name for p in (folder / "out").iterdir()}
    assert {"rows.gpkg", "rows.png", "difficulty.png", "difficulty.tif"} <= names
    assert "layout.gpkg" not in names
    text = done.stdout
    assert "within all limits at 2.5 % grade" in text
    assert "Setback along the boundary" in text
    assert "ground.setback_m 2" in text
    assert "rows.max_grade_pct 2.5" in text
    assert "of the plantable ground lets a level row keep its spacing" in " ".join(text.split())
    assert str(folder / "out" / "rows.png") in text


def test_check_says_which_limit_the_ground_reaches_first(folder):
    text = " ".join(run("check", folder / "design.yaml").stdout.split())
    assert "for rows Half of the plantable ground lets a level row keep its spacing within 10 %" in text


def test_the_summary_of_a_layout_says_what_each_limit_costs():
    lines = layout_summary(small_layout(60), []).splitlines()
    start = lines.index("Unplanted ground, and the limit that costs it")
    told = [line.split() for line in lines[start + 2 : start + 4]]
    assert [words[0] for words in told] == ["Exclusion", "Setback"]
    assert told[1][-2:] == ["ground.setback_m", "1"]
    assert told[1][4:6] == ["60", "m²"]
