"""The JSON Schema of the design file, against an independent validator (library jsonschema) and the reader itself."""

import json
import re
from pathlib import Path

import pytest
from click.testing import CliRunner
from jsonschema import Draft202012Validator
from jsonschema.exceptions import ValidationError
from ruamel.yaml import YAML

from geoagro.cli.main import group
from geoagro.errors import DesignError
from geoagro.inputs.design.file import read_design
from geoagro.inputs.design.schema import design_keys, design_schema, key_tables, schema_text
from geoagro.inputs.design.template import write_design_template

ROOT = Path(__file__).parents[1]
GUIDE = ROOT / "geoagro" / "guide"
SCHEMA = Draft202012Validator(design_schema())
SMALL = {"name": "field", "inputs": {"boundary": {"file": "b.gpkg"}, "elevation": {"file": "e.tif"}}}


def yaml(text):
    return json.loads(json.dumps(YAML(typ="safe").load(text), default=str))


def blocks():
    """Sections of designs shown in the guide, by page."""
    for page in sorted(GUIDE.glob("*.md")):
        for text in re.findall(r"^```yaml\n(.*?)^```", page.read_text(encoding="utf-8"), re.DOTALL | re.MULTILINE):
            yield pytest.param(text, id=f"{page.stem}: {text.splitlines()[0][:30]}")


def test_the_schema_itself_is_valid():
    Draft202012Validator.check_schema(design_schema())


def test_the_demo_and_the_template_are_valid(tmp_path):
    SCHEMA.validate(yaml((ROOT / "data_demo" / "design.yaml").read_text(encoding="utf-8")))
    SCHEMA.validate(yaml(write_design_template(tmp_path / "design.yaml").read_text(encoding="utf-8")))


@pytest.mark.parametrize("text", list(blocks()))
def test_every_section_shown_in_the_guide_is_valid(text):
    shown = yaml(text)
    if isinstance(shown, dict) and set(shown) <= set(design_schema()["properties"]):
        SCHEMA.validate(SMALL | {key: value for key, value in shown.items() if key != "inputs"})


@pytest.mark.parametrize(
    ("section", "value"),
    [
        ("rows", {"spacing_m": 0}),
        ("rows", {"spacing_m": -4.5}),
        ("rows", {"spacing_m": "four"}),
        ("rows", {"method": "spiral"}),
        ("rows", {"spacing_tolerance_pct": 90}),
        ("rows", {"spacing": 4.5}),
        ("beds", {"skip": {"beds": 5}}),
        ("ground", {"setback_m": -1}),
        ("start_date", 12),
        ("season", {"years": 0}),
        ("water", {"rows": "store", "soil_group": "E", "rain_mm": 60}),
    ],
)
def test_what_the_schema_refuses_the_reader_refuses_too(tmp_path, section, value):
    with pytest.raises(ValidationError):
        SCHEMA.validate(SMALL | {section: value})
    (tmp_path / "design.yaml").write_text(json.dumps(SMALL | {section: value}), encoding="utf-8")
    with pytest.raises(DesignError):
        read_design(tmp_path / "design.yaml")


@pytest.mark.parametrize(
    ("section", "value"),
    [
        ("rows", {"spacing_m": "15 ft"}),
        ("rows", {"bearing_deg": "auto"}),
        ("rows", {"bearing_deg": 45}),
        ("beds", {"skip": {"rows": "1-10, 14"}}),
        ("beds", {"skip": [{"rows": ["1-10", 14], "except": {"side": "west"}}, {"alleys": "every 2"}]}),
        ("season", {"labour_range": 1.0}),
        ("season", {"labour_range": [0.8, 1, 1.5]}),
        ("start_date", "2027-03-01"),
    ],
)
def test_what_the_reader_takes_the_schema_takes_too(tmp_path, section, value):
    SCHEMA.validate(SMALL | {section: value})
    (tmp_path / "design.yaml").write_text(json.dumps(SMALL | {section: value}), encoding="utf-8")
    read_design(tmp_path / "design.yaml")


def test_every_key_says_what_it_means():
    assert [f"{key.section}.{key.name}" for key in design_keys() if not key.meaning] == []


def test_the_guide_lists_every_key_as_it_is():
    page = (GUIDE / "design.md").read_text(encoding="utf-8")
    assert page.endswith(key_tables()), "run `python scripts/refresh_guide.py`"


def test_new_writes_the_schema_that_the_design_names(tmp_path):
    path = write_design_template(tmp_path / "field" / "design.yaml")
    named = path.read_text(encoding="utf-8").splitlines()[0].partition("$schema=")[2]
    assert (path.parent / named).read_text(encoding="utf-8") == schema_text()


def test_the_command_prints_or_writes_the_schema(tmp_path):
    shown = CliRunner().invoke(group, ["schema"], standalone_mode=False)
    assert json.loads(shown.output) == design_schema()
    CliRunner().invoke(group, ["schema", "-o", str(tmp_path / "s.json")], standalone_mode=False)
    assert (tmp_path / "s.json").read_text(encoding="utf-8") == schema_text()
