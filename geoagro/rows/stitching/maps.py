"""What a set of rows is on small cells of the field: where its rows lie, and what it costs there."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from scipy.ndimage import distance_transform_edt
from scipy.spatial import cKDTree
from shapely.geometry.base import BaseGeometry

from geoagro.arrays import Bools, Floats, Ints
from geoagro.planar.vectors import dot
from geoagro.rows.candidates import Candidate
from geoagro.rows.row_ends import ends_of
from geoagro.rows.sampling import RowSamples
from geoagro.rows.task import Task, legal_runs, worth_m

CELL_M = 2.0
MARGIN = 4
BLOCK_M = 400.0
"""Seams are sought in squares of this width by themselves: so work grows with the field, not faster."""
SERVED = 0.6
"""Ground farther than this many spacings from every row is served by none."""
STRETCH_M = 6.0
TURNED_M = 4.0
"""Rows at right angles are as far from each other as this."""


@dataclass(frozen=True, eq=False)
class Cells:
    """Square cells that cover the plantable ground, laid about its middle.

    Attributes
    ----------
    inside
        Which cells of the frame have their centre on plantable ground; row 0 is south.
    xy
        Centres of those, shape (n, 2).
    west, south
        Corner of the frame.
    nearest
        Number of the inner cell nearest to each cell of the frame, widened by MARGIN cells to every side; -1 farther than
        that from all of them.
    """

    inside: Bools
    xy: Floats
    west: float
    south: float
    nearest: Ints

    @property
    def axes(self) -> tuple[Floats, Floats]:
        """Centres of the widened frame's columns and rows, metres."""
        x, y = (
            low + (np.arange(count) - MARGIN + 0.5) * CELL_M
            for low, count in zip((self.west, self.south), self.nearest.shape[::-1], strict=True)
        )
        return x, y

    @cached_property
    def block(self) -> Ints:
        """Number of the large square that each inner cell lies in, the middle one about the field's middle."""
        middle = np.array([self.west, self.south]) + CELL_M * np.array(self.inside.shape[::-1]) / 2
        at = np.floor((self.xy - middle) / BLOCK_M + 0.5).astype(np.int64)
        return np.unique(at, axis=0, return_inverse=True)[1].ravel().astype(np.int64)

    def image(self, values: Bools) -> Bools:
        """Put marks of the inner cells on the frame, false elsewhere."""
        out = np.zeros(self.inside.shape, dtype=bool)
        out[self.inside] = values
        return out


def cells_of(plantable: BaseGeometry) -> Cells:
    """Lay cells about the middle of the ground, so that they move, turn and mirror with it."""
    west, south, east, north = plantable.bounds
    columns, rows = (2 * int(np.ceil((b - a) / 2 / CELL_M)) for a, b in ((west, east), (south, north)))
    west, south = (west + east - columns * CELL_M) / 2, (south + north - rows * CELL_M) / 2
    x, y = np.meshgrid(west + (np.arange(columns) + 0.5) * CELL_M, south + (np.arange(rows) + 0.5) * CELL_M)
    shapely.prepare(plantable)
    inside: Bools = np.asarray(shapely.contains_xy(plantable, x, y))
    number = np.zeros(inside.shape, dtype=np.int64)
    number[inside] = np.arange(inside.sum())
    wide = np.pad(inside, MARGIN)
    far, at = distance_transform_edt(~wide, return_indices=True)
    nearest = np.where(far <= MARGIN, np.pad(number, MARGIN)[tuple(at)], -1)
    return Cells(inside, np.column_stack([x[inside], y[inside]]), float(west), float(south), nearest)


@dataclass(frozen=True, eq=False)
class RowMap:
    """One set of rows on the cells; all arrays have one entry per cell.

    Attributes
    ----------
    offset
        From the cell's centre square to the nearest row, to the row's left, metres.
    tangent
        Unit tangent of that row, shape (n, 2).
    served
        Whether a row is near enough.
    cost_m
        Metres of row that the ground could carry and doesn't legally, with what inner row ends cost.
    """

    offset: Floats
    tangent: Floats
    served: Bools
    cost_m: Floats

    def mismatch(self, other: RowMap, spacing_m: float) -> Floats:
        """How far rows of one set would have to shift (metres) to go on as those of the other; infinite where one has none."""
        normal = np.column_stack([-self.tangent[:, 1], self.tangent[:, 0]])
        theirs = np.column_stack([-other.tangent[:, 1], other.tangent[:, 0]])
        along = dot(normal, theirs)
        off = self.offset - other.offset * along
        off = np.abs(off - spacing_m * np.round(off / spacing_m))
        turned = TURNED_M * np.sqrt(np.maximum(1 - along**2, 0.0))
        m = np.maximum(off, turned)
        return np.where(self.served & other.served, m, np.where(self.served | other.served, np.inf, 0.0))


def row_map(found: Candidate, task: Task, cells: Cells) -> RowMap:
    """Draw a set of rows on the cells."""
    samples, d = found.view.samples, task.rule.spacing_m
    ok, worth = legal_runs(found.view, task), worth_m(found.view, task)
    far, k = cKDTree(samples.xy).query(cells.xy)
    away = cells.xy - samples.xy[k]
    tangent = np.column_stack([samples.tx[k], samples.ty[k]])
    offset = tangent[:, 1] * away[:, 0] - tangent[:, 0] * away[:, 1]
    served: Bools = np.asarray(far <= SERVED * d)
    # what a stretch of row is worth is shared by the cells nearest to it, so that the map's sum is the set's worth
    stretch = np.cumsum(np.append(True, _new_stretch(samples))) - 1
    length = np.bincount(stretch, weights=worth * ok)
    sharing = np.bincount(stretch[k], minlength=len(length))
    cost_m = CELL_M**2 / d - (length / np.maximum(sharing, 1))[stretch[k]]
    ground = cKDTree(cells.xy)
    alone = ok & (sharing[stretch] == 0)  # between other rows so near that they are nearer to every cell
    np.subtract.at(cost_m, ground.query(samples.xy[alone])[1], worth[alone])
    np.add.at(cost_m, ground.query(ends_of(found.held.kept).xy)[1], task.turning_cost_m / 2)
    return RowMap(offset, tangent, served, cost_m)


def _new_stretch(samples: RowSamples) -> Bools:
    """Whether each sample but the first begins another stretch than the one before."""
    place = np.floor(samples.station / STRETCH_M)
    changed: Bools = (np.diff(samples.row) != 0) | (np.diff(place) != 0)
    return changed
