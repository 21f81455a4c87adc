"""Text files that hold a tree of keys: YAML 1.2 with line numbers, or TOML."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

from ruamel.yaml import YAML
from ruamel.yaml.comments import CommentedMap, CommentedSeq, TaggedScalar
from ruamel.yaml.composer import Composer, ComposerError
from ruamel.yaml.constructor import ConstructorError, RoundTripConstructor
from ruamel.yaml.error import MarkedYAMLError
from ruamel.yaml.events import CollectionStartEvent
from ruamel.yaml.nodes import MappingNode
from ruamel.yaml.scalarstring import ScalarString
from ruamel.yaml.scanner import RoundTripScanner

from geoagro.errors import DesignError, InputError
from geoagro.inputs.design.lines import Lines, Location, dotted
from geoagro.inputs.files import unusable_name
from geoagro.values.model import refuse_unseen

MOST_BYTES = 2_000_000
"""A design with its recipes has some thousand lines; what is larger is another file. Our own choice."""

MOST_ITEMS = 100_000
"""Keys and items, aliases written out. Our own choice."""

MOST_BRACKETS = 50
"""Brackets open at once. Our own choice; the parser's time grows with the cube of them."""

_TOO_DEEP = "is nested too deep to be read. Design files are nested five or six deep; look for brackets left open"


class _BracketsError(Exception):
    """More than MOST_BRACKETS are open."""


class _FewBrackets(RoundTripScanner):
    """Gives up where brackets are nested deeper than any design's."""

    def fetch_flow_collection_start(self, *token: Any, **asked: Any) -> None:
        """Open a bracket; raises _BracketsError where too many are open."""
        if self.flow_level >= MOST_BRACKETS:
            raise _BracketsError
        super().fetch_flow_collection_start(*token, **asked)


class _PlainKeys(Composer):
    """Takes no mapping or list for a key: made one inside the other, each would take the parser three times as long."""

    def compose_node(self, parent: Any, index: Any) -> Any:
        """Read a node; raises ComposerError with its line where it is a key and no text."""
        event = self.parser.peek_event()
        if isinstance(parent, MappingNode) and index is None and isinstance(event, CollectionStartEvent):
            raise ComposerError(problem="a key that is no text; put it in quotes", problem_mark=event.start_mark)
        return super().compose_node(parent, index)


class _DatesAsText(RoundTripConstructor):
    """Leaves dates as text, so that a day that doesn't exist is told like any other mistake, with its line.

    A value at which the parser itself falls over (`-___` for a number) gets its line, too.
    """

    def construct_non_recursive_object(self, node: Any, tag: Any = None) -> Any:
        """Make a value of one node; raises ConstructorError with its place where the parser can't."""
        try:
            return super().construct_non_recursive_object(node, tag)
        except (ValueError, TypeError, LookupError, AttributeError, AssertionError) as error:
            told = f"a value that can't be read as what it looks like ({_one_line(error)})"
            raise ConstructorError(problem=told, problem_mark=node.start_mark) from error


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
    try:
        if path.is_dir():
            raise InputError(f"{path} is a folder; name the design file in it, e.g. {path / 'design.yaml'}.")
        if path.exists() and not path.is_file():
            raise InputError(f"{path} is a device or pipe, not a file. Name the design file.")
        if path.stat().st_size > MOST_BYTES:
            size = path.stat().st_size / 1e6
            raise DesignError(f"{path.name}: has {size:.1f} MB; a design file has at most {MOST_BYTES / 1e6:.0f} MB.")
        return path.read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        raise InputError(f"{path} isn't there. `geoagro new FOLDER` writes one to start from.") from None
    except UnicodeDecodeError as error:
        raise InputError(f"{path} isn't text in UTF-8 ({error.reason}); save it as UTF-8.") from error
    except (OSError, ValueError) as error:
        raise unusable_name(path, error) from error


def _toml(text: str, name: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except RecursionError:
        raise DesignError(f"{name}: {_TOO_DEEP}.") from None
    except ValueError as error:
        raise DesignError(f"{name}: not TOML: {_one_line(error)}.") from error


def _yaml(text: str, name: str) -> tuple[Any, Lines]:
    yaml = YAML(typ="rt")
    yaml.Scanner, yaml.Composer, yaml.Constructor = _FewBrackets, _PlainKeys, _DatesAsText
    try:
        node = yaml.load(text)
    except MarkedYAMLError as error:
        raise DesignError(_yaml_problem(error, name)) from error
    except (RecursionError, _BracketsError):
        raise DesignError(f"{name}: {_TOO_DEEP}.") from None
    except MemoryError:
        raise
    except Exception as error:  # the parser lets much else through; whatever it is, the text is at fault
        raise DesignError(f"{name}: not YAML: {_one_line(error)}.") from error
    return _Tree(name).told(node)


def _one_line(error: Exception) -> str:
    text = " ".join(str(error).split()).rstrip(".") or type(error).__name__
    return text if len(text) <= 200 else f"{text[:197]}..."


def _yaml_problem(error: MarkedYAMLError, name: str) -> str:
    mark = error.problem_mark or error.context_mark
    line = f":{mark.line + 1}" if mark else ""
    problem = (error.problem or "not YAML").strip().splitlines()[0]
    if "duplicate key" in problem:
        return f"{name}{line}: {problem}. Keep one of them."
    return f"{name}{line}: not YAML: {problem}. Check the indentation, colons and quotes near that line."


class _Tree:
    """Plain dicts and lists of a YAML tree, with the line (from 1) of every key and item noted on the way."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.places: dict[Location, int] = {}
        self.items = 0

    def told(self, node: Any) -> tuple[Any, Lines]:
        """Plain values, and where they stand."""
        try:
            return self._plain(node, ()), Lines(self.places)
        except RecursionError:
            raise DesignError(f"{self.name}: {_TOO_DEEP}.") from None

    def _plain(self, node: Any, location: Location) -> Any:
        self._count(location)
        if isinstance(node, CommentedMap):
            for key in node:
                self._note((*location, self._key(key, node[key], location)), node.lc.data, key)
            return {key: self._plain(value, (*location, key)) for key, value in node.items()}
        if isinstance(node, CommentedSeq):
            for index in range(len(node)):
                self._note((*location, index), node.lc.data, index)
            return [self._plain(value, (*location, index)) for index, value in enumerate(node)]
        return self._scalar(node, location)

    def _count(self, location: Location) -> None:
        self.items += 1
        if self.items > MOST_ITEMS:
            raise self._problem(
                location,
                f"the file grows to more than {MOST_ITEMS:,} values when its aliases are written out; take them out",
            )

    def _note(self, location: Location, marks: Any, key: Any) -> None:
        """Keys that come from a merge (`<<`) stand elsewhere; the line of what holds them does for them."""
        if marks is not None and key in marks:
            self.places[location] = marks[key][0] + 1

    def _key(self, key: Any, value: Any, location: Location) -> str:
        if isinstance(key, int | float) and not isinstance(key, bool) and value is None:  # {spacing_m: 4,5}
            stray = f"{_one_line(ValueError(key))} stands alone behind a comma"
            raise self._problem(location, f"{stray}; a decimal number has a point: write 4.5, not 4,5")
        if not isinstance(key, str):
            raise self._problem(location, f"key {_one_line(ValueError(key))} must be text; put it in quotes")
        self._check(key, (*location, key))
        return key

    def _scalar(self, node: Any, location: Location) -> Any:
        if isinstance(node, bool) or node is None:
            return node
        if isinstance(node, str):
            self._check(node, location)
            return str(node).rstrip() if isinstance(node, ScalarString) else str(node)
        if isinstance(node, int) and abs(node) > 10**18:
            raise self._problem(location, "a whole number with more than 18 digits; nothing here is that large")
        for kind in (int, float):
            if isinstance(node, kind):
                return kind(node)
        tag = f" (tag {node.tag.value})" if isinstance(node, TaggedScalar) else ""
        raise self._problem(
            location, f"a kind of value that a design has no use for{tag}; write plain text or a number"
        )

    def _check(self, text: str, location: Location) -> None:
        try:
            refuse_unseen(text)
        except ValueError as error:
            raise self._problem(location, str(error)) from None

    def _problem(self, location: Location, text: str) -> DesignError:
        place = dotted(location[:6])
        return DesignError(f"{self.name}{Lines(self.places).at(location)}: {f'{place}: ' if place else ''}{text}.")
