"""Whether a written layout is still what was written, and still agrees with the design and its files."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from geoagro.inputs.laid.layout_file import SHAPING, LayoutFile
from geoagro.inputs.laid.sealed import way_on
from geoagro.values.design import Design
from geoagro.values.site import SourceFile
from geoagro.values.words import Sentence


@dataclass(frozen=True)
class Difference:
    """One thing that differs: a layer, a section of the design or a file, and how."""

    what: str
    text: str


@dataclass(frozen=True)
class Agreement:
    """What differs, what is worth knowing, and how to go on."""

    layers: int
    features: int
    differences: tuple[Difference, ...]
    notes: tuple[str, ...]
    way_on: str


def agreement(laid: LayoutFile, design: Design) -> Agreement:
    """Hold a layout against its seal, the design and the input files.

    Raises EditedError where the seal itself was edited or is gone.
    """
    sealed = laid.sealed
    if not sealed.seals:
        sealed.require_whole()
    differences = [Difference(_layer(name), Sentence("deleted")) for name in sealed.missing]
    notes = [
        Sentence("layer {name} was added; nothing reads it", name=name)
        for name in sealed.foreign
        if not name.startswith("plants_")
    ]
    differences += [
        Difference(_layer(name), Sentence("added; plants of this layout are only those that it placed"))
        for name in sealed.foreign
        if name.startswith("plants_")
    ]
    first = sealed.missing[0] if sealed.missing else ""
    for name in sealed.seals:
        if name in sealed.missing:
            continue
        found, words = sealed.edits(name)
        if found:
            differences.append(Difference(_layer(name), words))
            first = first or name
        elif found.columns_new:
            notes.append(
                Sentence("layer {name} has new columns: {columns}", name=name, columns=", ".join(found.columns_new))
            )
    edited = bool(differences)
    differences += [
        Difference(Sentence("design, {key}", key=key), text) for key, text in _changed_keys(laid.design, design)
    ]
    differences += _files(laid, design.folder)
    advice = way_on(laid.path, first) if edited else "Run `geoagro layout DESIGN` to bring the layout up to date."
    count = sum(seal.features for seal in sealed.seals.values())
    return Agreement(len(sealed.seals), count, tuple(differences), tuple(notes), advice)


def _changed_keys(then: Design, now: Design) -> list[tuple[str, str]]:
    """Keys of the design that shape the layout and have another value now, the deepest that tell the difference."""
    before, after = then.model_dump(mode="json"), now.model_dump(mode="json")
    found: list[tuple[str, str]] = []
    for section in SHAPING:
        _compare(section, before[section], after[section], found)
    return found


def _compare(key: str, before: Any, after: Any, found: list[tuple[str, str]]) -> None:
    if isinstance(before, dict) and isinstance(after, dict):
        for name in dict.fromkeys([*before, *after]):
            _compare(f"{key}.{name}", before.get(name), after.get(name), found)
    elif isinstance(before, list) and isinstance(after, list) and len(before) == len(after):
        for number, pair in enumerate(zip(before, after, strict=True), start=1):
            _compare(f"{key}[{number}]", *pair, found)
    elif before != after:
        found.append((key, Sentence("was {before}, is {after} now", before=_short(before), after=_short(after))))


def _short(value: Any) -> str:
    if value is None:
        return Sentence("not given")
    text = str(value)
    return text if len(text) <= 60 else text[:57] + "..."


def _files(laid: LayoutFile, folder: Path) -> list[Difference]:
    """Input files that are missing or were changed; rows taken from the layout's own file were replaced with it."""
    found = []
    for source in laid.sources:
        path = folder / source.path
        if path.resolve() == laid.path.resolve():
            continue
        if not path.is_file():
            found.append(Difference(_file(source), Sentence("missing")))
        elif _sha256(path) != source.sha256:
            found.append(Difference(_file(source), Sentence("changed since the layout was written")))
    return found


def _layer(name: str) -> str:
    return Sentence("layer {name}", name=name)


def _file(source: SourceFile) -> str:
    return Sentence("file {path} ({role})", path=source.path, role=source.role)


def _sha256(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
