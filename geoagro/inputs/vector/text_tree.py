"""Text files that hold a tree of keys: YAML 1.2 with line numbers, or TOML."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

from ruamel.yaml import YAML
from ruamel.yaml.comments import CommentedMap, CommentedSeq
from ruamel.yaml.constructor import RoundTripConstructor
from ruamel.yaml.error import MarkedYAMLError, YAMLError

from geoagro.errors import DesignError, InputError
from geoagro.inputs.design.lines import Lines, Location


class _DatesAsText(RoundTripConstructor):
    """Leaves dates as text, so that a day that doesn't exist is told like any other mistake, with its line."""


_DatesAsText.add_constructor("tag:yaml.org,2002:timestamp", lambda _constructor, node: node.value)


def load(path: Path) -> tuple[Any, Lines]:
    """Plain dicts and lists of a YAML or TOML file, and the line of every key and item (none for TOML).

    Raises InputError where the file is missing or no text, DesignError with the line where it isn't YAML or TOML.
    """
    text = _text(path)
    if path.suffix.lower() == ".toml":
        return _toml(text, path.name), Lines({})
    if path.suffix.lower() not in (".yaml", ".yml"):
        raise DesignError(f"{path.name}: a design file ends in .yaml, .yml or .toml.")
    return _yaml(text, path.name)


def _text(path: Path) -> str:
    if path.is_dir():
        raise InputError(f"{path} is a folder; name the design file in it, e.g. {path / 'design.yaml'}.")
    try:
        return path.read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        raise InputError(f"{path} isn't there. `geoagro new FOLDER` writes one to start from.") from None
    except UnicodeDecodeError as error:
        raise InputError(f"{path} isn't text in UTF-8 ({error.reason}); save it as UTF-8.") from error
    except OSError as error:
        raise InputError(f"{path} can't be read: {error.strerror}.") from error


def _toml(text: str, name: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise DesignError(f"{name}: not TOML: {error}.") from error


def _yaml(text: str, name: str) -> tuple[Any, Lines]:
    yaml = YAML(typ="rt")
    yaml.Constructor = _DatesAsText
    try:
        node = yaml.load(text)
    except MarkedYAMLError as error:
        raise DesignError(_yaml_problem(error, name)) from error
    except (YAMLError, ValueError) as error:
        raise DesignError(f"{name}: not YAML: {error}.") from error
    places: dict[Location, int] = {}
    return _plain(node, (), places), Lines(places)


def _yaml_problem(error: MarkedYAMLError, name: str) -> str:
    mark = error.problem_mark or error.context_mark
    line = f":{mark.line + 1}" if mark else ""
    problem = (error.problem or "not YAML").strip().splitlines()[0]
    if "duplicate key" in problem:
        return f"{name}{line}: {problem}. Keep one of them."
    return f"{name}{line}: not YAML: {problem}. Check the indentation, colons and quotes near that line."


def _plain(node: Any, location: Location, places: dict[Location, int]) -> Any:
    """Plain dicts and lists of a YAML tree, noting the line (from 1) of every key and item on the way."""
    if isinstance(node, CommentedMap):
        for key in node:
            places[(*location, key)] = node.lc.key(key)[0] + 1
        return {key: _plain(value, (*location, key), places) for key, value in node.items()}
    if isinstance(node, CommentedSeq):
        for index in range(len(node)):
            places[(*location, index)] = node.lc.item(index)[0] + 1
        return [_plain(value, (*location, index), places) for index, value in enumerate(node)]
    if isinstance(node, bool) or node is None:
        return node
    for kind in (str, int, float):
        if isinstance(node, kind):
            return kind(node)
    return node
