"""Lines cut into short two-point segments with a search tree: who is near, and what a ray meets first."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely

from geoagro.arrays import Floats, Ints

_LONGEST_M = 10.0  # long slanted segments have wide envelopes, which slow the tree


@dataclass(frozen=True)
class Segments:
    """Two-point segments of many lines.

    Attributes
    ----------
    start, end
        Shape (n, 2).
    owner
        Number of the line that the segment belongs to.
    shapes, tree
        The segments as LineStrings, and the tree over them.
    """

    start: Floats
    end: Floats
    owner: Ints
    shapes: Any
    tree: Any

    def pairs(self, shapes: Any, distance_m: float) -> tuple[Ints, Ints]:
        """Index of shape and of segment for all that are within a distance of each other."""
        shape, segment = self.tree.query(shapes, predicate="dwithin", distance=distance_m)
        return shape, segment

    def first_hit(self, origin: Floats, direction: Floats, near: float, far: float) -> tuple[Floats, Ints]:
        """Find what rays meet first between `near` and `far` times `direction`.

        Returns
        -------
        The multiple of `direction` (inf where nothing is met) and the owner of what is met (-1).
        """
        ends = np.stack([origin + near * direction, origin + far * direction], axis=1)
        ray, segment = self.tree.query(shapely.linestrings(ends), predicate="intersects")
        edge = self.end[segment] - self.start[segment]
        away = self.start[segment] - origin[ray]
        cross = _cross(direction[ray], edge)
        with np.errstate(divide="ignore", invalid="ignore"):
            at = np.where(cross != 0, _cross(away, edge) / cross, np.inf)
        order = np.lexsort([self.owner[segment], at, ray])
        ray, segment, at = ray[order], segment[order], at[order]
        lead = np.append(True, ray[1:] != ray[:-1])[: len(ray)]
        distance, owner = np.full(len(origin), np.inf), np.full(len(origin), -1)
        distance[ray[lead]] = at[lead]
        owner[ray[lead]] = np.where(np.isfinite(at[lead]), self.owner[segment[lead]], -1)
        return distance, owner


def segments(lines: Any) -> Segments:
    """Cut lines (an array of LineStrings or LinearRings) into segments."""
    lines = shapely.segmentize(np.asarray(lines, dtype=object), _LONGEST_M)
    xy, line = shapely.get_coordinates(lines, return_index=True)
    keep = line[1:] == line[:-1]
    start, end = xy[:-1][keep], xy[1:][keep]
    shapes = shapely.linestrings(np.stack([start, end], axis=1))
    return Segments(start, end, line[:-1][keep].astype(np.int64), shapes, shapely.STRtree(shapes))


def _cross(a: Floats, b: Floats) -> Floats:
    product: Floats = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    return product
