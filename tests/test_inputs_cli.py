"""`geoagro new` and `geoagro check`, as a user runs them."""

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from input_files import EAST, FIELD, NORTH, slope_north, write_raster, write_vector
from shapely import Point

from geoagro.cli.main import group
from geoagro.errors import DesignError, GeoagroError, InputError, LayoutError

DESIGN = """\
name: invented
inputs:
  boundary: {file: field.gpkg}
  elevation: {file: dem.tif}
  exclusions:
    - {file: well.gpkg, name: well, buffer_m: 5}
rows: {method: straight}
plantings:
  - {crop: apple, bed: tree}
  - {crop: bean, bed: vegetable}
"""


@pytest.fixture
def folder(tmp_path):
    write_vector(tmp_path / "field.gpkg", [FIELD])
    write_vector(tmp_path / "well.gpkg", [Point(EAST + 50, NORTH + 40)])
    write_raster(tmp_path / "dem.tif", slope_north(), units="m")
    (tmp_path / "design.yaml").write_text(DESIGN)
    return tmp_path


def files(folder):
    return {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def check(folder):
    before = files(folder)
    result = CliRunner().invoke(group, ["check", str(folder / "design.yaml")])
    assert files(folder) == before  # reads only
    return result


def test_new_writes_a_design_and_says_what_next(tmp_path):
    result = CliRunner().invoke(group, ["new", str(tmp_path / "mine")])
    assert result.exit_code == 0
    assert (tmp_path / "mine" / "design.yaml").exists()
    assert "geoagro check" in result.output
    again = CliRunner().invoke(group, ["new", str(tmp_path / "mine")])
    assert isinstance(again.exception, GeoagroError)


def test_check_says_what_was_found(folder):
    result = check(folder)
    assert result.exit_code == 0, result.exception
    for text in (
        "EPSG:32633 WGS 84 / UTM zone 33N (that of the elevation raster)",
        "0.80 ha: 8,000 m² on the map plane, 8,006 m² on the ellipsoid",  # 0.9996 squared on the meridian
        "1 part, 0 holes, perimeter 360 m",
        "'well', 5 m kept free around it, 78 m² of the field",
        "2 m wide, 2,000 in the field, 0.00 % of them without data",
        "200.10 to 207.90 m in the field",
        "median 10.0 %",
        "     10 - 15 %",
        "tree beds: 1, vegetable beds: 1",
        "apple, common bean",
        "ready for the layout",
    ):
        assert text in result.output
    assert max(map(len, result.output.splitlines())) <= 120


def test_check_stops_where_the_layout_would_and_still_tells_what_it_found(folder):
    values = slope_north()
    values[75:90, 50:70] = -9999.0
    write_raster(folder / "dem.tif", values)
    result = check(folder)
    assert isinstance(result.exception, LayoutError)
    assert "5.00 % of them without data" in result.output
    assert "m², 40 m wide and 10 m from north to south" in " ".join(result.output.split())
    assert "300 cells hold -9999, taken as no data" in result.output
    assert "ready" not in result.output


def test_check_tells_all_problems_at_once(folder):
    write_raster(folder / "dem.tif", slope_north(grade=1.0))
    (folder / "design.yaml").write_text(DESIGN.replace("crop: apple", "crop: aple"))
    problems = str(check(folder).exception).splitlines()
    assert len(problems) == 2
    assert "'aple'" in problems[0]
    assert "apple" in problems[0]
    assert "ground.max_slope_pct" in problems[1]


def test_check_refuses_ground_that_is_all_too_steep(folder):
    write_raster(folder / "dem.tif", slope_north(grade=1.0))
    assert isinstance(check(folder).exception, LayoutError)


@pytest.mark.parametrize(
    ("change", "error", "message"),
    [
        (("field.gpkg", "fiel.gpkg"), InputError, "inputs.boundary.file: fiel.gpkg isn't there"),
        (("name: invented", "nam: invented"), DesignError, "design.yaml:1: nam: unknown key; did you mean 'name'?"),
        (("method: straight", "spacing_m: 0"), DesignError, "design.yaml:7: rows.spacing_m: must be above 0 (got 0)."),
        (("dem.tif", "well.gpkg"), InputError, "inputs.elevation (well.gpkg): can't be read as a raster"),
    ],
)
def test_check_names_file_and_key(folder, change, error, message):
    (folder / "design.yaml").write_text(DESIGN.replace(*change))
    result = check(folder)
    assert isinstance(result.exception, error)
    assert message in str(result.exception)


def test_the_program_ends_with_the_code_of_the_class_and_words_on_stderr(folder):
    (folder / "design.yaml").write_text(DESIGN.replace("field.gpkg", "no.gpkg"))
    run = subprocess.run(
        [sys.executable, "-m", "geoagro", "check", str(folder / "design.yaml")],
        capture_output=True,
        text=True,
        check=False,
        env=os.environ | {"PYTHONPATH": str(Path(__file__).parents[1])},
    )
    assert run.returncode == 4
    assert run.stderr.startswith("geoagro: design.yaml:3: inputs.boundary.file: no.gpkg isn't there")
    assert "Traceback" not in run.stderr


def test_check_reads_slope_without_direction(folder):
    write_raster(folder / "slope.tif", np.full((120, 130), 12.0))
    text = DESIGN.replace("elevation: {file: dem.tif}", "slope: {file: slope.tif, unit: percent}")
    (folder / "design.yaml").write_text(text)
    result = check(folder)
    assert result.exit_code == 0, result.exception
    assert "not given: slope carries no direction" in result.output
    assert "median 12.0 %" in result.output
