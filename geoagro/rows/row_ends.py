"""Where rows end, and the way they were going there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import LineString

from geoagro.arrays import Bools, Floats, Ints
from geoagro.planar.polylines import Polylines

HEADING_M = 4.0
"""The way a row was going is taken over this length at its end."""


@dataclass(frozen=True, eq=False)
class Ends:
    """Both ends of each open row; entries 2 k and 2 k + 1 belong to the k-th open row.

    Attributes
    ----------
    row
        Index of the row in the list.
    xy, heading
        Place, and unit direction out of the row; shape (n, 2).
    """

    row: Ints
    xy: Floats
    heading: Floats

    @property
    def is_last(self) -> Bools:
        """Whether each is where its row ends, not where it starts."""
        last: Bools = np.arange(len(self.row)) % 2 == 1
        return last


def ends_of(rows: Sequence[LineString]) -> Ends:
    """Find the ends of all rows that aren't rings."""
    lines = np.asarray(rows, dtype=object)
    row = np.repeat(np.nonzero(~shapely.is_closed(lines))[0], 2)
    length = shapely.length(lines)[row]
    is_last = np.arange(len(row)) % 2 == 1
    back = np.minimum(HEADING_M, length)
    tip = shapely.get_coordinates(shapely.get_point(lines[row], np.where(is_last, -1, 0)))
    before = Polylines.read(rows).at(row, np.where(is_last, length - back, back))
    way = tip - before
    return Ends(row, tip, way / np.maximum(np.hypot(*way.T), 1e-12)[:, None])
