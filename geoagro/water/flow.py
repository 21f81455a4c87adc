"""Where water runs over the ground: the way down from every cell, and the ground above it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pyflwdir
from affine import Affine
from numpy.typing import NDArray

from geoagro.arrays import Floats, Ints
from geoagro.errors import LayoutError
from geoagro.values.grid import Grid

Flags = NDArray[np.bool_]

_UNKNOWN = -9999.0


@dataclass(frozen=True, eq=False)
class Flow:
    """Ways of water on the cells of a surface, each cell numbered row by row from the north-west.

    Attributes
    ----------
    surface
        Heights with every closed hollow filled to its lowest pass, m; NaN where unknown.
    filled_m
        How deep each cell was filled, m.
    onward
        Number of the cell that each cell drains to; itself where water leaves the known ground; -1 where unknown.
    area_m2
        Ground that drains through each cell, itself included, m2.
    open_
        True where some of that ground lies beyond the edge of the raster, so that `area_m2` is a lower bound.
    """

    surface: Grid
    filled_m: Floats
    onward: Ints
    area_m2: Floats
    open_: Flags

    def cells_at(self, x: Floats, y: Floats) -> Ints:
        """Find the number of the cell that holds each point; -1 outside the grid or where heights are unknown."""
        rows, columns = self.surface.values.shape
        row = np.floor((self.surface.north - y) / self.surface.cell_m).astype(np.intp)
        column = np.floor((x - self.surface.west) / self.surface.cell_m).astype(np.intp)
        inside = (row >= 0) & (row < rows) & (column >= 0) & (column < columns)
        number = np.where(inside, row * columns + column, 0)
        known = inside & (self.onward[number] >= 0)
        return np.where(known, number, -1)

    def points_of(self, cells: Ints) -> Floats:
        """Give the centres of cells, shape (n, 2), metres."""
        row, column = np.divmod(cells, self.surface.values.shape[1])
        return np.column_stack([self.surface.x[column], self.surface.y[row]])


def flow_over(heights: Grid) -> Flow:
    """Follow water down a surface, from each cell to its steepest neighbour of eight.

    Closed hollows are filled to their lowest pass (Wang and Liu 2006, International Journal of Geographical
    Information Science 20: 193-213, by the library pyflwdir), so all water goes on to the edge of the known ground:
    for rows below that is the safe side. On the flat ground so made water follows the way in which it was filled.
    At the edge the ground is taken to go on as it came, so that water leaves instead of running along the edge.
    Water may enter there where the ground falls inward; all that lies below such a place is marked `open_`.

    Raises
    ------
    LayoutError
        Where no height is known.
    """
    known = np.isfinite(heights.values)
    if not known.any():
        raise LayoutError("Water can't be followed: the elevation holds no data. Give a raster that covers the field.")
    base = float(np.nanmin(heights.values))
    # the library fills in single precision: heights are rounded to it first, so that a filled level is that of its pass
    z = np.where(known, (heights.values - base).astype(np.float32), _UNKNOWN).astype(np.float64)
    filled, toward_pass = pyflwdir.dem.fill_depressions(z, nodata=_UNKNOWN, outlets="edge")
    surface = np.where(known, filled, np.nan)
    way, leaves, enters = _steepest(surface)
    flat = known & ~leaves & (way == _NONE)
    way[flat] = toward_pass[flat]
    way[~known] = _UNKNOWN_WAY
    place = Affine(heights.cell_m, 0.0, heights.west, 0.0, -heights.cell_m, heights.north)
    ways = pyflwdir.from_array(way, ftype="d8", transform=place, latlon=False, check_ftype=False)
    area = np.asarray(ways.accuflux(np.where(known, heights.cell_m**2, 0.0), nodata=_UNKNOWN), dtype=float)
    open_ = np.asarray(ways.accuflux(enters.astype(np.float64), nodata=_UNKNOWN)) > 0
    return Flow(
        surface=heights.with_values(surface + base),
        filled_m=np.where(known, filled - z, 0.0),
        onward=np.where(known.ravel(), np.asarray(ways.idxs_ds, dtype=np.int64), -1),
        area_m2=np.where(known, area, np.nan),
        open_=open_ & known,
    )


_ROUND = ((0, 1, 1), (1, 1, 2), (1, 0, 4), (1, -1, 8), (0, -1, 16), (-1, -1, 32), (-1, 0, 64), (-1, 1, 128))
"""Steps in rows and columns to the eight neighbours, with the usual number of each way, from east clockwise."""
_NONE, _UNKNOWN_WAY = 0, 247


def _steepest(z: Floats) -> tuple[NDArray[np.uint8], Flags, Flags]:
    """Way to the steepest lower neighbour of each cell, 0 where there is none.

    Also tells where water leaves over the edge of the known ground, as the ground beyond, going on as it came, would
    fall most steeply; and where it may enter, as the ground beyond would be higher.
    """
    padded = np.pad(z, 1, constant_values=np.nan)
    rows, columns = z.shape

    def neighbour(i: int, j: int) -> Floats:
        return padded[1 + i : 1 + i + rows, 1 + j : 1 + j + columns]

    best, way = np.zeros(z.shape), np.zeros(z.shape, dtype=np.uint8)
    enters, leaves = np.zeros(z.shape, dtype=bool), np.zeros(z.shape, dtype=bool)
    for i, j, number in _ROUND:
        drop = (z - neighbour(i, j)) / np.hypot(i, j)
        missing = np.isnan(drop)
        beyond = (neighbour(-i, -j) - z) / np.hypot(i, j)  # as the ground comes, so it goes on
        drop = np.where(missing, np.nan_to_num(beyond), drop)
        enters |= missing & (i * j == 0) & (drop < 0)
        better = drop > best
        best = np.where(better, drop, best)
        way[better] = number
        leaves = np.where(better, missing, leaves)
    way[leaves] = _NONE
    return way, leaves, enters & (way != _NONE) & np.isfinite(z)


def first_met(flow: Flow, marked: Ints) -> Ints:
    """Give each cell the mark of the first marked cell on its way down, its own included; -1 where there is none.

    Parameters
    ----------
    marked
        Mark of each cell, -1 for none, flat, one per cell.
    """
    met = marked.copy()
    way = np.where(flow.onward >= 0, flow.onward, np.arange(len(met)))
    way = np.where(marked >= 0, np.arange(len(met)), way)
    for _ in range(64):  # each round doubles the steps looked ahead
        further = way[way]
        if np.array_equal(further, way):
            break
        way = further
    met[flow.onward >= 0] = marked[way[flow.onward >= 0]]
    return met
