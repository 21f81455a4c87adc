"""One layer or table to be written: what it holds (LayerSpec), its rows, and how it is drawn."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from geoagro.outputs.drawing.looks import Style
from geoagro.outputs.tables.column_words import TableWords, table_words, with_names
from geoagro.outputs.words.say import ENGLISH, Words
from geoagro.values.layers import LayerSpec

TABLES = "Tables"
"""Group of what has no place."""


@dataclass(frozen=True, eq=False)
class OutputLayer:
    """A layer of a GeoPackage; title, note, group and words of the style are messages until they are `spoken`.

    Attributes
    ----------
    spec
        Declares the columns; columns of `frame` that it doesn't name (helpers such as `axis`) aren't written.
    frame
        A GeoDataFrame, a DataFrame where `spec.geometry` is "none", or a crop's plants in blocks (`StoredCrop`).
    style
        How viewers draw it; None for tables.
    name, title
        Own name and title where several layers share one spec (plants of each crop).
    note
        What the layer holds, in a sentence; shown by viewers as the layer's description.
    group
        Heading under which the ready project lists it.
    starts_hidden
        Whether the ready project begins with the layer switched off.
    said
        What its columns are called in the reader's language; None for English.
    """

    spec: LayerSpec
    frame: Any
    style: Style | None = None
    name: str = ""
    title: str = ""
    note: str = ""
    group: str = ""
    starts_hidden: bool = False
    said: TableWords | None = None

    @property
    def table(self) -> str:
        """Name inside the GeoPackage, the same in every language."""
        return self.name or self.spec.name

    @property
    def identifier(self) -> str:
        """Title that viewers show."""
        return self.title or self.spec.title

    @property
    def columns(self) -> TableWords:
        """What viewers call its columns and their values."""
        return self.said or table_words(self.spec, ENGLISH)

    @property
    def is_table(self) -> bool:
        """Tell whether it has no place."""
        return self.spec.geometry == "none"


def spoken(layers: Sequence[OutputLayer], words: Words) -> list[OutputLayer]:
    """Say all that viewers show of the layers in one language: titles, groups, notes, legends, columns; names stay.

    No two titles are alike, as the format asks for.
    """
    titles = with_names([words(layer.identifier) for layer in layers], [layer.table for layer in layers])
    return [_spoken(layer, title, words) for layer, title in zip(layers, titles, strict=True)]


def _spoken(layer: OutputLayer, title: str, words: Words) -> OutputLayer:
    style = layer.style
    if style is not None:
        style = replace(
            style, looks={value: (words.title(words(text)), look) for value, (text, look) in style.looks.items()}
        )
    return replace(
        layer,
        title=title,
        note=words(layer.note) if layer.note else "",
        group=words(layer.group or (TABLES if layer.is_table else "Layers")),
        style=style,
        said=table_words(layer.spec, words),
    )
