"""The cheapest seam between two sets of rows, by minimum cut, and the patches of the other set that are worth taking."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import cast

import contourpy
import numpy as np
import shapely
from scipy.ndimage import gaussian_filter, label
from shapely.geometry.base import BaseGeometry

from geoagro.arrays import Bools, Floats, Ints
from geoagro.rows.loops.least_cut import least_cut
from geoagro.rows.stitching.maps import CELL_M, Cells, RowMap

SEAMS = ((1.5, 1.2), (2.0, 0.8), (1.0, 1.2))
"""What a seam is held to cost, one after the other in each round: metres of row per metre where rows don't meet (both sides
lose their spacing, or rows end), and how many metres apart that is; nearer rows can be bent into one another, at a cost by
the square of the mismatch."""
UNITS = 100
"""Capacities are whole numbers: so many a metre."""
ROUNDED_CELLS = 1.5
"""Patches are rounded off at this scale, so that no row runs in and out of them."""
AROUND_CELLS = 8
"""Rounding a patch off looks no farther than this around it."""
LEAST_GAIN_M = 5.0
LEAST_M2 = 60.0


@dataclass(frozen=True)
class Patch:
    """Ground on which another set of rows is better.

    Attributes
    ----------
    donor
        Number of that set.
    area
        Polygon.
    gain_m
        Metres of row it is held to win.
    """

    donor: int
    area: BaseGeometry
    gain_m: float


def patches(
    mine: RowMap, other: RowMap, cells: Cells, spacing_m: float, *, donor: int = 0, kind: int = 0
) -> list[Patch]:
    """Find connected ground on which the other set costs less, seams included."""
    seam = _seam_cost(mine.mismatch(other, spacing_m), kind)
    first, second = _beside(cells)
    link = CELL_M * (seam[first] + seam[second]) / 2
    same = cells.block[first] == cells.block[second]
    win: Floats = mine.cost_m - other.cost_m
    for ends in (first, second):
        # what lies in another block is held to stay as it is
        win -= np.bincount(ends[~same], weights=link[~same], minlength=len(win))
    taken = cheapest_cut(win, first[same], second[same], link[same])
    parts, count = label(cells.image(taken), np.ones((3, 3)))
    part = parts[cells.inside]
    won = np.bincount(part, weights=mine.cost_m - other.cost_m, minlength=count + 1)
    crossed = part[first] != part[second]
    for side in (part[first], part[second]):
        won -= np.bincount(side[crossed], weights=link[crossed], minlength=count + 1)
    size = np.bincount(part, minlength=count + 1) * CELL_M**2
    good = [k for k in range(1, count + 1) if won[k] > LEAST_GAIN_M and size[k] >= LEAST_M2]
    found = (Patch(donor, _outline(cells, part == k), float(won[k])) for k in good)
    return [patch for patch in found if not patch.area.is_empty]


def _seam_cost(mismatch_m: Floats, kind: int) -> Floats:
    """Metres of row per metre of seam."""
    most, apart_m = SEAMS[kind % len(SEAMS)]
    return most * np.minimum(1.0, (mismatch_m / apart_m) ** 2)


def _beside(cells: Cells) -> tuple[Ints, Ints]:
    """Numbers of all cells that share an edge."""
    number = np.full(cells.inside.shape, -1, dtype=np.int64)
    number[cells.inside] = np.arange(len(cells.xy))
    pairs = [(number[:, :-1].ravel(), number[:, 1:].ravel()), (number[:-1].ravel(), number[1:].ravel())]
    first, second = (np.concatenate([pair[k] for pair in pairs]) for k in (0, 1))
    both = (first >= 0) & (second >= 0)
    return first[both], second[both]


def cheapest_cut(win_m: Floats, first: Ints, second: Ints, link_m: Floats) -> Bools:
    """Cells to take over, by minimum cut: `win_m` is what taking one wins, `link_m` what parting two neighbours costs."""
    win, link = (np.round(metres * UNITS).astype(np.int64) for metres in (win_m, link_m))
    return least_cut(win, first, second, link)


def _outline(cells: Cells, which: Bools) -> BaseGeometry:
    """Ground of some cells, its corners cut off, so that no row runs in and out of it from cell to cell.

    At the field's edge it reaches past it: what lies out there belongs to the nearest cell.
    """
    image = which[cells.nearest]
    near = image & (cells.nearest >= 0)
    bounds = [(at[0], at[-1] + 1) for at in (np.flatnonzero(near.any(axis=1)), np.flatnonzero(near.any(axis=0)))]
    part, wide = (tuple(slice(max(a - k, 0), b + k) for a, b in bounds) for k in (2, AROUND_CELLS))
    inner = tuple(slice(p.start - w.start, p.stop - w.start) for p, w in zip(part, wide, strict=True))
    rounded = gaussian_filter(image[wide].astype(float), ROUNDED_CELLS)[inner]
    x, y = cells.axes
    filled_lines = contourpy.contour_generator(
        x=x[part[1]],
        y=y[part[0]],
        z=np.where(cells.nearest[part] >= 0, rounded, 0.0),
        name="serial",
        fill_type="OuterOffset",
    ).filled(0.5, 2.0)
    lines, rings = cast("tuple[list[Floats], list[Ints]]", filled_lines)
    polygons = [
        shapely.Polygon(xy[at[0] : at[1]], [xy[a:b] for a, b in pairwise(at[1:])])
        for xy, at in zip(lines, rings, strict=True)
    ]
    return shapely.union_all(polygons)
