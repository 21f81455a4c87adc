"""Heights from contour lines: a thin plate through the lines."""

from __future__ import annotations

from typing import Any

import geopandas as gpd
import numpy as np
import shapely
from pyproj import CRS
from scipy import sparse
from scipy.sparse import csr_matrix
from scipy.sparse.linalg import splu
from shapely import MultiPolygon

from geoagro.arrays import Floats, Ints
from geoagro.errors import LayoutError
from geoagro.planar.margins import grown
from geoagro.terrain.window import Mask, cells_in
from geoagro.values.grid import Grid

MOST_CELLS = 250_000
STIFFNESS = 1e-3
"""Weight of bending (per cell, squared second differences) against the squared misfit of a line's point."""


def heights_from_contours(
    contours: gpd.GeoDataFrame, boundary: MultiPolygon, *, reach_m: float, cell_m: float, crs: CRS | None
) -> Grid:
    """Grid contour lines (frame with `elevation_m`) over the field and `reach_m` metres round it.

    The surface is the thin plate (least squared second differences) that keeps to the lines. A net of
    triangles between the lines alone would leave flat triangles wherever all three corners lie on one line,
    on every nose and in every hollow, and a step at each line (terraces): rows laid on them would run from
    step to step. A thin plate has neither, rounds tops and hollows past the last line, and continues a
    plane exactly. Cells grow, if they must, until no more than 250,000 are solved for.

    Raises LayoutError where the lines don't reach the field or all lie at one height.
    """
    lines = _near(contours, boundary, reach_m)
    domain_m2 = grown(boundary, reach_m).area
    cell = max(cell_m, float(np.sqrt(domain_m2 / MOST_CELLS)))
    west, south, east, north = grown(boundary, reach_m).bounds
    shape = (int(np.ceil((north - south) / cell)) + 1, int(np.ceil((east - west) / cell)) + 1)
    grid = Grid(np.full(shape, np.nan), west - cell / 2, north + cell / 2, cell, crs)
    domain = cells_in(grid, grown(boundary, reach_m + cell))
    xyz = _points(lines, cell)
    return grid.with_values(_thin_plate(grid, domain, xyz))


def _near(contours: gpd.GeoDataFrame, boundary: MultiPolygon, reach_m: float) -> gpd.GeoDataFrame:
    """Keep the lines near the field: within a quarter of its width, farther ones tell nothing about it."""
    west, south, east, north = boundary.bounds
    margin = max(reach_m, 0.25 * max(east - west, north - south))
    box = shapely.box(west - margin, south - margin, east + margin, north + margin)
    lines = contours[contours.geometry.intersects(box)]
    if lines.empty:
        raise LayoutError(
            "No contour line comes near the field. Check the CRS of inputs.contours, or give lines that cross the field."
        )
    if lines["elevation_m"].nunique() < 2:
        raise LayoutError(
            f"All contour lines near the field lie at {lines['elevation_m'].iloc[0]:g} m; a surface needs two heights. "
            "Give more lines under inputs.contours, or `elevation` instead."
        )
    hull = shapely.convex_hull(shapely.union_all(np.asarray(lines.geometry)))
    covered = float(hull.intersection(boundary).area / boundary.area)
    if covered < 0.9:
        raise LayoutError(
            f"The contour lines enclose only {covered:.0%} of the field; the rest would be guessed. "
            "Give lines that reach past the boundary under inputs.contours."
        )
    return lines


def _points(lines: gpd.GeoDataFrame, cell: float) -> Floats:
    """Points x, y, z along the lines, about one per cell."""
    dense = shapely.segmentize(np.asarray(lines.geometry), cell)
    xy, owner = shapely.get_coordinates(dense, return_index=True)
    return np.column_stack([xy, lines["elevation_m"].to_numpy(dtype=float)[owner]])


def _thin_plate(grid: Grid, domain: Mask, xyz: Floats) -> Floats:
    number = np.full(domain.shape, -1)
    number[domain] = np.arange(domain.sum())
    n = int(domain.sum())
    x, y, z = xyz.T
    level = float(z.mean())
    fit, target = _misfit(grid, number, x, y, z - level)
    if fit.shape[0] == 0:
        raise LayoutError("No contour line crosses the field. Give lines that do under inputs.contours.")
    bending = _second_differences(number, n)
    matrix = (fit.T @ fit + STIFFNESS * (bending.T @ bending)).tocsc()
    # positive definite, so no pivoting: it would fill the factors
    factor = splu(matrix, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options={"SymmetricMode": True})
    solution = factor.solve(fit.T @ target)
    out = np.full(domain.shape, np.nan)
    out[domain] = solution + level
    return out


def _misfit(grid: Grid, number: Ints, x: Floats, y: Floats, z: Floats) -> tuple[Any, Floats]:
    """Bilinear reading of the grid at each point whose four cells are solved for."""
    row, column = grid.pixel(x, y)
    r, c = np.floor(row).astype(int), np.floor(column).astype(int)
    ok = (r >= 0) & (c >= 0) & (r < number.shape[0] - 1) & (c < number.shape[1] - 1)
    r, c, row, column, z = r[ok], c[ok], row[ok], column[ok], z[ok]
    corners = np.stack([number[r + i, c + j] for i in (0, 1) for j in (0, 1)])
    v, u = row - r, column - c
    weights = np.stack([(1 - v) * (1 - u), (1 - v) * u, v * (1 - u), v * u])
    ok = (corners >= 0).all(axis=0)
    m = int(ok.sum())
    index = np.tile(np.arange(m), 4)
    n = int(number.max()) + 1
    matrix = sparse.coo_matrix((weights[:, ok].ravel(), (index, corners[:, ok].ravel())), shape=(m, n))
    return matrix.tocsr(), z[ok]


def _second_differences(number: Ints, n: int) -> csr_matrix:
    """Operators z_xx, z_yy and sqrt(2) z_xy per cell, where all cells of the stencil are solved for."""
    root = np.sqrt(2.0)
    stencils = (
        (((0, -1), 1.0), ((0, 0), -2.0), ((0, 1), 1.0)),
        (((-1, 0), 1.0), ((0, 0), -2.0), ((1, 0), 1.0)),
        (((0, 0), root), ((0, 1), -root), ((1, 0), -root), ((1, 1), root)),
    )
    padded = np.pad(number, 1, constant_values=-1)
    rows, columns = number.shape
    blocks = []
    for stencil in stencils:
        nodes = np.stack([padded[1 + i : 1 + i + rows, 1 + j : 1 + j + columns].ravel() for (i, j), _ in stencil])
        nodes = nodes[:, (nodes >= 0).all(axis=0)]
        m = nodes.shape[1]
        values = np.repeat([weight for _, weight in stencil], m)
        blocks.append(sparse.coo_matrix((values, (np.tile(np.arange(m), len(stencil)), nodes.ravel())), shape=(m, n)))
    return sparse.vstack(blocks).tocsr()
