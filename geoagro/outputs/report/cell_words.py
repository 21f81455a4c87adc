"""What the cells of an account's workbooks are called: kinds of ground, crops and set words, never the user's own names."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from typing import Any

from geoagro.outputs.report.areas import item_words
from geoagro.outputs.tables.cells import Table
from geoagro.outputs.words.say import Words
from geoagro.values.layers import Field, LayerSpec
from geoagro.values.rules.bed_kinds import BED_KINDS
from geoagro.values.rules.crop_words import stratum_words
from geoagro.values.words import Sentence, say
from geoagro.values.zones import REST

_HEADS = {
    "sha256": say("Checksum (SHA-256)"),
    "now": say("File now"),
    "geodesic_area_m2": say("Area on the ellipsoid"),
    "ground_area_m2": say("Area along the slope"),
    "field_pct": say("Share of the field"),
    "share_area_m2": say("Share of planted beds"),
    "canopy_m2": say("Area of crowns"),
    "canopy_pct": say("Ground under crowns"),
    "per_ha_field": say("Plants per ha of field"),
    "per_ha_plantable": say("Plants per ha of plantable ground"),
    "per_ha_planted": say("Plants per ha of planted beds"),
    "per_ha_own_beds": say("Plants per ha of its own beds"),
    "trees_per_ha": say("Trees per ha of the parcel"),
    "trees_per_ha_field": say("Trees per ha of field"),
    "trees_per_ha_planted": say("Trees per ha of planted beds"),
    "standing_at_once": say("Most plants at once"),
    "grade_p95_pct": say("Grade, 95 % flatter"),
    "row_spacing_m": say("Row spacing"),
    "other_m2": say("Other ground"),
    "kind": say("Kind of bed"),
    "size_m": say("Error of a point, or cell"),
    "alike_m": say("Errs alike within"),
    "sd_m2": say("Standard deviation"),
    "sd_pct": say("Standard deviation"),
    "surveyed": say("Looked at"),
    "low": say("Lower end of interval"),
    "low_pct": say("Lower end of interval"),
    "high": say("Upper end of interval"),
    "high_pct": say("Upper end of interval"),
    "change_pct": say("Change since last survey"),
    "change_m2": say("Change since last survey"),
    "designed_m2": say("As designed"),
    "built_m2": say("As built"),
    "less_m2": say("Built less designed"),
    "basis": say("How it was found"),
    "method": say("How it is computed"),
    "x": say("East"),
    "y": say("North"),
    "lon": say("Longitude"),
    "lat": say("Latitude"),
    "shows": say("What it shows"),
    "not_eligible_m2": say("Doesn't count"),
    "eligible_m2": say("Counts"),
    "eligible": say("Counts"),
    "planted_m2": say("Planted beds"),
    "broken": say("Limits broken"),
    "rule": say("Key of the rule"),
    "asked": say("Limit"),
    "met": say("Limit kept"),
    "scientific": say("Scientific name"),
    "native": say("Native species"),
    "standing_now": say("Standing today"),
    "counted": say("Plants counted"),
    "error_m": say("Error of a point"),
    "by": say("Surveyed by"),
    "field_m2": say("Gross field"),
    "field_geodesic_m2": say("Gross field on the ellipsoid"),
    "plantable_m2": say("Plantable ground"),
    "row_length_m": say("Length of tree rows"),
    "crs": say("CRS"),
    "measure": say("What is measured"),
    "at": say("Measured at"),
    "key": say("Name for programs"),
    "indicator": say("Name for programs"),
    "level": say("Severity"),
    "place": say("About"),
}
"""Heads of columns whose name alone doesn't say it; others are called by their name."""
UNITS = {
    "rows": say("rows"),
    "spacings": say("spacings"),
    "years": say("years"),
    "plants": say("plants"),
    "hours": say("hours"),
    "days": say("days"),
}
"""Units that are words."""
_ABOUT = {
    text: text
    for text in (
        say("rows"), say("rows by hand"), say("beds"), say("tree beds"), say("water"), say("working CRS"), say("receiver"),
        say("points"), say("names"), say("crops"), say("positions"), say("plots"), say("traces"),
    )
}  # fmt: skip
"""What a finding is about, where it is no file, key or name."""
_GROUND = {"account_areas", "account_eligible", "account_built"}  # tables whose items are kinds of ground
_SET = frozenset(
    ["habit", "definition", "notes", "cause", "method", "basis", "purpose", "native", "finding", "measure"]
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
    "crop": {"all": say("all crops")},
}
"""Words that are set, by column; anything else in these columns is a name of the design's."""


def said(table: Table, words: Words) -> list[tuple[Any, ...]]:
    """Give the table's rows with its texts in this language; numbers and the user's own names stay as they are."""
    fields, name = table.spec.fields, table.spec.name
    return [tuple(_cell(name, f, v, words) for f, v in zip(fields, row, strict=True)) for row in table.rows]


def plain_heads(tables: Iterable[LayerSpec]) -> Iterator[str]:
    """Give the heads that are made of a column's name."""
    yield from (field.head for table in tables for field in table.fields if field.name not in _HEADS)


def head_words(field: Field, words: Words) -> str:
    """Give the head of a column with its unit; per hectare needs none, as its heads say it."""
    head = words(_HEADS.get(field.name, field.head))
    return f"{head} ({unit_words(field.unit, words)})" if field.unit and field.unit != "1/ha" else head


def unit_words(unit: str, words: Words) -> str:
    """Say a unit: words are said, signs are written as on paper."""
    return words(UNITS[unit]) if unit in UNITS else {"m2": "m²", "deg": "°"}.get(unit, unit)


def about_words(about: str, words: Words) -> str:
    """Say what a finding is about: names, files and keys stay."""
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


def _stratum(code: str, words: Words) -> str:
    return words(stratum_words(code))


_WAYS: dict[str, Callable[[str, Words], str]] = {
    "name": _crop,
    "stratum": _stratum,
    "unit": unit_words,
    "place": about_words,
}
