"""The plants of a map's pages: sorted once by page and crop, packed page by page; and the mark that notes on them go by."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from geoagro.arrays import Floats, Ints
from geoagro.frames import pd
from geoagro.outputs.drawing.crop_looks import crop_look, crop_numbers
from geoagro.outputs.map.pack import Pack, centimetres
from geoagro.outputs.map.parts import Parts
from geoagro.outputs.report.block_sheet import crop_gap_m
from geoagro.outputs.words.say import Words
from geoagro.reports.records.account import Account
from geoagro.values.base.records import records
from geoagro.values.plants import FARTHEST_NEIGHBOUR_M
from geoagro.values.report import LaidOut
from geoagro.values.rules.crop_words import stratum_words

_COLUMNS = ("plant", "row", "bed", "line", "station_m", "x", "y", "nearest_m")
_AT_ONCE = 1_000_000
_FEW_KINDS = 65_536


@dataclass(frozen=True, eq=False)
class SortedPlants:
    """Plants in order of page, crop (as the report lists crops) and number, without a copy of their table.

    `order` are places in `frame`, `ends` where each page's run of each crop ends in it: (pages, crops).
    """

    frame: pd.DataFrame
    order: NDArray[np.intp]
    ends: Ints

    @property
    def counts(self) -> Ints:
        """How many plants each page has of each crop."""
        counts: Ints = np.diff(self.ends.ravel(), prepend=0).reshape(self.ends.shape)
        return counts

    def page(self, k: int) -> pd.DataFrame:
        """Give the plants of a page, with `crop` as the crop's place in the report."""
        counts = self.counts[k]
        end = int(self.ends[k, -1]) if self.ends.shape[1] else 0
        mine = self.order[end - int(counts.sum()) : end]
        table = {name: self.frame[name].array.take(mine) for name in _COLUMNS}
        return pd.DataFrame({**table, "crop": np.repeat(np.arange(len(counts)), counts)})


def sorted_plants(
    frame: pd.DataFrame, codes: Sequence[str], pages: NDArray[np.int32] | None, count: int = 1
) -> SortedPlants:
    """Sort plants by their page (None: all on one), crop and number; `codes` are the crops in the order of the report."""
    crop = np.asarray(pd.Categorical(frame["crop"], categories=list(codes)).codes, dtype=np.int32)
    key = crop if pages is None else pages * np.int32(len(codes)) + crop
    kinds = count * len(codes)
    numbers = frame["plant"].to_numpy()
    short = key.astype(np.uint16) if kinds <= _FEW_KINDS else key  # such keys are sorted by counting
    in_order = bool((numbers[1:] > numbers[:-1]).all())
    order = np.argsort(short, kind="stable") if in_order else np.lexsort((numbers, key))
    ends = np.cumsum(np.bincount(key, minlength=kinds)).reshape(count, len(codes))
    return SortedPlants(frame, order, ends)


def crop_heads(account: Account, laid: LaidOut, words: Words) -> list[dict[str, Any]]:
    """Describe the crops in the order of the report; how many stand on a page is told page by page."""
    numbers = crop_numbers(list(account.crops["crop"]))
    heads = []
    for row in records(account.crops):
        code, facts = row.text("crop"), laid.crops.get(row.text("crop"))
        look = crop_look(numbers[code], row.text("stratum"))
        heads.append(
            {
                "code": code, "name": words.crop(row.text("name")), "stratum": words(stratum_words(row.text("stratum"))),
                "count": row.whole("plants"), "share": row.number("share_area_m2"), "paint": look.paint,
                "shape": look.shape, "size": look.size_mm, "gap": min(crop_gap_m(laid, code), 1000.0), "span": [0, 0],
                "caution": words(facts.caution) if facts is not None and facts.caution else "",
            }
        )  # fmt: skip
    return heads


def on_page(heads: list[dict[str, Any]], counts: Ints) -> list[dict[str, Any]]:
    """Tell how many plants of each crop a page has, where they lie in its arrays, and how many the field has."""
    ends = np.cumsum(counts)
    return [
        {**head, "count": int(count), "in_field": head["count"], "span": [int(end - count), int(end)]}
        for head, count, end in zip(heads, counts, ends, strict=True)
    ]


def pack_plants(pack: Pack, plants: pd.DataFrame, origin: tuple[float, float]) -> list[str]:
    """Pack a page's plants; returns the names of their beds, in the order of their numbers in the pack."""
    beds, names = pd.factorize(plants["bed"])
    pack.add("plants.x", centimetres(plants["x"], origin[0]), "i4", delta=1)
    pack.add("plants.y", centimetres(plants["y"], origin[1]), "i4", delta=1)
    pack.add("plants.place", _places_cm(plants), "u2")
    pack.add("plants.number", plants["plant"], "i4", delta=1)
    pack.add("plants.crop", plants["crop"], "u2")
    pack.add("plants.row", plants["row"], "i4", delta=1)
    pack.add("plants.bed", beds, "i4", delta=1)
    pack.add("plants.line", plants["line"], "u2")
    pack.add("plants.station", np.round(plants["station_m"].to_numpy(dtype=float) * 100), "i4", delta=1)
    return [str(name) for name in names]


def _places_cm(plants: pd.DataFrame) -> Ints:
    """Width of each plant's place in whole centimetres, rounded down; as wide as it is looked for where none is near."""
    near: Floats = plants["nearest_m"].to_numpy(dtype=float)
    wide = np.where(np.isnan(near), FARTHEST_NEIGHBOUR_M, near)
    places: Ints = np.floor(100 * wide + 1e-6).astype(np.int64)
    return places


def notes_key(laid: LaidOut) -> str:
    """Tell this layout's plants from those of another: notes go by plant number, which another layout gives anew."""
    table = laid.plants[["plant", "crop", "row"]].to_csv(index=False) + str(
        laid.plants[["x", "y"]].round(2).to_numpy().sum()
    )
    return hashlib.sha256(table.encode()).hexdigest()[:12]


def parts_notes_key(laid: LaidOut, codes: Sequence[str], parts: Parts) -> str:
    """Tell the plants of this layout, and where it is cut, from those of another; quick for millions of plants."""
    plants, seal = laid.plants, hashlib.sha256()
    crops = pd.Categorical(plants["crop"], categories=sorted(codes))
    seal.update("\n".join(crops.categories).encode())
    for cuts in (parts.northings, *parts.eastings):
        seal.update(np.asarray(cuts, dtype="<f8").tobytes() + b"|")
    for begin in range(0, len(plants), _AT_ONCE):
        run = slice(begin, begin + _AT_ONCE)
        for name in ("plant", "row"):
            seal.update(plants[name].to_numpy()[run].astype("<i8").tobytes())
        seal.update(np.asarray(crops.codes[run], dtype="<i4").tobytes())
        for name in ("x", "y"):
            seal.update(np.round(plants[name].to_numpy()[run] * 100).astype("<i8").tobytes())
    return seal.hexdigest()[:12]
