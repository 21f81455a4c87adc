"""Layers, columns, keys, options, commands and printed words hold to the guide's table of terms."""

import io
import json
import pkgutil
import re
from importlib import import_module
from pathlib import Path

import click
import geopandas as gpd
import pytest
from babel.messages.pofile import read_po
from pydantic import ValidationError
from shapely import Point

import geoagro
from geoagro.cli.main import COMMANDS, group
from geoagro.inputs.design.file import read_design
from geoagro.inputs.design.schema import schema_text
from geoagro.inputs.vector.file import read_features
from geoagro.outputs.words.catalog import catalog_text
from geoagro.values.design import VectorSource
from geoagro.values.layers import LayerSpec
from geoagro.values.measures import Quantity
from geoagro.values.results.options import Compared
from geoagro.values.rules.claim import EligibleRule
from geoagro.values.rules.renamed import RENAMED

PACKAGE = Path(geoagro.__file__).parent
GUIDE = PACKAGE / "guide"
ROW = re.compile(r"^\| ([^|]+) \| ([^|]+) \| ([^|]+) \| ([^|]+) \|$", re.M)
TERMS = {
    term.strip(): [word.strip() for word in never.split(",")]
    for term, _, _, never in ROW.findall((GUIDE / "terms.md").read_text(encoding="utf-8"))
    if term.strip() not in ("Term", "---")
}


def layer_specs():
    for info in pkgutil.walk_packages(geoagro.__path__, "geoagro."):
        if not info.name.endswith("__main__"):
            yield from (thing for thing in vars(import_module(info.name)).values() if isinstance(thing, LayerSpec))


def quantities():
    for info in pkgutil.walk_packages(geoagro.__path__, "geoagro."):
        if not info.name.endswith("__main__"):
            for thing in vars(import_module(info.name)).values():
                if isinstance(thing, Quantity | Compared):
                    yield thing if isinstance(thing, Quantity) else thing.quantity


def keys(schema):
    if isinstance(schema, dict):
        yield from ((name, part) for name, part in schema.get("properties", {}).items() if isinstance(part, dict))
        for part in schema.values():
            yield from keys(part)
    elif isinstance(schema, list):
        for part in schema:
            yield from keys(part)


@pytest.fixture(scope="module")
def specs():
    return {spec.name: spec for spec in layer_specs()}


@pytest.fixture(scope="module")
def texts(specs):
    """All that people read outside the guide, with where it stands."""
    catalog = read_po(io.BytesIO(catalog_text(PACKAGE).encode()))
    said = [("catalogue", str(message.id)) for message in catalog if message.id]
    for spec in specs.values():
        said.append(("layer", f"{spec.name} {spec.title}".replace("_", " ")))
        said += [(f"{spec.name}.{f.name}", f"{f.name.replace('_', ' ')}: {f.description}") for f in spec.fields]
    for name, part in keys(json.loads(schema_text())):
        said.append((f"key {name}", f"{name.replace('_', ' ')}: {part.get('description', '')}"))
    for name, (_, line) in COMMANDS.items():
        command = group.get_command(click.Context(group), name)
        said.append((f"command {name}", f"{line} {command.help}"))
        said += [(f"{name} {p.name}", p.help or "") for p in command.params if isinstance(p, click.Option)]
    return said


def test_the_table_of_terms_is_read_whole():
    assert len(TERMS) >= 25
    assert all(all(words) for words in TERMS.values())


@pytest.mark.parametrize("term", TERMS)
def test_no_other_word_is_used_for_a_term(term, texts):
    for word in TERMS[term]:
        pattern = re.compile(rf"\b{re.escape(word)}s?\b", re.IGNORECASE)
        assert [(where, text) for where, text in texts if pattern.search(text)] == [], f"{word}: say {term}"


def test_names_of_files_in_the_table_exist(specs):
    known = set(specs) | {f.name for spec in specs.values() for f in spec.fields}
    known |= {name for name, _ in keys(json.loads(schema_text()))}
    for _, _, written, _ in ROW.findall((GUIDE / "terms.md").read_text(encoding="utf-8"))[2:]:
        for name in re.findall(r"`([a-z_0-9]+)`", written):
            assert name in known or name == "track", name


def test_parts_of_a_whole_are_in_percent_and_named_so(specs):
    for spec in specs.values():
        for field in spec.fields:
            if field.unit == "%":
                assert field.name.endswith("_pct") or field.name in ("value",), f"{spec.name}.{field.name}"
            assert field.unit != "share" and "0 to 1" not in field.description, f"{spec.name}.{field.name}"
    for quantity in quantities():
        assert (quantity.written_unit == "%") == quantity.key.endswith("_pct"), quantity.key


COEFFICIENTS = {"runoff_coefficient", "roughness", "correlation", "lasting", "wood_density"}
"""Keys from 0 to 1 that aren't parts of a whole, or are written so in the trade."""


def test_no_key_takes_a_share_from_0_to_1():
    for name, part in keys(json.loads(schema_text())):
        if re.search(r'"(exclusiveM|m)aximum": (0\.\d+|1(\.0)?)\b', json.dumps(part)):
            assert name in COEFFICIENTS, name


def test_old_names_stand_in_the_guide_and_are_gone_from_the_program(specs):
    page = (GUIDE / "changes.md").read_text(encoding="utf-8")
    names = {f"{spec.name}.{f.name}" for spec in specs.values() for f in spec.fields}
    for one in RENAMED:
        assert f"| `{one.old}` | `{one.new}` |" in page
        if one.kind == "column":
            assert one.old not in names
            assert one.new in names


@pytest.mark.parametrize("one", [one for one in RENAMED if one.kind == "key"], ids=lambda one: one.old)
def test_an_old_key_is_answered_with_its_new_name(one, tmp_path):
    old, new = (name.replace("CROP", "maize") for name in (one.old, one.new))
    section: dict | list | int = 1
    for key in reversed(old.split(".")):
        section = {key: [section] if key in ("plantings", "thin") else section}
    (tmp_path / "design.yaml").write_text(json.dumps({"name": "a"} | section))
    with pytest.raises(geoagro.DesignError) as told:
        read_design(tmp_path / "design.yaml")
    assert f"{old}: is now {new}." in re.sub(r"\[\d+\]", "", str(told.value))


@pytest.mark.parametrize("one", [one for one in RENAMED if one.kind == "command"], ids=lambda one: one.old)
def test_an_old_command_is_answered_with_its_new_name(one):
    assert one.new in COMMANDS and one.old not in COMMANDS
    with pytest.raises(click.UsageError, match=rf"^{re.escape(one.old)} is now {re.escape(one.new)}\."):
        group([one.old, "design.yaml"], standalone_mode=False)


@pytest.mark.parametrize("one", [one for one in RENAMED if one.kind == "value"], ids=lambda one: one.old)
def test_an_old_value_is_answered_with_its_new_name(one):
    with pytest.raises(ValidationError, match=f"'{one.old}' is now {one.new}"):
        EligibleRule(ground=(one.old,))


def test_an_old_layer_is_answered_with_its_new_name(tmp_path):
    gpd.GeoDataFrame(geometry=[Point(0, 0)], crs=32633).to_file(tmp_path / "a.gpkg", layer="trees")
    with pytest.raises(geoagro.InputError, match=r"no layer 'beds'.*In results it is now vegetable_beds\."):
        read_features(VectorSource(file=tmp_path / "a.gpkg", layer="beds"), folder=tmp_path, key="inputs.areas")
