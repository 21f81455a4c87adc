"""Shortest ways on foot inside the field: straight where nothing is in between, else round the corners.

Round corners by a visibility graph: the shortest way among polygons is straight between corners that point
into the free ground (Lozano-Perez and Wesley 1979).
"""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely
from scipy.sparse import csr_array
from scipy.sparse.csgraph import dijkstra
from scipy.spatial import cKDTree
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from geoagro.arrays import Floats

_MARGIN_M = 0.5
_NEAR = 24  # ways to this many nearest places are found exactly, farther ones are taken as straight


class Ways:
    """Ways between places (an array of points) on free ground.

    Attributes
    ----------
    length
        Shape (n, n), metres. Exact between near places and wherever nothing is in between; elsewhere the
        straight distance, so never too long.
    """

    def __init__(self, places: Floats, free: BaseGeometry) -> None:
        self.places = places
        self._free = _grown(free)
        self._corners = corners(self._free)
        self.length = np.hypot(*(places[:, None, :] - places[None, :, :]).transpose(2, 0, 1))
        self._correct_near()

    def way(self, a: int, b: int) -> Floats:
        """Return the points of the way from place `a` to place `b`, both included."""
        ends = self.places[[a, b]]
        if bool(self._seen(ends[:1], ends[1:])[0]):
            return ends
        nodes = np.vstack([self._corners, ends])
        graph = self._graph(ends)
        n = len(nodes)
        _, before = dijkstra(graph, directed=False, indices=[n - 2], return_predecessors=True)
        before = before[0]
        path = [n - 1]
        while before[path[-1]] >= 0:
            path.append(int(before[path[-1]]))
        return nodes[path[::-1]] if path[-1] == n - 2 else ends

    def walked(self, a: int, b: int) -> float:
        """Measure the way from `a` to `b`, exact also between places far apart."""
        return float(np.hypot(*np.diff(self.way(a, b), axis=0).T).sum())

    def _correct_near(self) -> None:
        n = len(self.places)
        _, near = cKDTree(self.places).query(self.places, k=min(_NEAR + 1, n))
        a = np.repeat(np.arange(n), near.shape[1] if near.ndim > 1 else 1)
        b = near.ravel()
        blocked = ~self._seen(self.places[a], self.places[b])
        if not blocked.any() or len(self._corners) == 0:
            return
        a, b = a[blocked], b[blocked]
        ends = np.unique(np.concatenate([a, b]))
        at = np.searchsorted(ends, np.arange(n))
        graph = self._graph(self.places[ends])
        first = len(self._corners)
        lengths = dijkstra(graph, directed=False, indices=first + np.arange(len(ends)))[:, first:]
        found = lengths[at[a], at[b]]
        found = np.where(np.isfinite(found), found, self.length[a, b])  # another part of the field: across
        self.length[a, b] = found
        self.length[b, a] = found

    def _graph(self, ends: Floats) -> csr_array:
        """Who sees whom among corners and `ends` (which come last)."""
        nodes = np.vstack([self._corners, ends])
        i, j = np.triu_indices(len(self._corners), 1)
        e, c = np.divmod(np.arange(len(ends) * len(self._corners)), max(len(self._corners), 1))
        i, j = np.concatenate([i, c]), np.concatenate([j, len(self._corners) + e])
        seen = self._seen(nodes[i], nodes[j])
        i, j = i[seen], j[seen]
        length = np.hypot(*(nodes[i] - nodes[j]).T)
        return csr_array((length, (i, j)), shape=(len(nodes), len(nodes)))

    def _seen(self, a: Floats, b: Floats) -> Any:
        sights = shapely.linestrings(np.stack([a, b], axis=1))
        return shapely.covers(self._free, sights)


def _grown(free: BaseGeometry) -> Any:
    """Free ground a little wider, so that corners on its edge can be walked to, without needless vertices."""
    grown = free.buffer(_MARGIN_M, join_style="mitre", mitre_limit=2.0).simplify(_MARGIN_M / 2)
    shapely.prepare(grown)
    return grown


def corners(free: Polygon | MultiPolygon) -> Floats:
    """Vertices that point into the free ground; only there does a shortest way turn."""
    found = [np.empty((0, 2))]
    for part in shapely.get_parts(shapely.orient_polygons(free)):
        for ring in (part.exterior, *part.interiors):
            xy = shapely.get_coordinates(ring)[:-1]
            ahead, behind = np.roll(xy, -1, axis=0) - xy, xy - np.roll(xy, 1, axis=0)
            turn = behind[:, 0] * ahead[:, 1] - behind[:, 1] * ahead[:, 0]
            found.append(xy[turn < 0])
    return np.vstack(found)
