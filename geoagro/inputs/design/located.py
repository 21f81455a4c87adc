"""Where in the design file the key stands that an error names."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, get_args, get_origin

from pydantic import BaseModel

from geoagro.errors import GeoagroError
from geoagro.inputs.design.lines import Location, parse_key
from geoagro.inputs.vector.text_tree import load
from geoagro.values.design import Design
from geoagro.values.recipe import EMPTY_PLACE

_KEY = re.compile(r"(?P<key>[a-z_]+(?:\[\d+\])?(?:\.[a-z_]+(?:\[\d+\])?)*)(?=:| \(| is\b)")
_NAMED = re.compile(r"(?P<what>planting|zone|crop) '(?P<name>[^']*)'")


@contextmanager
def located(path: Path) -> Iterator[None]:
    """Put file and line before each line of an error that begins with a key, planting, zone or crop of the design."""
    try:
        yield
    except GeoagroError as error:
        text = str(error)
        told = "\n".join(_located(line, Path(path)) for line in text.splitlines())
        if told == text:
            raise
        raise type(error)(told) from error


def _located(text: str, path: Path) -> str:
    try:
        data, lines = load(path)
    except GeoagroError:
        return text
    place = _place(text, data)
    return f"{path.name}{lines.at(place)}: {text}" if place and place[0] in data else text


def _place(text: str, data: Any) -> Location:
    """Place in the file that a text is about; () where it names none."""
    if named := _NAMED.match(text):
        return _named(named["what"], named["name"], data)
    key = _KEY.match(text)
    place = parse_key(key["key"]) if key else ()
    return place if _is_key(place) else ()


def _is_key(place: Location) -> bool:
    """Tell whether the design may have such a key: `rows.spacing_m`, but not `rows.gpkg`, which is a result."""
    field = Design.model_fields.get(str(place[0])) if place else None
    if field is None:
        return False
    kinds = (
        field.annotation,
        *(get_args(field.annotation) if get_origin(field.annotation) not in (dict, tuple) else ()),
    )
    section = next((kind for kind in kinds if isinstance(kind, type) and issubclass(kind, BaseModel)), None)
    return section is None or len(place) == 1 or place[1] in section.model_fields


def _named(what: str, name: str, data: Any) -> Location:
    """Place of the zone or planting of a name, or of the first planting with a crop; those of zones included."""
    if what == "zone":
        return next((("zones", k) for k, zone in enumerate(_items(data, "zones")) if zone.get("name") == name), ())
    meant = _uses if what == "crop" else _is_named
    for k, planting in enumerate(_items(data, "plantings")):
        if meant(planting, name):
            return ("plantings", k)
    for number, zone in enumerate(_items(data, "zones")):
        for k, planting in enumerate(_items(zone, "plantings")):
            if meant(planting, name):
                return ("zones", number, "plantings", k)
    return ()


def _is_named(planting: dict[str, Any], name: str) -> bool:
    return _label(planting) == name


def _uses(planting: dict[str, Any], code: str) -> bool:
    return code in {planting.get("crop"), planting.get("instead_of"), *(planting.get("sequence") or ())}


def _items(data: Any, key: str) -> list[dict[str, Any]]:
    found = data.get(key) if isinstance(data, dict) else None
    return [item for item in found if isinstance(item, dict)] if isinstance(found, list) else []


def _label(planting: dict[str, Any]) -> str:
    """Name of a planting as errors write it."""
    if planting.get("name"):
        return str(planting["name"])
    codes = planting.get("sequence") or [planting.get("crop")]
    return "+".join(dict.fromkeys(str(code) for code in codes if code != EMPTY_PLACE))
