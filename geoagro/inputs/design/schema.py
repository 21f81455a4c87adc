"""The design file's keys, units, limits and meanings as JSON Schema, for editors that complete and check."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from geoagro.values.design import Design

DIALECT = "https://json-schema.org/draft/2020-12/schema"
SCHEMA_FILE = "design.schema.json"
_LENGTH_TEXT = r"^\s*[-+]?[0-9.]+([eE][-+]?[0-9]+)?\s*([mM]|[cC][mM]|[mM][mM]|[fF][tT]|[iI][nN]|[yY][dD])\s*$"
_LIMITS = {"ge": "minimum", "gt": "exclusiveMinimum", "le": "maximum", "lt": "exclusiveMaximum"}
UNITS = {
    "_t_per_ha": "t/ha", "_per_ha": "1/ha", "_per_m2": "per m2", "_m2": "m2", "_mm_h": "mm/h", "_mm": "mm", "_ha": "ha", "_m": "m", "_pct": "%", "_deg": "degrees",
    "_weeks": "weeks", "_days": "days", "_hours": "h", "_kg": "kg", "_g": "g",
}  # fmt: skip
"""Unit by the end of a key, longest ends first."""


def design_schema() -> dict[str, Any]:
    """JSON Schema (draft 2020-12) of a design file: what `read_design` takes, except rules between several keys."""
    schema = Design.model_json_schema()
    schema["properties"].pop("folder")
    schema["description"] = "What is asked of a field: files, rows, beds, crops, marking out, season, report."
    return {"$schema": DIALECT, **_plain(schema)}


def schema_text() -> str:
    """Give the schema as the text of a file, the same each time."""
    return json.dumps(design_schema(), indent=1, ensure_ascii=False) + "\n"


def unit_of(key: str) -> str:
    """Give the unit that the end of a key names, or "".

    >>> unit_of("spacing_m"), unit_of("max_grade_pct"), unit_of("name")
    ('m', '%', '')
    """
    return next((unit for end, unit in UNITS.items() if key.endswith(end)), "")


@dataclass(frozen=True)
class Key:
    """One key of the design file: its section, name, meaning, unit, default and choices, as words."""

    section: str
    name: str
    meaning: str
    unit: str
    default: str
    choices: tuple[str, ...]


def design_keys() -> Iterator[Key]:
    """Every key with what the schema says of it, section by section; a section used at several places is told once."""
    schema = design_schema()
    waiting, told = [("", schema)], {"Design"}
    while waiting:
        path, section = waiting.pop(0)
        after: list[tuple[str, dict[str, Any]]] = []
        required = section.get("required", ())
        for name, entry in section.get("properties", {}).items():
            choices = _choices(entry)
            yield Key(path, name, _meaning(entry, schema), unit_of(name), _default(entry, name in required), choices)
            below = {model: mark for model, mark in _models(entry, "") if model not in told}
            told |= set(below)
            after += [(f"{path}.{name}{mark}".lstrip("."), schema["$defs"][model]) for model, mark in below.items()]
        waiting = after + waiting


def _models(entry: dict[str, Any], mark: str) -> Iterator[tuple[str, str]]:
    """Sections that an entry leads to; `[]` marks a list, `NAME` a name of the user's own."""
    if "$ref" in entry:
        yield entry["$ref"].rsplit("/", 1)[1], mark
    for part in entry.get("anyOf", ()):
        yield from _models(part, mark)
    if isinstance(entry.get("items"), dict):
        yield from _models(entry["items"], mark + "[]")
    if isinstance(entry.get("additionalProperties"), dict):
        yield from _models(entry["additionalProperties"], mark + ".NAME")


def key_tables() -> str:
    """Markdown tables of all keys, a section each."""
    parts: list[str] = []
    section = None
    for key in design_keys():
        if key.section != section:
            section = key.section
            parts += [
                "",
                f"## {section or 'The file'}",
                "",
                "| Key | Unit | If left out | Meaning |",
                "|---|---|---|---|",
            ]
        choices = f" One of: {', '.join(key.choices)}." if key.choices and "one of" not in key.meaning else ""
        cells = (f"`{key.name}`", key.unit, key.default.strip('"'), (key.meaning + choices).replace("|", "\\|"))
        parts.append(f"| {' | '.join(cells)} |")
    return "\n".join(parts).strip() + "\n"


def _meaning(entry: dict[str, Any], schema: dict[str, Any]) -> str:
    own = str(entry.get("description", ""))
    if own or "$ref" not in entry:
        return own
    return str(schema["$defs"][entry["$ref"].rsplit("/", 1)[1]].get("description", "")).split("\n")[0]


def _default(entry: dict[str, Any], needed: bool) -> str:
    if needed:
        return "needed"
    value = entry.get("default")
    return "" if value is None or isinstance(value, dict | list) else json.dumps(value, ensure_ascii=False)


def _choices(entry: dict[str, Any]) -> tuple[str, ...]:
    parts = [entry, *entry.get("anyOf", ())]
    return tuple(str(choice) for part in parts for choice in (*part.get("enum", ()), *_only(part)))


def _only(part: dict[str, Any]) -> tuple[Any, ...]:
    return (part["const"],) if "const" in part else ()


def _plain(node: Any) -> Any:
    """Drop titles that only repeat the key; give limits their names; let lengths carry a unit."""
    if isinstance(node, list):
        return [_plain(part) for part in node]
    if not isinstance(node, dict):
        return node
    plain = {
        key: _properties(value) if key in ("properties", "$defs") else _plain(value) for key, value in node.items()
    }
    if "type" in plain or "anyOf" in plain or "$ref" in plain:
        plain.pop("title", None)
    limits = {_LIMITS[key]: plain.pop(key) for key in tuple(plain) if key in _LIMITS}
    return _with_limits(plain, limits) if limits else plain


def _properties(named: dict[str, Any]) -> dict[str, Any]:
    return {name: _plain(entry) for name, entry in named.items()}


def _with_limits(node: dict[str, Any], limits: dict[str, Any]) -> dict[str, Any]:
    if "anyOf" not in node:
        return node | limits
    number, text = {"type": "number", **limits}, {"type": "string", "pattern": _LENGTH_TEXT}
    lengths = {"number": number, "string": text}
    return node | {"anyOf": [lengths.get(part.get("type", ""), part) for part in node["anyOf"]]}
