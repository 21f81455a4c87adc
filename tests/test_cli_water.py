"""`geoagro water` on a small field: what is said, written and refused."""

import pyogrio
import pytest
from click.testing import CliRunner

from geoagro import example_field, lay_out, read_crop_library
from geoagro.cli.main import group
from geoagro.outputs.water.files import water_layers, write_water
from geoagro.outputs.water.picture import WaterMap
from geoagro.values.rules.water import WaterRule
from geoagro.water.analysis import water_on_rows
from geoagro.water.records.tables import WATER_SPECS


@pytest.fixture(scope="module")
def laid():
    return lay_out(*example_field(), read_crop_library())


@pytest.fixture(scope="module")
def plan(laid):
    rule = WaterRule(rows="store", rain_mm=80, curve_number=85)
    return water_on_rows(laid.terrain.judged, laid.terrain.slope, laid.rows, laid.site.boundary, rule=rule)


def test_map_and_layers_are_written_beside_the_layout(laid, plan, tmp_path):
    drawn = WaterMap(laid.site, laid.rows, laid.terrain, laid.contours)
    written = write_water(plan, drawn, tmp_path, of_rows="ab" * 32, of_rule="cd" * 32)
    assert [path.name for path in written] == ["water.png", "water.gpkg"]
    assert written[0].stat().st_size > 10_000
    layers = {str(name) for name, _ in pyogrio.list_layers(written[1])}
    assert {spec.name for spec in WATER_SPECS} <= layers


def test_every_column_of_water_is_described_in_a_sentence(plan):
    for layer in water_layers(plan):
        assert all(field.description.endswith(".") for field in layer.spec.fields), layer.spec.name


def test_without_a_layout_the_command_says_what_to_run(tmp_path):
    design = tmp_path / "design.yaml"
    design.write_text("name: none\ninputs: { boundary: { file: a.gpkg }, elevation: { file: b.tif } }\n")
    error = CliRunner().invoke(group, ["water", str(design)]).exception
    assert "geoagro layout" in str(error)
