"""Places along many polylines, in one compiled pass: what `Polylines.at` gives, for places that come in order."""

from __future__ import annotations

import numpy as np

from geoagro.arrays import Bools, Floats, Ints
from geoagro.planar.compiled import compiled
from geoagro.planar.polylines import Polylines


def points_on(lines: Polylines, line: Ints, station: Floats) -> Floats:
    """Points (n, 2) at places on lines; quick where neighbours in the list are neighbours on a line."""
    out = np.empty((len(line), 2))
    _walk((lines.xy, lines.first, lines.along), np.ascontiguousarray(line, dtype=np.int64), station, out)
    return out


def points_on_curves(lines: Polylines, is_ring: Bools, bent: Bools, line: Ints, station: Floats) -> Floats:
    """Points (n, 2) at places on the curves through the vertices, about evenly spaced, of lines that are bent: no arc is cut.

    Of lines that aren't `bent` they lie on the straight pieces.
    """
    out = np.empty((len(line), 2))
    _walk_curves(
        (lines.xy, lines.first, lines.along), (is_ring, bent), np.ascontiguousarray(line, dtype=np.int64), station, out
    )
    return out


@compiled
def _walk(lines: tuple[Floats, Ints, Floats], line: Ints, station: Floats, out: Floats) -> None:
    xy, first, along = lines
    vertex = 0
    for k in range(len(line)):
        a, b = first[line[k]], first[line[k] + 1] - 1
        at = min(max(along[a] + station[k], along[a]), along[b])
        vertex, share = _place(along, a, b, at, vertex)
        for c in range(2):
            out[k, c] = xy[vertex, c] + share * (xy[vertex + 1, c] - xy[vertex, c])


@compiled
def _place(along: Floats, a: int, b: int, at: float, vertex: int) -> tuple[int, float]:
    """Vertex of the line from `a` to `b` before a place, sought from another one, and the share of the way to the next."""
    if vertex < a or vertex >= b:
        vertex = a
    while vertex < b - 1 and along[vertex + 1] <= at:
        vertex += 1
    while vertex > a and along[vertex] > at:
        vertex -= 1
    size = max(along[vertex + 1] - along[vertex], 1e-12)
    return vertex, min(max((at - along[vertex]) / size, 0.0), 1.0)


@compiled
def _walk_curves(
    lines: tuple[Floats, Ints, Floats], kind: tuple[Bools, Bools], line: Ints, station: Floats, out: Floats
) -> None:
    """Read the cubic through four vertices between the two inner ones; beyond an end a line goes on straight."""
    xy, first, along = lines
    is_ring, bent = kind
    vertex = 0
    for k in range(len(line)):
        a, b = first[line[k]], first[line[k] + 1] - 1
        at = min(max(along[a] + station[k], along[a]), along[b])
        vertex, t = _place(along, a, b, at, vertex)
        before, after = vertex - 1, vertex + 2
        if is_ring[line[k]]:
            before, after = b - 1 if vertex == a else before, a + 1 if vertex + 1 == b else after
        for c in range(2):
            p, q = xy[vertex, c], xy[vertex + 1, c]
            o = xy[before, c] if before >= a else 2 * p - q
            r = xy[after, c] if after <= b else 2 * q - p
            off = (t - 2) * (o - 2 * p + q) - (t + 1) * (p - 2 * q + r)
            out[k, c] = p + t * (q - p) + (t * (1 - t) / 6 * off if bent[line[k]] else 0.0)


@compiled
def normals(xy: Floats, before: Ints, after: Ints) -> Floats:
    """Give unit normals (n, 2) of nodes, to the left of the way from the node before to the node after."""
    out = np.empty_like(xy)
    for k in range(len(xy)):
        x, y = xy[after[k], 0] - xy[before[k], 0], xy[after[k], 1] - xy[before[k], 1]
        size = max(np.hypot(x, y), 1e-12)
        out[k, 0], out[k, 1] = -(y / size), x / size
    return out
