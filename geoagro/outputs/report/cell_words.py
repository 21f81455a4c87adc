"""What the cells of an account's workbooks are called: kinds of ground, crops and set words, never the user's own names."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from geoagro.outputs.report.areas import item_words
from geoagro.outputs.tables.cells import Table
from geoagro.outputs.tables.column_words import VALUES, unit_words
from geoagro.outputs.words.say import Words
from geoagro.values.layers import Field
from geoagro.values.rules.crop_words import stratum_words
from geoagro.values.words import Sentence, say
from geoagro.values.zones import PURPOSES, REST

_ABOUT = {
    text: text
    for text in (
        say("rows"), say("rows by hand"), say("beds"), say("tree beds"), say("water"), say("working CRS"), say("receiver"),
        say("points"), say("names"), say("crops"), say("positions"), say("plots"), say("traces"), say("survey"),
    )
}  # fmt: skip
"""What a finding is about, where it is no file, key or name."""
_GROUND = {"account_areas", "account_eligible", "account_built"}  # tables whose items are kinds of ground
_SET = frozenset(
    ["habit", "definition", "notes", "cause", "method", "basis", "native", "finding", "measure"]
)  # columns of words or sentences of our own
LEVELS = {"note": say("Note"), "repair": say("Repair"), "warning": say("Warning"), "caution": say("Caution")}
_SOURCES = {
    "program": say("program"),
    "working_crs": say("working CRS"),
    "heights": say("heights"),
    "boundary": say("boundary"),
    "design": say("design"),
    "design_file": say("design file"),
    "elevation": say("elevation"),
    "contours": say("contours"),
    "slope": say("slope"),
    "aspect": say("aspect"),
    "exclusions": say("exclusion"),
    "tracks": say("access track"),
    "areas": say("area"),
    "guides": say("guide line"),
    "outlets": say("outlet"),
    "water_bodies": say("water body"),
    "rows": say("drawn rows"),
    "recipe": say("recipe file"),
    "recipes": say("recipe file"),
}
_ONES = {
    "severity": LEVELS,
    "kind": VALUES["bed_kind"],
    "met": VALUES["met"],
    "eligible": VALUES["eligible"],
    "now": {"unchanged": say("unchanged"), "changed": say("changed since"), "missing": say("missing")},
    "zone": {REST: REST},
    "parcel": {"whole field": say("whole field")},
    "crop": {"all": say("all crops")},
}
"""Words that are set, by column; anything else in these columns is a name of the design's."""


def said(table: Table, words: Words) -> list[tuple[Any, ...]]:
    """Give the table's rows with its texts in this language; numbers and the user's own names stay as they are."""
    fields, name = table.spec.fields, table.spec.name
    return [tuple(_cell(name, f, v, words) for f, v in zip(fields, row, strict=True)) for row in table.rows]


def about_words(about: str, words: Words) -> str:
    """Say what a finding is about: names, files and keys stay."""
    if words.is_own_place(about):
        return about
    if about in _ABOUT:
        return words(_ABOUT[about])
    if "." in about and not isinstance(about, Sentence) and " " not in about:
        return about
    return (
        words(about)
        if isinstance(about, Sentence)
        else words.crop(about)
        if about == words.again(about)
        else words.again(about)
    )


def source_value(item: str, value: str, words: Words) -> str:
    """Say what a source is: our own sentences in this language, names of files as they stand."""
    return words.again(value) if item in ("heights", "design", "design_file") else value


def source_words(item: str, words: Words) -> str:
    """Name what a layout was made from: set words in this language, names of further files as they stand."""
    key, _, number = item.rstrip("]").partition("[")
    if number and key in _SOURCES:
        return words(say("{what} {number}"), what=words(_SOURCES[key]), number=number)
    return words(_SOURCES[item]) if item in _SOURCES else item.replace("_", " ")


def _cell(table: str, field: Field, value: Any, words: Words) -> Any:
    if not isinstance(value, str) or not value:
        return value
    if (say_it := _way(table, field.name)) is not None:
        return say_it(value, words)
    if isinstance(value, Sentence):
        return words(value)
    one = _ONES.get(field.name, {}).get(value)
    return value if one is None else words(one)


def _way(table: str, column: str) -> Callable[[str, Words], str] | None:
    """Give how a column's texts are said where they are neither set words nor sentences; None else."""
    if column in {"item", "part_of"} and table in _GROUND:
        return item_words
    if table == "account_sources":
        return {"item": source_words, "value": _again}.get(column)
    return _again if column in _SET else _WAYS.get(column)


def _again(text: str, words: Words) -> str:
    return words.again(text)


def _crop(name: str, words: Words) -> str:
    return words.crop(name)


def _purpose(purpose: str, words: Words) -> str:
    return words(PURPOSES[purpose]) if purpose in PURPOSES else purpose


def _stratum(code: str, words: Words) -> str:
    return words(stratum_words(code))


_WAYS: dict[str, Callable[[str, Words], str]] = {
    "name": _crop,
    "stratum": _stratum,
    "unit": unit_words,
    "purpose": _purpose,
    "about": about_words,
}
