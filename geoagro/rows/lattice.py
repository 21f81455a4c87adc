"""A triangulated lattice over the field, and exact gradients of functions that are linear on its triangles.

Each square cell is split into two triangles, so that the gradient of nodal values is exact per triangle and no
checkerboard can hide from it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import scipy.sparse as sp
import shapely
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt, map_coordinates

from geoagro.values.grid import Floats, Grid

Ints = NDArray[np.intp]


@dataclass(frozen=True)
class Lattice:
    """Nodes, triangles and the ground's gradient on them.

    Attributes
    ----------
    step_m
        Distance between nodes.
    x, y
        Coordinates of the lattice's columns and rows (rows rising northward), metres.
    index
        Shape (rows, columns): number of each node, -1 outside the domain.
    gradient
        Sparse, shape (2 T, N): nodal values -> d/dx of the T triangles, then d/dy.
    bending
        Sparse, shape (2 E, N): nodal values -> differences of the gradient across the E inner edges.
    slope, uphill
        Ground slope (ratio) on each triangle, and its unit uphill direction, shape (T, 2).
    centre
        Centroids, shape (T, 2).
    """

    step_m: float
    x: Floats
    y: Floats
    index: Ints
    gradient: Any
    bending: Any
    slope: Floats
    uphill: Floats
    centre: Floats

    @property
    def nodes(self) -> int:
        """Number of nodes, N."""
        return int(self.index.max()) + 1

    @property
    def node_xy(self) -> Floats:
        """Coordinates of the nodes, shape (N, 2)."""
        row, column = np.nonzero(self.index >= 0)
        return np.column_stack([self.x[column], self.y[row]])

    def gradient_of(self, values: Floats) -> Floats:
        """Gradient of nodal values on each triangle, shape (T, 2)."""
        parts: Floats = (self.gradient @ values).reshape(2, -1).T
        return parts

    def image(self, values: Floats) -> Floats:
        """Nodal values on the full lattice, NaN outside the domain."""
        out = np.full(self.index.shape, np.nan)
        out[self.index >= 0] = values
        return out


def build_lattice(domain: Any, surface: Grid, step_m: float) -> Lattice:
    """Triangulate the cells whose centre lies in `domain` and read the ground's gradient from `surface`."""
    west, south, east, north = domain.bounds
    x = west - step_m + np.arange(int(np.ceil((east - west) / step_m)) + 3) * step_m
    y = south - step_m + np.arange(int(np.ceil((north - south) / step_m)) + 3) * step_m
    shapely.prepare(domain)
    cx, cy = np.meshgrid(x[:-1] + step_m / 2, y[:-1] + step_m / 2)
    cell = shapely.contains_xy(domain, cx, cy)
    index = _number_nodes(cell)
    corners = _corners(cell, index)
    row, column = np.nonzero(cell)
    third = step_m / 3
    centre = np.concatenate(
        [
            np.column_stack([x[column] + third, y[row] + third]),
            np.column_stack([x[column] + 2 * third, y[row] + 2 * third]),
        ]
    )
    gradient = _gradient_operator(corners, step_m, int(index.max()) + 1)
    bending = _bending_operator(gradient, _inner_edges(cell))
    ground = ground_gradient(surface, centre[:, 0], centre[:, 1])
    slope = np.hypot(ground[:, 0], ground[:, 1])
    uphill = np.where(slope[:, None] > 0, ground / np.maximum(slope, 1e-12)[:, None], [[0.0, 1.0]])
    return Lattice(step_m, x, y, index, gradient, bending, slope, uphill, centre)


def _number_nodes(cell: Any) -> Ints:
    node = np.zeros((cell.shape[0] + 1, cell.shape[1] + 1), dtype=bool)
    for i in (0, 1):
        for j in (0, 1):
            node[i : i + cell.shape[0], j : j + cell.shape[1]] |= cell
    index = np.full(node.shape, -1, dtype=np.intp)
    index[node] = np.arange(int(node.sum()))
    return index


def _corners(cell: Any, index: Ints) -> tuple[Ints, Ints, Ints, Ints]:
    i, j = np.nonzero(cell)
    return index[i, j], index[i, j + 1], index[i + 1, j], index[i + 1, j + 1]


def _gradient_operator(corners: tuple[Ints, Ints, Ints, Ints], step_m: float, nodes: int) -> Any:
    """Lower triangles (south-west corner) first, then upper ones; d/dx of all, then d/dy of all."""
    sw, se, nw, ne = corners
    start = np.concatenate([sw, nw, sw, se])
    end = np.concatenate([se, ne, nw, ne])
    row = np.arange(len(start))
    values = np.concatenate([np.full(len(start), -1 / step_m), np.full(len(start), 1 / step_m)])
    return sp.csr_matrix(
        (values, (np.concatenate([row, row]), np.concatenate([start, end]))), shape=(len(start), nodes)
    )


def _inner_edges(cell: Any) -> Ints:
    """Pairs of triangles that share an edge: the diagonal of a cell, its western and its southern side."""
    count = int(cell.sum())
    number = np.full(cell.shape, -1, dtype=np.intp)
    number[cell] = np.arange(count)
    here = number[cell]
    pairs = [np.column_stack([here, here + count])]
    for axis in (1, 0):
        before = np.full(cell.shape, -1, dtype=np.intp)
        if axis == 1:
            before[:, 1:] = number[:, :-1]
        else:
            before[1:, :] = number[:-1, :]
        other = before[cell]
        pairs.append(np.column_stack([here, other + count])[other >= 0])
    return np.concatenate(pairs)


def _bending_operator(gradient: Any, edges: Ints) -> Any:
    triangles = gradient.shape[0] // 2
    row = np.arange(len(edges))
    jump = sp.csr_matrix(
        (
            np.concatenate([np.ones(len(edges)), -np.ones(len(edges))]),
            (np.concatenate([row, row]), np.concatenate([edges[:, 0], edges[:, 1]])),
        ),
        shape=(len(edges), triangles),
    )
    return sp.vstack([jump @ gradient[:triangles], jump @ gradient[triangles:]]).tocsr()


def filled(values: Floats) -> Floats:
    """Fill unknown cells from the nearest known one, so that a lattice wider than the data still has ground."""
    unknown = ~np.isfinite(values)
    if not unknown.any():
        return values
    nearest = distance_transform_edt(unknown, return_distances=False, return_indices=True)
    out: Floats = values[tuple(nearest)]
    return out


def ground_gradient(surface: Grid, x: Floats, y: Floats) -> Floats:
    """(dz/dx, dz/dy) of a surface at points, by central differences read bilinearly; shape (n, 2)."""
    south, east = np.gradient(filled(surface.values), surface.cell_m)
    row, column = surface.pixel(x, y)
    at = [row, column]
    return np.column_stack(
        [map_coordinates(east, at, order=1, mode="nearest"), -map_coordinates(south, at, order=1, mode="nearest")]
    )
