"""Cells without a value: small gaps in the field are filled, large ones are refused with their place."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import ndimage, sparse
from scipy.sparse.linalg import splu

from geoagro.arrays import Floats
from geoagro.errors import LayoutError
from geoagro.terrain.window import Mask
from geoagro.values.grid import Grid

NEIGHBOURS = ((-1, 0), (1, 0), (0, -1), (0, 1))
TOUCHING = np.ones((3, 3), dtype=bool)


@dataclass(frozen=True)
class Gap:
    """A connected gap inside the field; `width_m` is the widest circle without data centred in it, to a cell."""

    x: float
    y: float
    width_m: float
    area_m2: float


def gaps_in_field(grid: Grid, inside: Mask) -> list[Gap]:
    """List the gaps (cells touching at a side or corner) inside the field, widest first."""
    unknown = np.isnan(grid.values)
    labels, count = ndimage.label(unknown & inside, structure=TOUCHING)
    if count == 0:
        return []
    # a gap open to the outside counts by its depth: the nearest data decide, wherever the boundary runs
    depth = ndimage.distance_transform_edt(unknown)
    r, c = np.nonzero(labels)
    label, deep = labels[r, c], depth[r, c]
    order = np.lexsort((-deep, label))
    first = order[np.r_[True, np.diff(label[order]) > 0]]
    cells = np.bincount(label)[1:]
    places = zip(grid.x[c[first]], grid.y[r[first]], 2 * deep[first] - 1, cells, strict=True)
    gaps = [Gap(float(x), float(y), float(w * grid.cell_m), float(n * grid.cell_m**2)) for x, y, w, n in places]
    return sorted(gaps, key=lambda gap: (-gap.width_m, -gap.area_m2, gap.x, gap.y))


def refuse_large_gaps(grid: Grid, inside: Mask, *, max_gap_m: float) -> list[Gap]:
    """Return the gaps that may be filled.

    Raises LayoutError naming place, width and area where the field holds no data at all, or where a gap is
    wider than `max_gap_m` metres.
    """
    if not inside.any():
        raise LayoutError(
            f"No cell centre lies in the field: cells are {grid.cell_m:g} m wide. "
            "Give a finer raster under `inputs`, or check the boundary's CRS."
        )
    if np.isnan(grid.values[inside]).all():
        west, south, east, north = grid.bounds
        raise LayoutError(
            f"The ground raster holds no data in the field (between {west:.0f} {south:.0f} and {east:.0f} {north:.0f} "
            "in the working CRS). Give a raster that covers the field under `inputs`, or check both CRSs."
        )
    gaps = gaps_in_field(grid, inside)
    large = [gap for gap in gaps if gap.width_m > max_gap_m]
    if large:
        places = "; ".join(f"at {g.x:.1f} E {g.y:.1f} N, {g.width_m:.1f} m wide, {g.area_m2:.0f} m²" for g in large[:5])
        more = f" and {len(large) - 5} more" if len(large) > 5 else ""
        raise LayoutError(
            f"The ground raster has {len(large)} gap(s) in the field wider than ground.max_gap_m = "
            f"{max_gap_m:g} m: {places}{more}. Give a raster without these gaps, cut the places out of the "
            "boundary, or raise ground.max_gap_m if guessed heights will do there."
        )
    return gaps


def closed_gaps(grid: Grid, inside: Mask) -> Mask:
    """Cells of gaps with data all round them inside the field (not open to the outside)."""
    unknown = np.isnan(grid.values)
    labels, _ = ndimage.label(unknown, structure=TOUCHING)
    is_open = np.zeros(int(labels.max()) + 1, dtype=bool)
    is_open[np.unique(labels[unknown & ~inside])] = True
    is_open[0] = True
    closed: Mask = ~is_open[labels]
    for edge in (closed[0], closed[-1], closed[:, 0], closed[:, -1]):
        edge[:] = False
    return closed


def fill(values: Floats, gap: Mask) -> Floats:
    """Fill cells so that each is the mean of its four neighbours (Laplace); exact on a plane.

    The gap must not touch the raster's edge.

    >>> z = np.add.outer(np.arange(5.0), 2 * np.arange(5.0))
    >>> gap = np.zeros((5, 5), dtype=bool); gap[1:4, 2] = True
    >>> bool(np.allclose(fill(np.where(gap, np.nan, z), gap), z))
    True
    """
    rows, columns = np.nonzero(gap)
    if len(rows) == 0:
        return values
    number = np.full(values.shape, -1)
    number[rows, columns] = np.arange(len(rows))
    known = np.zeros(len(rows))
    here, there = [], []
    for dr, dc in NEIGHBOURS:
        r, c = rows + dr, columns + dc
        other = number[r, c]
        inner = other >= 0
        here.append(np.nonzero(inner)[0])
        there.append(other[inner])
        known += np.where(inner, 0.0, values[r, c])
    i, j = np.concatenate(here), np.concatenate(there)
    n = len(rows)
    matrix = sparse.identity(n) * 4.0 - sparse.coo_matrix((np.ones(len(i)), (i, j)), shape=(n, n))
    filled = values.copy()
    # positive definite, so no pivoting: it would fill the factors
    factor = splu(matrix.tocsc(), permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options={"SymmetricMode": True})
    filled[rows, columns] = factor.solve(known)
    return filled
