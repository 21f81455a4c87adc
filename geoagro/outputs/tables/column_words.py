"""A table's columns and their set values in the reader's language: heads of sheets, aliases and lists in a GIS viewer."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from geoagro.outputs.tables.heads import HEADS, HEADS_OF_LAYERS, UNITS
from geoagro.outputs.words.say import Words
from geoagro.values.layers import Field, LayerSpec
from geoagro.values.reasons import REASONS
from geoagro.values.rules.bed_kinds import BED_KINDS
from geoagro.values.rules.crop_words import STRATA
from geoagro.values.words import say

_REASONS = {code: reason.words for code, reason in REASONS.items()}
VALUES: dict[str, Mapping[str, str]] = {
    "reason": _REASONS,
    "bed_kind": {code: kind.one for code, kind in BED_KINDS.items()},
    "stratum": STRATA,
    "side": {"up": say("upslope"), "down": say("downslope")},
    "kind": {**_REASONS, "peg": say("pegs"), "row": say("row"), "tape": say("by tape"), "check": say("check")},
    "status": {"done": say("laid out"), "failed": say("failed"), "died": say("process lost")},
    "met": {"yes": say("kept"), "no": say("broken")},
    "eligible": {"yes": say("counts"), "no": say("doesn't count")},
    "figure": {"planted_area_m2": say("Planted area"), "trees": say("Trees"), "plants": say("Plants")},
}
"""What the values of a column are called that has a fixed list, by the column's name."""


@dataclass(frozen=True)
class TableWords:
    """What a layer's columns and their listed values are called and mean, each in the order of its declaration."""

    heads: tuple[str, ...]
    meanings: tuple[str, ...]
    values: tuple[tuple[str, ...], ...]


def table_words(spec: LayerSpec, words: Words) -> TableWords:
    """Name a layer's columns; no two of them share a name, as the format asks for.

    >>> from geoagro.outputs.words.say import ENGLISH
    >>> from geoagro.values.site import EXCLUSIONS
    >>> table_words(EXCLUSIONS, ENGLISH).heads
    ('Name', 'Kind', 'Distance kept around it (m)', 'Area (m²)')
    >>> table_words(EXCLUSIONS, ENGLISH).values[1]
    ('Exclusion', 'Access track')
    """
    heads = with_names([head_words(field, words, layer=spec.name) for field in spec.fields], spec.columns)
    return TableWords(
        tuple(heads), meanings(spec, words), tuple(tuple(value_words(field, words)) for field in spec.fields)
    )


def meanings(spec: LayerSpec, words: Words) -> tuple[str, ...]:
    """Say what each column means; all in English where the language lacks one of them, so that no layer is of two languages."""
    texts = tuple(field.description for field in spec.fields)
    return tuple(map(words, texts)) if all(map(words.says, texts)) else texts


def with_names(texts: list[str], names: Iterable[str]) -> list[str]:
    """Put each one's own name behind a text that several share; names of any case count as one.

    >>> with_names(["Area", "area", "Row"], ["map_m2", "slope_m2", "row"])
    ['Area (map_m2)', 'area (slope_m2)', 'Row']
    """
    seen = Counter(text.casefold() for text in texts)
    return [f"{text} ({name})" if seen[text.casefold()] > 1 else text for text, name in zip(texts, names, strict=True)]


def head_words(field: Field, words: Words, *, layer: str = "") -> str:
    """Give the head of a column with its unit; per hectare and square metre need none, as heads say it."""
    head = words(head_of(field, layer))
    return f"{head} ({unit_words(field.unit, words)})" if field.unit and field.unit not in _IN_THE_HEAD else head


def head_of(field: Field, layer: str = "") -> str:
    """Give the head of a column without its unit, in English."""
    return HEADS_OF_LAYERS.get((layer, field.name)) or HEADS.get(field.name, field.head)


def unit_words(unit: str, words: Words) -> str:
    """Say a unit: words are said, signs are written as on paper."""
    return words(UNITS[unit]) if unit in UNITS else _SIGNS.get(unit, unit)


_SIGNS = {"m2": "m²", "m3": "m³", "deg": "°"}
_IN_THE_HEAD = frozenset(["1/ha", "1/m2"])


def value_words(field: Field, words: Words) -> Iterator[str]:
    """Say each value that a column may hold."""
    known = VALUES.get(field.name, {})
    return (words(known[value]) if value in known else value.replace("_", " ") for value in field.values)


def plain_heads(tables: Iterable[LayerSpec]) -> Iterator[str]:
    """Give the heads that are made of a column's name."""
    yield from (
        field.head
        for table in tables
        for field in table.fields
        if field.name not in HEADS and (table.name, field.name) not in HEADS_OF_LAYERS
    )
