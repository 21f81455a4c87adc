"""Values of a design put in place of those in its file, e.g. to try several."""

from __future__ import annotations

from collections.abc import Mapping
from copy import deepcopy
from typing import Any

from ruamel.yaml import YAML
from ruamel.yaml.error import YAMLError

from geoagro.errors import DesignError
from geoagro.inputs.design.lines import Location, parse_key


def changed(data: dict[str, Any], changes: Mapping[str, str]) -> dict[str, Any]:
    """Copy a design's data with other values, given as text in YAML by key, such as `plantings[2].spacing_m`.

    Raises DesignError for a key whose list or section isn't there, or text that isn't a value. Whether the key is one of
    the design's own is for the check that follows.
    """
    copy = deepcopy(data)
    for key, text in changes.items():
        _put(copy, parse_key(key), _value(key, text), key)
    return copy


def _value(key: str, text: str) -> Any:
    try:
        return YAML(typ="safe").load(text)
    except YAMLError as error:
        raise DesignError(f"{key}: '{text}' isn't a value (number, word, true or false).") from error


def _put(data: Any, place: Location, value: Any, key: str) -> None:
    for step in place[:-1]:
        if isinstance(step, int):
            if not isinstance(data, list) or step >= len(data):
                raise DesignError(f"{key}: the design has no item {step + 1} there.")
            data = data[step]
        elif isinstance(data, dict):
            data = data.setdefault(step, {})
        else:
            raise DesignError(f"{key}: '{step}' isn't in a section of the design.")
    last = place[-1]
    fits = isinstance(data, dict) if isinstance(last, str) else isinstance(data, list) and last < len(data)
    if not fits:
        raise DesignError(f"{key}: the design has no such place.")
    data[last] = value
