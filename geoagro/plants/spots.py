"""Where one planting stands: flat arrays, one entry per plant."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np

from geoagro.arrays import Floats, Ints

FACINGS = ("all_round", "along", "against", "uphill", "downhill", "away", "bearing")


@dataclass(frozen=True, eq=False)
class Spots:
    """Plants of one planting, ordered by bed, line, station.

    Attributes
    ----------
    bed
        Index of the bed.
    line
        Number of the line across the bed, 1 on the upslope side.
    piece
        Index of the stretch of line, to judge stretches one by one.
    offset_m
        Distance from the bed's middle, upslope positive.
    xy
        Shape (n, 2), metres.
    along_deg
        Bearing of the row at the plant.
    bearing_deg
        Bearing that the roots point to; NaN all round.
    facing
        Index into FACINGS: the same in words.
    code
        Index into the planting's crops.
    """

    bed: Ints
    line: Ints
    piece: Ints
    station_m: Floats
    offset_m: Floats
    xy: Floats
    along_deg: Floats
    bearing_deg: Floats
    facing: Ints
    code: Ints

    def __len__(self) -> int:
        return len(self.bed)

    def where(self, keep: Any) -> Spots:
        """Only these plants, by mask or index."""
        return Spots(**{f.name: getattr(self, f.name)[keep] for f in fields(self)})

    def turned(self, bearing_deg: Floats, facing: Ints) -> Spots:
        """Point the same plants elsewhere."""
        return replace(self, bearing_deg=bearing_deg, facing=facing)


def no_spots() -> Spots:
    """No plants."""
    whole, real = np.zeros(0, dtype=np.int64), np.zeros(0)
    return Spots(whole, whole, whole, real, real, np.zeros((0, 2)), real, real, whole, whole)


def join_spots(parts: Sequence[Spots]) -> Spots:
    """Put the plants of several plantings one behind the other."""
    return Spots(**{f.name: np.concatenate([getattr(p, f.name) for p in parts]) for f in fields(Spots)})


def bearing_deg(vector: Floats) -> Floats:
    """Degrees clockwise from grid north of vectors (n, 2).

    >>> bearing_deg(np.array([[1.0, 0.0], [0.0, -1.0]])).tolist()
    [90.0, 180.0]
    """
    bearing: Floats = np.degrees(np.arctan2(vector[:, 0], vector[:, 1])) % 360.0
    return bearing


def facing_of(direction: str | float) -> int:
    """Index into FACINGS of a direction other than auto."""
    return FACINGS.index(direction if isinstance(direction, str) else "bearing")


def toward(bearing_deg: Floats) -> Floats:
    """Turn bearings into unit vectors (n, 2)."""
    angle = np.radians(bearing_deg)
    return np.column_stack([np.sin(angle), np.cos(angle)])
