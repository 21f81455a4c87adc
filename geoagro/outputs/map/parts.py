"""Cut a field with more plants than one page carries into parts: bands from north to south, each cut from west to east.

Bands are about as high as their parts are wide, and cuts are laid so that all parts hold about equally many plants. A part is
named by its band's letter and its place in the band: B3 is the third from the west in the second band from the north.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from geoagro.arrays import Floats, Ints

Box: TypeAlias = tuple[float, float, float, float]

PAGE_CARRIES = 600_000
"""Plants that one page carries well; a field with more is cut into parts. Our own choice, from times on a laptop's browser."""

_SAMPLE = 2_000_000
"""Cuts are laid by at most about so many plants, taken evenly from all."""

_AT_ONCE = 1_000_000


@dataclass(frozen=True)
class Part:
    """A part of the field: `cell` is its share of the field's box (cells tile it), `box` what the field fills of it, metres."""

    name: str
    cell: Box
    box: Box


@dataclass(frozen=True, eq=False)
class Parts:
    """Parts in order of name, and the cuts between them: northings from north to south, eastings by band."""

    parts: tuple[Part, ...]
    northings: Floats
    eastings: tuple[Floats, ...]

    def of(self, x: Floats, y: Floats) -> NDArray[np.int32]:
        """Tell for each place in which part it lies: always in exactly one, outside the field in the nearest by band."""
        found = np.zeros(len(x), dtype=np.int32)
        for begin in range(0, len(found), _AT_ONCE):
            run = slice(begin, begin + _AT_ONCE)
            found[run] = self._of(np.asarray(x)[run], np.asarray(y)[run])
        return found

    def _of(self, x: Floats, y: Floats) -> Ints:
        bands = np.searchsorted(-self.northings, -y, side="right")
        found, first = np.zeros(len(bands), dtype=np.int64), 0
        for band, cuts in enumerate(self.eastings):
            mine = np.flatnonzero(bands == band)
            found[mine] = first + np.searchsorted(cuts, x[mine], side="right")
            first += len(cuts) + 1
        return found

    def around(self, k: int) -> list[Part]:
        """Give the parts that share an edge or a corner with part `k`."""
        own = shapely.box(*self.parts[k].cell)
        near = shapely.dwithin(own, [shapely.box(*part.cell) for part in self.parts], 1e-6)
        return [part for n, part in enumerate(self.parts) if near[n] and n != k]


def cut_into_parts(field: BaseGeometry, x: Floats, y: Floats, most: int) -> Parts:
    """Cut a field into parts of about `most` plants or fewer; `x`, `y` are the plants' places in the field's CRS.

    Where plants stand on a few places only, a part may hold more: a cut can't go through a place.
    """
    west, south, east, north = field.bounds
    wanted = max(1, math.ceil(len(x) / most))
    step = max(1, len(x) // _SAMPLE)
    xs, ys = np.asarray(x, dtype=float)[::step], np.asarray(y, dtype=float)[::step]
    bands = int(np.clip(round(math.sqrt(wanted * (north - south) / (east - west))), 1, wanted))
    shares = _shares(ys, np.linspace(north, south, bands + 1), wanted)
    northings = _cuts(-ys, np.cumsum(shares)[:-1] / shares.sum(), (-north, -south))
    band_of = np.searchsorted(northings, -ys, side="right")
    eastings = tuple(_cuts(xs[band_of == k], np.arange(1, n) / n, (west, east)) for k, n in enumerate(shares))
    return Parts(tuple(_framed(field, -northings, eastings)), -northings, eastings)


def _shares(ys: Floats, edges: Floats, wanted: int) -> Ints:
    """Share `wanted` parts out to bands of equal height by their plants (largest remainder), at least one to each."""
    counts = np.histogram(-ys, bins=-edges)[0]
    exact = wanted * counts / max(counts.sum(), 1)
    shares: Ints = np.maximum(np.floor(exact), 1).astype(np.int64)
    for k in np.argsort(shares - exact, kind="stable")[: max(wanted - int(shares.sum()), 0)]:
        shares[k] += 1
    return shares


def _cuts(values: Floats, at: Floats, ends: tuple[float, float]) -> Floats:
    """Cut so that these shares of the values lie below; evenly between the ends where there are no values."""
    cuts: Floats = np.quantile(values, at) if len(values) and len(at) else ends[0] + (ends[1] - ends[0]) * at
    return cuts


def _framed(field: BaseGeometry, northings: Floats, eastings: tuple[Floats, ...]) -> list[Part]:
    west, south, east, north = field.bounds
    edges = np.concatenate([[north], northings, [south]])
    parts = []
    for band, cuts in enumerate(eastings):
        sides = np.concatenate([[west], cuts, [east]])
        for k in range(len(cuts) + 1):
            cell = (float(sides[k]), float(edges[band + 1]), float(sides[k + 1]), float(edges[band]))
            ground = shapely.intersection(field, shapely.box(*cell))
            parts.append(Part(f"{_letters(band)}{k + 1}", cell, cell if ground.is_empty else ground.bounds))
    return parts


def _letters(band: int) -> str:
    """Letters of a band, as columns of a spreadsheet: A to Z, then AA.

    >>> _letters(0), _letters(25), _letters(26), _letters(27)
    ('A', 'Z', 'AA', 'AB')
    """
    return (_letters(band // 26 - 1) if band >= 26 else "") + chr(ord("A") + band % 26)
