"""Rows seen in an earlier round, measured again near the points met then, in one compiled pass."""

from __future__ import annotations

import numpy as np

from geoagro.arrays import Bools, Floats, Ints
from geoagro.planar.compiled import compiled

NEAR_PIECES = 2
"""Between two rounds, the point met wanders along its row by no more than this many pieces to either side."""
_NOTHING = 1e-9

Nodes = tuple[Floats, Floats, Ints, Ints, Floats, Bools]
Seen = tuple[Floats, Ints, Floats]


@compiled
def follow_rays(nodes: Nodes, cast: tuple[int, float], seen: Seen, step_before: Floats, out: Seen) -> None:
    """Write the distance, row and station met by each node's normal into `out`.

    Parameters
    ----------
    nodes
        Places and normals of all nodes (n, 2); first node, number of nodes and step of each row, and whether it is a ring.
    cast
        1 to the left, -1 to the right, and how far.
    seen, step_before
        What was met before, and the step of each row then: rows grow and shrink, so a station alone would tell another place.
    """
    xy, normal, first, count, step, is_ring = nodes
    side, reach_m = cast
    _, line_before, station_before = seen
    distance, line, station = out
    for k in range(len(xy)):
        distance[k], line[k], station[k] = np.inf, -1, np.nan
        row = line_before[k]
        if row < 0:
            continue
        pieces = count[row] - 1
        middle = int(np.floor(station_before[k] / step_before[row]))
        nx, ny = side * normal[k, 0], side * normal[k, 1]
        for by in range(-NEAR_PIECES, NEAR_PIECES + 1):
            piece = middle + by
            piece = piece % pieces if is_ring[row] else min(max(piece, 0), pieces - 1)
            a = first[row] + piece
            px, py = xy[a, 0] - xy[k, 0], xy[a, 1] - xy[k, 1]
            qx, qy = xy[a + 1, 0] - xy[a, 0], xy[a + 1, 1] - xy[a, 1]
            turn = nx * qy - ny * qx
            if abs(turn) <= 1e-12:
                continue
            at, share = (px * qy - py * qx) / turn, (px * ny - py * nx) / turn
            if -_NOTHING <= share <= 1 + _NOTHING and _NOTHING < at <= reach_m and at < distance[k]:
                distance[k], line[k] = at, row
                station[k] = (piece + share) * step[row]
