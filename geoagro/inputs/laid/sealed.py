"""The seal of a written layout: read it, and tell what was edited since."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator, Mapping
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pandas as pd
import pyogrio
from pyogrio.errors import DataLayerError, DataSourceError

from geoagro.errors import EditedError
from geoagro.inputs.laid.own_table import own_table
from geoagro.values.plants import PLANTS
from geoagro.values.results.seal import SEALS, Edits, Seal, edits, edits_of_parts
from geoagro.values.results.stored_plants import AT_ONCE
from geoagro.values.rows import TREE_ROWS
from geoagro.values.words import Sentence, say

OTHERS = frozenset({SEALS.name, "layer_styles", "qgis_projects"})
"""Tables that carry no content of the layout: viewers may write them."""
MOST_NAMED = 5
_LEAST_BYTES = 16
"""A feature takes more in a file."""
PART_ROWS = 500_000
"""Features of a large layer read at once: about 400 MB."""


@dataclass(frozen=True, eq=False)
class Sealed:
    """The seals of a layout file.

    Attributes
    ----------
    path
        The GeoPackage.
    layers
        Names of all layers and tables that it has now.
    seals
        By layer, as it was written; empty where the file carries none.
    held
        By layer: makes what the file holds, where this process has just written it; such layers aren't read.
    """

    path: Path
    layers: tuple[str, ...]
    seals: dict[str, Seal]
    held: Mapping[str, Callable[[], Any]] = field(default_factory=dict, repr=False, compare=False)
    _read: dict[str, Any] = field(default_factory=dict, repr=False, compare=False)

    @classmethod
    def read(cls, path: Path, layers: tuple[str, ...]) -> Sealed:
        """Read the seals; raises EditedError where they were edited themselves."""
        if SEALS.name not in layers:
            return cls(path, layers, {})
        try:
            table = own_table(path, SEALS.name).fillna("")
            lines = list(table[SEALS.columns].itertuples(index=False))
            seals = {str(line[0]): Seal.read(*line) for line in lines}
        except (DataSourceError, DataLayerError, KeyError, ValueError) as error:
            raise EditedError(
                f"{path}: its table {SEALS.name} was edited. Run `geoagro layout DESIGN` again."
            ) from error
        whole = seals.pop("", None)
        if whole is None or whole.sha256 != Seal.over(list(seals.values())).sha256:
            raise EditedError(f"{path}: its table {SEALS.name} was edited. Run `geoagro layout DESIGN` again.")
        return cls(path, layers, seals)

    @property
    def missing(self) -> tuple[str, ...]:
        """Layers that were written and are gone."""
        return tuple(name for name in self.seals if name not in self.layers)

    @property
    def foreign(self) -> tuple[str, ...]:
        """Layers that the layout didn't write."""
        return tuple(name for name in self.layers if name not in self.seals and name not in OTHERS)

    def require_whole(self, *, large_later: bool = False) -> None:
        """Raise EditedError where the file carries no seal, lacks a layer or has one more of plants, or any was edited.

        With `large_later`, large layers are held against their seals when they are taken (`take`), and so read once.
        """
        if not self.seals:
            raise EditedError(
                f"{self.path}: carries no seal, so nobody can tell whether it was edited (it is of an older version, or the "
                f"table {SEALS.name} was deleted). Run `geoagro layout DESIGN` again."
            )
        if self.missing:
            raise EditedError(
                f"{self.path}: {_named('layer', self.missing)} deleted after the layout was written. Run `geoagro layout "
                "DESIGN` again."
            )
        for name in (*self.seals, *(name for name in self.foreign if name.startswith(PLANTS.name))):
            if name in self.seals and is_large(self.path, name):
                if not large_later:
                    self._require_unedited(name)
            else:
                self.frame(name)

    def _require_unedited(self, name: str) -> None:
        found, words = self.edits(name)
        if found:
            raise self._edited(name, words)

    def _edited(self, name: str, words: str) -> EditedError:
        return EditedError(
            f"{self.path}: layer '{name}' was edited after the layout was written: {words}. {way_on(self.path, name)}"
        )

    def take(self, name: str, each: Callable[[Any], None]) -> None:
        """Hand over a large layer in parts, once its columns are there; raises EditedError at the end where it was edited."""
        wanted = {column for column in self.seals[name].columns if column != "geometry"}

        def handed() -> Iterator[Any]:
            for part in layer_parts(self.path, name):
                if wanted <= {*part.columns}:
                    each(part)
                yield part

        found = edits_of_parts(self.seals[name], handed())
        if found:
            raise self._edited(name, found.words())

    def parts(self, name: str) -> Iterator[Any]:
        """Read a layer that doesn't fit at once in parts, in order of feature number; its seal is looked at by `require_whole`."""
        columns = [*self.seals[name].columns]
        return (frame[columns].reset_index(drop=True) for frame in layer_parts(self.path, name))

    def frame(self, name: str) -> Any:
        """Read one layer or table and hold it against its seal; raises EditedError where it was edited."""
        if name not in self.seals:
            raise EditedError(
                f"{self.path}: layer '{name}' isn't of this layout; take it out, or run `geoagro layout DESIGN` again."
            )
        if name not in self._read:
            frame = self.held[name]() if name in self.held else self._unedited(name)
            self._read[name] = frame[[*self.seals[name].columns]].reset_index(drop=True)
        return self._read[name].copy()

    def _unedited(self, name: str) -> Any:
        frame = _layer(self.path, name)
        found = edits(self.seals[name], frame)
        if found:
            raise self._edited(name, told(name, frame, found))
        return frame

    def edits(self, name: str) -> tuple[Edits, str]:
        """Tell what was edited in a layer, and the same in words; no edit, no words."""
        if is_large(self.path, name):
            found = edits_of_parts(self.seals[name], layer_parts(self.path, name))
            return found, found.words() if found else ""
        frame = _layer(self.path, name)
        found = edits(self.seals[name], frame)
        return found, told(name, frame, found) if found else ""

    def edited(self) -> tuple[str, ...]:
        """Layers that were edited, deleted or added."""
        there = [name for name in self.seals if name in self.layers]
        return (*self.missing, *self.foreign, *(name for name in there if self.edits(name)[0]))


def is_large(path: Path, name: str) -> bool:
    """Tell whether a layer holds more features than are read at once."""
    try:
        if path.stat().st_size < AT_ONCE * _LEAST_BYTES:
            return False  # a small file isn't opened once more for each of its layers
        return int(pyogrio.read_info(path, layer=name)["features"]) > AT_ONCE
    except (DataSourceError, DataLayerError, OSError):
        return False  # reading it says why


def layer_parts(path: Path, name: str, rows: int = PART_ROWS) -> Iterator[Any]:
    """Read a layer in runs of feature numbers, each indexed by them; the last number is asked first."""
    with closing(sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True)) as database:
        last = database.execute(f'SELECT max(rowid) FROM "{name}"').fetchone()[0] or 0  # a name from the file
    for first in range(0, max(int(last), 1), rows):
        yield _layer(path, name, where=f"fid > {first} AND fid <= {first + rows}")


def _layer(path: Path, name: str, **some: str) -> Any:
    try:
        return own_table(path, name, fid_as_index=True, **some)
    except (DataSourceError, DataLayerError) as error:
        raise EditedError(
            f"{path}: layer '{name}' can't be read any more ({error}). Run `geoagro layout` again."
        ) from error


_BED = ("bed", say("{text} (bed {names})"))
_NAMED = {
    TREE_ROWS.name: ("row", say("{text} (row {names})")),
    "tree_beds": _BED,
    "vegetable_beds": _BED,
    "paths": ("path", say("{text} (path {names})")),
}
"""Column with the names that people know of a layer's features, and how they are told."""


def told(name: str, frame: Any, found: Edits) -> str:
    """Edits in words; rows and beds are named as people know them."""
    text = found.words()
    label, message = _NAMED.get(name, ("", ""))
    if label not in frame.columns:
        return text
    touched = [number for number in (*found.changed, *found.added) if number in frame.index]
    names = [str(value) for value in frame.loc[touched[:MOST_NAMED], label] if not pd.isna(value)]
    return Sentence(message, text=text, names=", ".join(names)) if names else text


def way_on(path: Path, name: str) -> str:
    """How to go on from an edited layer."""
    if name == TREE_ROWS.name:
        return (
            f"To go on with the edited rows give `inputs.rows: {{file: {path.name}, layer: {name}}}` (path from the design's "
            "folder) and `rows.method: drawn`, and run `geoagro layout DESIGN`; to drop the edit, run that alone."
        )
    return (
        "What is edited there isn't taken over. Change the design (or the drawn rows, `inputs.rows`) and run `geoagro layout "
        "DESIGN`; to drop the edit, run that alone."
    )


def _named(what: str, names: tuple[str, ...]) -> str:
    return f"{what}{'s' if len(names) > 1 else ''} {', '.join(names)} {'were' if len(names) > 1 else 'was'}"
