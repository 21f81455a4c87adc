"""Tree beds and vegetable beds in one table, and which planting goes into which of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from geoagro.arrays import Bools, Floats, Ints, Shapes, Texts
from geoagro.errors import DesignError
from geoagro.planar.polylines import Polylines
from geoagro.values.beds import Beds
from geoagro.values.places import Reach
from geoagro.values.recipe import Planting
from geoagro.values.rules.bed_kinds import BED_KINDS, TREE, VEGETABLE, fitting


@dataclass(frozen=True, eq=False)
class Strips:
    """All beds, ordered by row, the tree bed first.

    Attributes
    ----------
    side
        +1 upslope of the row, -1 downslope, 0 for the tree bed on the row.
    edge
        True where no tree row lies on the bed's far side.
    """

    bed: Texts
    row: Ints
    kind: Texts
    side: Ints
    order: Ints
    edge: Bools
    width_m: Floats
    polygon: Shapes
    axes: Polylines

    def __len__(self) -> int:
        return len(self.row)


def strips_of(beds: Beds) -> Strips:
    """Bring both layers of beds into one order."""
    tree, veg = beds.tree_beds, beds.beds
    n, m = len(tree), len(veg)
    row = np.concatenate([tree["row"], veg["row"]]).astype(np.int64)
    kind = np.repeat(np.array([TREE.code, VEGETABLE.code], dtype=object), [n, m])
    side = np.concatenate([np.zeros(n), np.where(veg["side"] == "up", 1, -1)]).astype(np.int64)
    order = np.concatenate([np.zeros(n), veg["order"]]).astype(np.int64)
    edge = np.concatenate([np.zeros(n, dtype=bool), np.asarray(veg["facing_row"] == 0)])
    polygon = np.concatenate([np.asarray(tree.geometry), np.asarray(veg.geometry)])
    axis = np.concatenate([np.asarray(tree["axis"]), np.asarray(veg["axis"])])
    width = np.concatenate([tree["width_m"], veg["width_m"]]).astype(float)
    bed = np.concatenate([tree["bed"], veg["bed"]]).astype(object)
    by = np.lexsort([np.arange(n + m), -side, order, row])
    shapely.prepare(polygon)
    return Strips(
        bed[by], row[by], kind[by], side[by], order[by], edge[by], width[by], polygon[by], Polylines.read(axis[by])
    )


def beds_for(planting: Planting, strips: Strips, plantings: Sequence[Planting], reach: Reach | None = None) -> Ints:
    """Find the beds (by index) that a planting goes into, wholly or in part; `reach` is what its address comes to.

    Vegetable beds at the edge of the field take the vegetable plantings unless some planting is for `edge`.
    """
    edge_apart = any(BED_KINDS[p.bed].at_edge and p.zone == planting.zone for p in plantings)
    fits = fitting(planting.bed, strips.kind, strips.edge, edge_apart=edge_apart)
    if planting.side != "both":
        fits = fits & (strips.side == (1 if planting.side == "up" else -1))
    if planting.order is not None:
        fits = fits & (strips.order == planting.order)
    if reach is not None:
        fits = fits & np.array([bed in reach.beds for bed in strips.bed], dtype=bool)
    turn = strips.row - planting.first_row
    return np.flatnonzero(fits & (turn >= 0) & (turn % planting.every == 0))


def line_offsets(planting: Planting, strips: Strips, beds: Ints) -> Floats:
    """Distance of each line from each bed's middle, upslope positive: shape (beds, lines), upslope first.

    `lines` are spread so that each has the same width of bed. Raises DesignError where a line would lie
    outside its bed.
    """
    width = strips.width_m[beds][:, None]
    if planting.offsets_m is None:
        n = planting.lines
        return width * ((n - 1) / 2 - np.arange(n)) / n
    offsets = np.sort(np.array(planting.offsets_m, dtype=float))[::-1]
    outside = np.flatnonzero(np.max(np.abs(offsets)) > width[:, 0] / 2 + 1e-9)
    if len(outside):
        bed = beds[outside[0]]
        raise DesignError(
            f"planting '{planting.label}': offsets_m {list(planting.offsets_m)} reaches outside bed {strips.bed[bed]}, "
            f"which is {strips.width_m[bed]:.2f} m wide. Keep offsets within ±{strips.width_m[bed] / 2:.2f} m or widen the bed."
        )
    return np.repeat(offsets[None, :], len(beds), axis=0)
