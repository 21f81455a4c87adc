"""What the cells of an account's workbooks are called: kinds of ground, crops and set words, never the user's own names."""

from __future__ import annotations

from typing import Any

from geoagro.outputs.report.areas import item_words
from geoagro.outputs.tables.cells import Table
from geoagro.outputs.words.say import Words
from geoagro.values.layers import Field
from geoagro.values.rules.bed_kinds import BED_KINDS
from geoagro.values.words import Sentence, say
from geoagro.values.zones import REST

_GROUND = {"account_areas", "account_eligible", "account_built"}  # tables whose items are kinds of ground
_SET = frozenset(
    ["habit", "stratum", "definition", "notes", "cause", "method", "basis", "purpose", "native"]
)  # columns of words or sentences of our own
LEVELS = {"note": say("Note"), "repair": say("Repair"), "warning": say("Warning"), "caution": say("Caution")}
_SOURCES = {
    "program": say("program"),
    "working_crs": say("working CRS"),
    "heights": say("heights"),
    "boundary": say("boundary"),
    "design": say("design"),
    "design_file": say("design file"),
}
_ONES = {
    "level": LEVELS,
    "kind": {code: kind.one for code, kind in BED_KINDS.items()},
    "met": {"yes": say("kept"), "no": say("broken")},
    "eligible": {"yes": say("counts"), "no": say("doesn't count")},
    "now": {"unchanged": say("unchanged"), "changed": say("changed since"), "missing": say("missing")},
    "zone": {REST: REST},
    "parcel": {"whole field": say("whole field")},
}
"""Words that are set, by column; anything else in these columns is a name of the design's."""


def said(table: Table, words: Words) -> list[tuple[Any, ...]]:
    """Give the table's rows with its texts in this language; numbers and the user's own names stay as they are."""
    fields, name = table.spec.fields, table.spec.name
    return [tuple(_cell(name, f, v, words) for f, v in zip(fields, row, strict=True)) for row in table.rows]


def source_words(item: str, words: Words) -> str:
    """Name what a layout was made from: set words in this language, names of further files as they stand."""
    return words(_SOURCES[item]) if item in _SOURCES else item.replace("_", " ")


def _cell(table: str, field: Field, value: Any, words: Words) -> Any:
    if not isinstance(value, str) or not value:
        return value
    if field.name in {"item", "part_of"} and table in _GROUND:
        return item_words(value, words)
    if table == "account_sources" and field.name == "item":
        return source_words(value, words)
    if field.name == "name":
        return words.crop(value)
    if field.name in _SET or isinstance(value, Sentence):
        return words(value)
    one = _ONES.get(field.name, {}).get(value)
    return value if one is None else words(one)
