"""Number the alleys of a field from the top, so that a row's two alleys differ by one wherever the ground allows."""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely

from geoagro.arrays import Floats, Ints
from geoagro.frames import gpd

_SAME_FIRST = 3.0
"""A metre on which two beds face each other counts so many times a metre of row: a mixed alley is worse than two
neighbouring ones that are alike (our choice)."""


def alley_numbers(beds: gpd.GeoDataFrame, axes: Any, reach_m: float) -> Ints:
    """Give the alley's number for each vegetable bed.

    An alley is the ground between two facing rows (or past an outer row). Rows end, begin and branch, so no numbering
    is right everywhere: numbers are handed on along the longest shared stretches first. Crossing a row downslope adds
    one; beds that face each other across a path, alley changed or not, are asked to have the same number.

    Parameters
    ----------
    beds
        Layer BEDS with `axis`.
    axes
        Axis of the tree bed by row number (a mapping).
    reach_m
        Beds no farther apart than this face each other.
    """
    if len(beds) == 0:
        return np.zeros(0, dtype=np.int64)
    alley, count = _alleys(beds)
    edges = np.concatenate([_across_rows(beds, axes, alley), _across_paths(beds, alley, reach_m)])
    number = _handed_on(edges, count)
    return number[alley]


def _alleys(beds: gpd.GeoDataFrame) -> tuple[Ints, int]:
    """Index of each bed's alley: the pair of rows, or the row and its side where no row faces."""
    row, facing = beds["row"].to_numpy(), beds["facing_row"].to_numpy()
    up = (beds["side"] == "up").to_numpy()
    low, high = np.minimum(row, facing), np.maximum(row, facing)
    key = np.column_stack([np.where(facing > 0, low, -1 - up), np.where(facing > 0, high, row)])
    _, index = np.unique(key, axis=0, return_inverse=True)
    return index.ravel(), int(index.max()) + 1


def _across_rows(beds: gpd.GeoDataFrame, axes: Any, alley: Ints) -> Floats:
    """From the alley above a row to the one below it (+1), weighted by the length of row that both lie along."""
    row = beds["row"].to_numpy()
    up = (beds["side"] == "up").to_numpy()
    line = np.array([axes[r] for r in row], dtype=object)
    ends = shapely.get_point(beds["axis"].to_numpy()[:, None], [0, -1])
    span = np.sort(shapely.line_locate_point(line[:, None], ends), axis=1)
    found: dict[tuple[int, int], float] = {}
    by_row = np.argsort(row, kind="stable")
    for group in np.split(by_row, np.flatnonzero(np.diff(row[by_row])) + 1):
        above, below = group[up[group]], group[~up[group]]
        shared = np.minimum(span[above, None, 1], span[None, below, 1]) - np.maximum(
            span[above, None, 0], span[None, below, 0]
        )
        for a, b in zip(*np.nonzero(shared > 0), strict=True):
            pair = int(alley[above[a]]), int(alley[below[b]])
            found[pair] = max(found.get(pair, 0.0), float(shared[a, b]))
    return np.array([(a, b, 1.0, w) for (a, b), w in found.items() if a != b]).reshape(-1, 4)


def _across_paths(beds: gpd.GeoDataFrame, alley: Ints, reach_m: float) -> Floats:
    """Between alleys whose beds lie beside each other with a path between (0), weighted by that length."""
    shapes = beds.geometry.to_numpy()
    row = beds["row"].to_numpy()
    a, b = shapely.STRtree(shapes).query(shapes, predicate="dwithin", distance=reach_m)
    some = (row[a] < row[b]) & (alley[a] != alley[b])
    a, b = a[some], b[some]
    axis = beds["axis"].to_numpy()[b]
    shared = shapely.length(
        shapely.intersection(axis, shapely.buffer(shapes[a], reach_m + beds["width_m"].to_numpy()[b] / 2, quad_segs=2))
    )
    return np.column_stack([alley[a], alley[b], np.zeros(len(a)), _SAME_FIRST * shared])


def _handed_on(edges: Floats, count: int) -> Ints:
    """Numbers that keep the wanted differences along a heaviest spanning tree, from 1 in each connected part."""
    parent, step = np.arange(count), np.zeros(count, dtype=np.int64)

    def root(node: int) -> tuple[int, int]:
        total = 0
        while parent[node] != node:
            total += int(step[node])
            node = int(parent[node])
        return node, total

    order = np.lexsort((edges[:, 1], edges[:, 0], -edges[:, 3]))
    for a, b, more, _ in edges[order]:
        (first, up), (second, down) = root(int(a)), root(int(b))
        if first != second:  # number[b] = number[a] + more
            parent[second], step[second] = first, up + int(more) - down
    found = np.array([root(node) for node in range(count)], dtype=np.int64).reshape(-1, 2)
    lowest = np.full(count, np.iinfo(np.int64).max)
    np.minimum.at(lowest, found[:, 0], found[:, 1])
    number: Ints = found[:, 1] - lowest[found[:, 0]] + 1
    return number
