"""Which plants stand within reach of each other, and from which plants figures are taken on large fields."""

from __future__ import annotations

from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import pandas as pd
from scipy.spatial import cKDTree

from geoagro.arrays import Floats, Ints
from geoagro.values.words import Sentence

STRETCH_M = 10.0
_CELL_M = 5.0
_GOLDEN = 0.6180339887498949


@dataclass(frozen=True, eq=False)
class Subjects:
    """Plants that figures are taken from, and how they were chosen in words."""

    index: Ints
    text: str


def choose_subjects(frame: gpd.GeoDataFrame, most: int) -> Subjects:
    """All plants, or where there are more than `most`, those of 10 m stretches spread evenly over all beds.

    Every plant of a chosen stretch is looked at against all its neighbours, in the stretch or not. The choice
    depends on the order of beds alone, so that it repeats.
    """
    if len(frame) <= most:
        return Subjects(np.arange(len(frame)), Sentence("all plants"))
    piece = (frame["station_m"].to_numpy() // STRETCH_M).astype(np.int64)
    bed = pd.factorize(frame["bed"])[0]
    stretch = pd.factorize(bed * (piece.max() + 1) + piece, sort=True)[0]
    total = int(stretch.max()) + 1
    chosen = (np.arange(total) * _GOLDEN) % 1.0 < most / len(frame)
    index = np.flatnonzero(chosen[stretch])
    text = Sentence(
        "{n} of {all} plants: those of {chosen} of {stretches} stretches of {length:.0f} m spread evenly over all beds, each "
        "against all its neighbours",
        n=len(index), all=len(frame), chosen=int(chosen.sum()), stretches=total, length=STRETCH_M,
    )  # fmt: skip
    return Subjects(index, text)


def pairs_within(a: Floats, b: Floats, distance: float) -> tuple[Ints, Ints, Floats]:
    """Index into a, index into b and distance of all pairs of points no farther apart than `distance`."""
    if not len(a) or not len(b) or distance <= 0:
        return np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64), np.zeros(0)
    near = _near(a, b, distance)
    found = cKDTree(a).sparse_distance_matrix(cKDTree(b[near]), distance, output_type="ndarray")
    order = np.lexsort([found["j"], found["i"]])
    return found["i"][order].astype(np.int64), near[found["j"][order]], found["v"][order]


def _near(a: Floats, b: Floats, distance: float) -> Ints:
    """Index of the points of b in cells next to a point of a; spares a tree over a whole field."""
    cell = max(distance, _CELL_M)
    west, south = np.minimum(a.min(axis=0), b.min(axis=0)) - cell
    width = int((max(a[:, 0].max(), b[:, 0].max()) - west) // cell) + 2

    def cells(xy: Floats) -> Ints:
        column, row = ((xy - (west, south)) // cell).astype(np.int64).T
        number: Ints = row * width + column
        return number

    mine = np.unique(cells(a))
    around = mine[:, None] + np.array([-1, 0, 1])[None, :] + width * np.array([-1, 0, 1])[:, None, None]
    return np.flatnonzero(np.isin(cells(b), np.unique(around)))
