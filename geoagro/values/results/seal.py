"""Checksums of content: what a layer held when it was written, and what has been changed in it since.

The content counts, not the file: a viewer that only opens a GeoPackage rewrites parts of it, and the seal holds.
"""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from geoagro.arrays import Shapes
from geoagro.values.layers import Field, LayerSpec
from geoagro.values.words import Sentence

SEALS = LayerSpec(
    "layout_seal",
    "Checksums of the layers and tables",
    "none",
    (
        Field("layer", "text", "Layer or table; empty for all of them together."),
        Field("features", "int", "Features that it held."),
        Field("columns", "text", "Columns that it had, comma-separated."),
        Field("sha256", "text", "Checksum of the content: coordinates and values, not bytes of the file."),
        Field("marks", "text", "Short checksums of its features, to tell which were changed."),
    ),
)

MOST_MARKS = 20_000
"""Larger layers have a mark for so many features together that there are no more marks than this."""
Words = NDArray[np.uint64]


@dataclass(frozen=True, eq=False)
class Seal:
    """What a layer held.

    Attributes
    ----------
    columns
        In order, the geometry included.
    sha256
        Over names of columns, feature numbers and content.
    block, marks
        Features counted together for one mark, and the marks.
    """

    layer: str
    features: int
    columns: tuple[str, ...]
    sha256: str
    block: int
    marks: NDArray[np.uint32]

    @property
    def text(self) -> str:
        """Marks as text."""
        return f"{self.block}:{base64.b64encode(self.marks.astype('<u4').tobytes()).decode()}"

    @classmethod
    def over(cls, seals: Sequence[Seal]) -> Seal:
        """Seal the seals of all layers."""
        lines = "\n".join(f"{s.layer} {s.features} {','.join(s.columns)} {s.sha256} {s.text}" for s in seals)
        return cls(
            "", len(seals), ("layer",), hashlib.sha256(lines.encode()).hexdigest(), 1, np.zeros(0, dtype=np.uint32)
        )

    @classmethod
    def read(cls, layer: str, features: int, columns: str, sha256: str, marks: str) -> Seal:
        """Take a seal from table SEALS; raises ValueError where the marks aren't any."""
        block, _, text = marks.partition(":")
        return cls(
            layer,
            features,
            tuple(columns.split(",")),
            sha256,
            int(block),
            np.frombuffer(base64.b64decode(text, validate=True), dtype="<u4"),
        )


@dataclass(frozen=True)
class Edits:
    """What differs between a layer and its seal.

    Attributes
    ----------
    columns_gone, columns_new
        By name; new ones are no edit, the rest of the content is as it was.
    added, removed
        Numbers of features.
    changed
        Features that were changed (of large layers: the group that a change lies in).
    """

    columns_gone: tuple[str, ...] = ()
    columns_new: tuple[str, ...] = ()
    added: tuple[int, ...] = ()
    removed: int = 0
    changed: tuple[int, ...] = ()

    def __bool__(self) -> bool:
        return bool(self.columns_gone or self.added or self.removed or self.changed)

    def words(self) -> str:
        """Say it in words, e.g. '1 feature changed (no. 12), 2 added'."""
        parts = []
        if self.columns_gone:
            parts.append(Sentence("column {names} is gone", names=", ".join(self.columns_gone)))
        if (n := len(self.changed)) == 1:
            parts.append(Sentence("1 feature changed (no. {numbers})", numbers=_listed(self.changed)))
        elif n:
            parts.append(
                Sentence("{n} {n:feature|features} changed (no. {numbers})", n=n, numbers=_listed(self.changed))
            )
        if (n := len(self.added)) == 1:
            parts.append(Sentence("1 feature added (no. {numbers})", numbers=_listed(self.added)))
        elif n:
            parts.append(Sentence("{n} {n:feature|features} added (no. {numbers})", n=n, numbers=_listed(self.added)))
        if self.removed == 1:
            parts.append(Sentence("1 feature removed"))
        elif self.removed:
            parts.append(Sentence("{n} {n:feature|features} removed", n=self.removed))
        return Sentence("{all}", all=tuple(parts))


def seal_of(layer: str, frame: Any) -> Seal:
    """Seal a layer as it is read back from the file, indexed by feature number (fid, from 1)."""
    return seal_of_parts(layer, [frame])


def seal_of_parts(layer: str, frames: Iterable[Any], *, points: str = "") -> Seal:
    """Seal a layer that comes in parts, in order of feature number; the same as of the whole.

    With `points`, the name of the geometry, it isn't in the frames: it stands at their columns `x` and `y`.
    """
    columns: tuple[str, ...] = ()
    contents = _Contents()
    for frame in frames:
        columns = (*(str(name) for name in frame.columns), *([points] if points else []))
        contents.add(frame, columns)
    block = max(1, -(-contents.features // MOST_MARKS))
    return Seal(layer, contents.features, columns, contents.digest(columns), block, contents.marks(block))


def edits(seal: Seal, frame: Any) -> Edits:
    """Tell what has been changed in a layer since it was sealed; false where nothing has."""
    return edits_of_parts(seal, [frame])


def edits_of_parts(seal: Seal, frames: Iterable[Any]) -> Edits:
    """Tell what `edits` tells of a layer that comes in parts, in order of feature number."""
    contents = _Contents()
    for frame in frames:
        gone = tuple(name for name in seal.columns if name not in frame.columns)
        new = tuple(str(name) for name in frame.columns if name not in seal.columns)
        if gone:
            return Edits(gone, new)
        contents.add(frame, seal.columns)
    if contents.digest(seal.columns) == seal.sha256:
        return Edits(columns_new=new)
    there = np.concatenate([numbers.astype(np.int64) for numbers in contents.numbers()])
    known = (there >= 1) & (there <= seal.features)
    removed = seal.features - int(known.sum())
    now = contents.marks(seal.block, most=seal.features)
    now = (
        np.resize(now, len(seal.marks)) if len(now) > len(seal.marks) else np.pad(now, (0, len(seal.marks) - len(now)))
    )
    off = np.flatnonzero(now != seal.marks)
    if seal.block == 1:
        off = off[np.isin(off + 1, there)]
    changed = tuple((off * seal.block + 1).tolist())
    return Edits((), new, tuple(there[~known].tolist()), removed, changed)


class _Contents:
    """Feature numbers of a layer in order, and one word for the content of each feature, part by part.

    Numbers that follow one another are kept by the first of them: of fifty million features every byte counts.
    """

    def __init__(self) -> None:
        self._numbers: list[Words | range] = []
        self._words: list[Words] = []

    def add(self, frame: Any, columns: tuple[str, ...]) -> None:
        """Take in a part of the layer."""
        if not frame.index.is_monotonic_increasing:
            frame = frame.sort_index()
        numbers = np.asarray(frame.index, dtype=np.int64)
        words = _mixed(numbers.astype(np.uint64))
        for place, name in enumerate(columns):
            column = (
                _column(frame[name].array) if name in frame else _points(frame[["x", "y"]].to_numpy(dtype=np.float64))
            )
            words = _mixed(words ^ _mixed(column + np.uint64(place + 1)))
        follow = len(numbers) > 0 and bool((np.diff(numbers) == 1).all())
        self._numbers.append(range(int(numbers[0]), int(numbers[-1]) + 1) if follow else numbers.astype(np.uint64))
        self._words.append(words)

    @property
    def features(self) -> int:
        return sum(map(len, self._words))

    def numbers(self) -> Iterator[Words]:
        """Give feature numbers, part by part."""
        for some in self._numbers:
            yield np.arange(some.start, some.stop).astype(np.uint64) if isinstance(some, range) else some

    def digest(self, columns: tuple[str, ...]) -> str:
        digest = hashlib.sha256(",".join(columns).encode())
        for parts in (self.numbers(), self._words):
            for part in parts:
                digest.update(np.ascontiguousarray(part, dtype="<u8").data)
        return digest.hexdigest()

    def marks(self, block: int, *, most: int | None = None) -> NDArray[np.uint32]:
        """One short checksum for every `block` features by number, 0 for none; numbers from 1 to `most` only, if that is given."""
        total = np.zeros(0, dtype=np.uint64)
        for numbers, words in zip(self.numbers(), self._words, strict=True):
            number = numbers.astype(np.int64)
            known = slice(None) if most is None else (number >= 1) & (number <= most)
            group = (number[known] - 1) // block
            if len(group) and group.max() >= len(total):
                total = np.append(total, np.zeros(int(group.max()) + 1 - len(total), dtype=np.uint64))
            np.add.at(total, group, words[known])
        return (total & np.uint64(0xFFFFFFFF)).astype(np.uint32)


def _column(values: Any) -> Words:
    """One word per value; what is empty gives the same word whatever the kind of column, since writers differ there."""
    if str(values.dtype) == "geometry":
        return _shapes(np.asarray(values))
    values = values.to_numpy() if isinstance(values, pd.arrays.NumpyExtensionArray) else values
    if isinstance(values, np.ndarray) and values.dtype.kind in "iufb":
        numbers = values.astype(np.float64) + 0.0  # no negative nought
        return np.where(np.isnan(numbers), np.uint64(0), numbers.view(np.uint64))
    empty = np.asarray(pd.isna(values), dtype=bool)
    return np.where(empty, np.uint64(0), _values(values))


def _values(values: Any) -> Words:
    if values.dtype == object and pd.api.types.infer_dtype(values, skipna=True) in ("date", "datetime"):
        values = pd.to_datetime(values)
    if pd.api.types.is_datetime64_any_dtype(values):
        days: Words = np.asarray(values, dtype="datetime64[ms]").astype(np.int64).view(np.uint64)
        return days
    if pd.api.types.is_bool_dtype(values) or pd.api.types.is_numeric_dtype(values):
        numbers: Words = (np.asarray(values, dtype=np.float64) + 0.0).view(np.uint64)  # no negative nought
        return numbers
    codes, unique = pd.factorize(values)
    words = [_short(str(text).encode()) if str(text) else 0 for text in unique]
    return np.asarray(np.array([*words, 0], dtype=np.uint64)[codes], dtype=np.uint64)


def _shapes(shapes: Shapes) -> Words:
    """One word per geometry: coordinates of points as numbers, all else as well-known binary."""
    if len(shapes) and bool((shapely.get_type_id(shapes) == shapely.GeometryType.POINT).all()):
        xy = shapely.get_coordinates(shapes, include_z=bool(shapely.has_z(shapes).any()))
        if len(xy) == len(shapes):
            return _points(xy)
    wkb = shapely.to_wkb(shapes, byte_order=1)
    return np.array([0 if one is None else _short(one) for one in wkb], dtype=np.uint64)


def _points(xy: NDArray[np.float64]) -> Words:
    words = np.zeros(len(xy), dtype=np.uint64)
    for column in (np.ascontiguousarray(xy.T) + 0.0).view(np.uint64):
        words = _mixed(words ^ column)
    return words


def _short(data: bytes) -> int:
    return int.from_bytes(hashlib.blake2b(data, digest_size=8).digest(), "little")


def _mixed(words: Words) -> Words:
    """Spread every bit over the word (the finalizer of splitmix64, Steele, Lea and Flood 2014; constants from memory).

    A run after another, in place: what the processor's caches hold takes half the time.
    """
    mixed: Words = words + np.uint64(0x9E3779B97F4A7C15)
    spare = np.empty(min(len(mixed), _MIXED_AT_ONCE), dtype=np.uint64)
    for start in range(0, len(mixed), _MIXED_AT_ONCE):
        some = mixed[start : start + _MIXED_AT_ONCE]
        moved = spare[: len(some)]
        for shift, factor in ((30, 0xBF58476D1CE4E5B9), (27, 0x94D049BB133111EB), (31, 1)):
            np.right_shift(some, np.uint64(shift), out=moved)
            np.bitwise_xor(some, moved, out=some)
            np.multiply(some, np.uint64(factor), out=some)
    return mixed


_MIXED_AT_ONCE = 16_384


def _listed(numbers: tuple[int, ...]) -> str:
    shown = ", ".join(map(str, numbers[:5]))
    return shown if len(numbers) <= 5 else f"{shown} and {len(numbers) - 5} more"
