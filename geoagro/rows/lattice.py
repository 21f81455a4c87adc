"""A triangulated lattice over the field, and exact gradients of functions that are linear on its triangles.

Each square cell is split into two triangles, so that the gradient of nodal values is exact per triangle and no
checkerboard can hide from it. The diagonals of neighbouring cells alternate, so that no direction is favoured: a field
that is mirrored or turned by a right angle takes its lattice with it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import scipy.sparse as sp
import shapely
from scipy.sparse import csr_matrix
from shapely import Polygon

from geoagro.arrays import Floats, Ints
from geoagro.rows.slopes import Slopes
from geoagro.values.grid import Grid


@dataclass(frozen=True, eq=False)
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
    gradient: csr_matrix
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


def build_lattice(domain: Polygon, surface: Grid, step_m: float) -> Lattice:
    """Triangulate the cells whose centre lies in `domain` and read the ground's gradient from `surface`."""
    west, south, east, north = domain.bounds
    x, y = _axis(west, east, step_m), _axis(south, north, step_m)
    shapely.prepare(domain)
    cx, cy = np.meshgrid(x[:-1] + step_m / 2, y[:-1] + step_m / 2)
    cell = shapely.contains_xy(domain, cx, cy)
    index = _number_nodes(cell)
    row, column = np.nonzero(cell)
    # counted from the middle node, however far the lattice reaches
    falling = (row - len(y) // 2 + column - len(x) // 2) % 2 == 0
    centre = _centres(np.column_stack([x[column], y[row]]), falling, step_m)
    gradient = _gradient_operator(_corners(cell, index), falling, step_m, int(index.max()) + 1)
    bending = _bending_operator(gradient, _inner_edges(cell, falling))
    ground = Slopes.of(surface).gradient(centre)
    slope = np.hypot(ground[:, 0], ground[:, 1])
    uphill = np.where(slope[:, None] > 0, ground / np.maximum(slope, 1e-12)[:, None], [[0.0, 1.0]])
    return Lattice(step_m, x, y, index, gradient, bending, slope, uphill, centre)


def _axis(low: float, high: float, step_m: float) -> Floats:
    """Nodes about the middle, one of them in it, reaching past both ends."""
    half = int(np.ceil((high - low) / 2 / step_m)) + 1
    nodes: Floats = (low + high) / 2 + np.arange(-half, half + 1, dtype=np.float64) * step_m
    return nodes


def _centres(corner: Floats, falling: Any, step_m: float) -> Floats:
    """Centroids of the lower triangles, then of the upper ones, of cells with their south-western corners."""
    third = step_m / 3
    east = np.where(falling, third, 2 * third)
    lower = corner + np.column_stack([east, np.full(len(east), third)])
    upper = corner + np.column_stack([step_m - east, np.full(len(east), 2 * third)])
    return np.concatenate([lower, upper])


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


def _gradient_operator(corners: tuple[Ints, Ints, Ints, Ints], falling: Any, step_m: float, nodes: int) -> csr_matrix:
    """d/dx of the lower triangles, of the upper ones, then d/dy of both.

    The diagonal of a cell falls from north-west to south-east (`falling`) or rises: the lower triangle has the western
    side of the cell or the eastern one, the upper triangle the other.
    """
    sw, se, nw, ne = corners
    start = np.concatenate([sw, nw, np.where(falling, sw, se), np.where(falling, se, sw)])
    end = np.concatenate([se, ne, np.where(falling, nw, ne), np.where(falling, ne, nw)])
    row = np.arange(len(start))
    values = np.concatenate([np.full(len(start), -1 / step_m), np.full(len(start), 1 / step_m)])
    return sp.csr_matrix(
        (values, (np.concatenate([row, row]), np.concatenate([start, end]))), shape=(len(start), nodes)
    )


def _inner_edges(cell: Any, falling: Any) -> Ints:
    """Pairs of triangles that share an edge: the diagonal of a cell, its western and its southern side.

    Numbers as in `_gradient_operator`. Diagonals alternate, so the western side of a cell and the eastern one of its
    neighbour both belong to lower triangles, or both to upper ones.
    """
    count = int(cell.sum())
    number = np.full(cell.shape, -1, dtype=np.intp)
    number[cell] = np.arange(count)
    here = number[cell]
    west, south = np.full(cell.shape, -1, dtype=np.intp), np.full(cell.shape, -1, dtype=np.intp)
    west[:, 1:], south[1:, :] = number[:, :-1], number[:-1, :]
    west, south = west[cell], south[cell]
    side = np.where(falling, 0, count)
    beside = np.column_stack([here + side, west + side])[west >= 0]
    below = np.column_stack([here, south + count])[south >= 0]
    return np.concatenate([np.column_stack([here, here + count]), beside, below])


def _bending_operator(gradient: csr_matrix, edges: Ints) -> Any:
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
