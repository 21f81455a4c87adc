"""The plants of a large layout as one table that takes a tenth of the memory of a frame."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from geoagro.arrays import Ints
from geoagro.values.report import REPORTED

_WIDTHS = (np.int16, np.int32, np.int64)


class _Whole:
    """Whole numbers in as many bytes as the largest needs, `least` at first."""

    def __init__(self, count: int, least: type[np.signedinteger[Any]]) -> None:
        self.values: Any = np.empty(count, least)

    def put(self, here: slice, numbers: Ints) -> None:
        """Keep some numbers; there are no more than there is room for."""
        least, most = (int(end(numbers, initial=0)) for end in (np.min, np.max))
        needed = next(width for width in _WIDTHS if np.iinfo(width).min <= least and most <= np.iinfo(width).max)
        if np.iinfo(needed).max > np.iinfo(self.values.dtype).max:
            self.values = self.values.astype(needed)
        self.values[here] = numbers


class NarrowPlants:
    """Columns of REPORTED filled part by part: whole numbers in 4 bytes, texts and days as categories, no geometry.

    Some 65 bytes a plant, where a frame takes 700. Numbers keep 4 bytes though fewer would hold them: sums must not overflow.
    """

    def __init__(self, count: int) -> None:
        self._filled, self._room = 0, count
        kinds = {f.name: f.kind for f in REPORTED.fields}
        self._real = {name: np.empty(count) for name, kind in kinds.items() if kind == "float"}
        self._whole = {
            name: _Whole(count, np.int32 if kind == "int" else np.int16)
            for name, kind in kinds.items()
            if kind != "float"
        }
        self._known: dict[str, dict[Any, int]] = {n: {} for n, kind in kinds.items() if kind not in ("float", "int")}

    def add(self, part: pd.DataFrame) -> None:
        """Take a part of layer PLANTS; its order is kept."""
        here = slice(self._filled, self._filled + len(part))
        fits = slice(0, max(self._room - self._filled, 0))
        self._filled += len(part)
        for name, values in self._real.items():
            values[here] = part[name].to_numpy()[fits]
        for name, numbers in self._whole.items():
            found = self._codes(name, part[name]) if name in self._known else part[name].to_numpy()
            numbers.put(here, found[fits])

    def _codes(self, name: str, column: pd.Series) -> Ints:
        own, words = pd.factorize(column)
        known = self._known[name]
        places: Ints = np.array([*(known.setdefault(word, len(known)) for word in words), -1], dtype=np.int64)
        return places[own]

    def frame(self) -> pd.DataFrame:
        """Hand over the table of what was taken; nothing is left here."""
        columns: dict[str, Any] = {}
        for name in REPORTED.columns:
            if name in self._real:
                columns[name] = self._real.pop(name)[: self._filled]
                continue
            numbers = self._whole.pop(name).values[: self._filled]
            if name in self._known:
                numbers = pd.Categorical.from_codes(numbers, dtype=pd.CategoricalDtype([*self._known.pop(name)]))
            columns[name] = numbers
        return pd.DataFrame(columns, copy=False)
