"""Places along many polylines, in one compiled pass: what `Polylines.at` gives, for places that come in order."""

from __future__ import annotations

import numpy as np

from geoagro.arrays import Floats, Ints
from geoagro.planar.compiled import compiled
from geoagro.planar.polylines import Polylines


def points_on(lines: Polylines, line: Ints, station: Floats) -> Floats:
    """Points (n, 2) at places on lines; quick where neighbours in the list are neighbours on a line."""
    out = np.empty((len(line), 2))
    _walk((lines.xy, lines.first, lines.along), np.ascontiguousarray(line, dtype=np.int64), station, out)
    return out


@compiled
def _walk(lines: tuple[Floats, Ints, Floats], line: Ints, station: Floats, out: Floats) -> None:
    xy, first, along = lines
    vertex = 0
    for k in range(len(line)):
        a, b = first[line[k]], first[line[k] + 1] - 1
        at = min(max(along[a] + station[k], along[a]), along[b])
        if vertex < a or vertex >= b:
            vertex = a
        while vertex < b - 1 and along[vertex + 1] <= at:
            vertex += 1
        while vertex > a and along[vertex] > at:
            vertex -= 1
        size = max(along[vertex + 1] - along[vertex], 1e-12)
        share = min(max((at - along[vertex]) / size, 0.0), 1.0)
        for c in range(2):
            out[k, c] = xy[vertex, c] + share * (xy[vertex + 1, c] - xy[vertex, c])


@compiled
def normals(xy: Floats, before: Ints, after: Ints) -> Floats:
    """Give unit normals (n, 2) of nodes, to the left of the way from the node before to the node after."""
    out = np.empty_like(xy)
    for k in range(len(xy)):
        x, y = xy[after[k], 0] - xy[before[k], 0], xy[after[k], 1] - xy[before[k], 1]
        size = max(np.hypot(x, y), 1e-12)
        out[k, 0], out[k, 1] = -(y / size), x / size
    return out
