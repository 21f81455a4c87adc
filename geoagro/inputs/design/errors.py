"""Say in words what is wrong with a design file: line, key, what was found, what is allowed, the fix."""

from __future__ import annotations

import difflib
import re
import types
from collections.abc import Mapping
from typing import Any, Union, get_args, get_origin

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo

from geoagro.inputs.design.lines import Lines, Location, dotted
from geoagro.values.rules.renamed import new_name

_BOUNDS = {
    "greater_than": "above",
    "greater_than_equal": "at least",
    "less_than": "below",
    "less_than_equal": "at most",
}
_KINDS = {
    "float": "a number",
    "int": "a whole number",
    "bool": "true or false",
    "string": "text",
    "path": "a path",
    "tuple": "a list (one item per line, each starting with '- ')",
    "model": "a section with keys of its own",
    "dict": "a section with keys of its own",
    "date": "a date such as 2026-03-01",
}


def explain(error: ValidationError, *, file: str, lines: Lines, root: type[BaseModel]) -> str:
    """Write one line per mistake in a file of the record `root`, in the order of the file; a value that fits none of several kinds counts once."""
    found: dict[tuple[Location, str], list[tuple[str, dict[str, Any]]]] = {}
    for item in error.errors():
        kind = item["type"] if item["type"] in ("extra_forbidden", "missing") else "value"
        place = _place(root, item["loc"], kind)
        found.setdefault((place, kind if kind != "value" else ""), []).append((item["type"], dict(item)))
    told = [(lines.at(place), _sentence(root, place, items)) for (place, _), items in found.items()]
    told.sort(key=lambda pair: int(pair[0][1:] or 0))
    return "\n".join(f"{file}{at}: {text}" for at, text in told)


def _place(root: Any, location: Location, kind: str) -> Location:
    """Drop what pydantic adds to a location: it isn't a field of the record it stands in."""
    kept: Location = ()
    for step in location:
        annotation, _ = _declared(root, kept)
        model, is_mapping, is_list = _shape(annotation)
        fits = (
            (model is not None and (step in _fields(model) or kind == "extra_forbidden"))
            or is_mapping
            or (is_list and isinstance(step, int))
        )
        if not fits:
            break
        kept = (*kept, step)
    return kept


def _declared(root: Any, location: Location) -> tuple[Any, FieldInfo | None]:
    """Find the type declared at a location of the design, and its field where it is one."""
    annotation: Any = root
    field: FieldInfo | None = None
    for step in location:
        model, is_mapping, is_list = _shape(annotation)
        field = None
        if model is not None and step in _fields(model):
            field = _fields(model)[str(step)]
            annotation = field.annotation
        elif is_mapping or is_list:
            annotation = _item_type(annotation)
        else:
            return None, None
    return annotation, field


def _fields(model: type[BaseModel]) -> dict[str, FieldInfo]:
    """Fields of a record by the key that a file uses for them."""
    return {field.alias or name: field for name, field in model.model_fields.items()}


def _options(annotation: Any) -> list[Any]:
    if get_origin(annotation) in (Union, types.UnionType):
        return [part for option in get_args(annotation) for part in _options(option)]
    return [annotation]


def _shape(annotation: Any) -> tuple[type[BaseModel] | None, bool, bool]:
    """Find the record in a type (if any), and whether it may be a mapping or a list."""
    options = _options(annotation)
    models = [o for o in options if isinstance(o, type) and issubclass(o, BaseModel)]
    origins = [get_origin(o) for o in options]
    return (
        models[0] if models else None,
        any(isinstance(o, type) and issubclass(o, Mapping) for o in origins),
        any(o in (tuple, list) for o in origins),
    )


def _item_type(annotation: Any) -> Any:
    for option in _options(annotation):
        origin, inner = get_origin(option), get_args(option)
        if origin in (tuple, list):
            return inner[0]
        if isinstance(origin, type) and issubclass(origin, Mapping):
            return inner[1]
    return None


def _sentence(root: Any, place: Location, items: list[tuple[str, dict[str, Any]]]) -> str:
    kind, item = items[0]
    if kind == "extra_forbidden":
        moved = new_name("key", dotted(place))
        return f"{dotted(place)}: {moved or f'unknown key{_nearest_key(root, place)}'}"
    if kind == "missing":
        return f"{dotted(place)}: missing.{_about(root, place)}"
    if kind == "value_error" and len(items) == 1:
        text = str(item["ctx"]["error"]) if "ctx" in item else item["msg"]
        return f"{dotted(place)}: {text}." if place else f"{text}."
    rules = list(dict.fromkeys(_rule(k, i) for k, i in items))
    return f"{dotted(place)}: must be {' or '.join(rules)} (got {_shown(item['input'])}).{_nearest(items)}{_about(root, place)}"


def _rule(kind: str, item: dict[str, Any]) -> str:
    context = item.get("ctx", {})
    if kind in _BOUNDS:
        return f"{_BOUNDS[kind]} {next(iter(context.values())):g}"
    if kind == "literal_error":
        return f"{'one of ' if ',' in str(context['expected']) else ''}{context['expected']}"
    if kind == "finite_number":
        return "a finite number"
    if kind == "value_error":
        return f"right: {context['error']}"
    for name, text in _KINDS.items():
        if kind.startswith(name):
            return text
    return str(item["msg"]).removeprefix("Input should be ")


def _nearest(items: list[tuple[str, dict[str, Any]]]) -> str:
    expected = " ".join(str(item["ctx"]["expected"]) for kind, item in items if kind == "literal_error")
    choices = re.findall(r"'([^']*)'", expected)
    close = difflib.get_close_matches(str(items[0][1]["input"]), choices, n=1)
    return f" Did you mean '{close[0]}'?" if close else ""


def _nearest_key(root: Any, place: Location) -> str:
    model, _, _ = _shape(_declared(root, place[:-1])[0])
    names = [n for n in _fields(model) if n != "folder"] if model is not None else []
    close = difflib.get_close_matches(str(place[-1]), names, n=1, cutoff=0.5)
    if close:
        return f"; did you mean '{close[0]}'?"
    return f"; known here: {', '.join(names)}." if names else "."


def _about(root: Any, place: Location) -> str:
    """Say what the key is for and its default, as far as the record says so."""
    _, field = _declared(root, place)
    if field is None:
        return ""
    about = f" {field.description}" if field.description else ""
    default = field.default
    if field.is_required() or default is None or isinstance(default, (tuple, BaseModel)):
        return about
    return f"{about} The default is {default}."


def _shown(value: Any) -> str:
    if isinstance(value, int) and abs(value) > 10**18:
        return "a number of more than 18 digits"
    text = repr(value) if isinstance(value, str) else str(value)
    return text if len(text) <= 60 else text[:57] + "..."
