"""Which row each node sees on either side: looked for afresh now and then, and followed while rows move a little."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

import numpy as np

from geoagro.planar.segments import Hits, meeting
from geoagro.rows.chains import Chains
from geoagro.rows.sampling import cast

SIDES = (1, -1)
NEAR_PIECES = np.arange(-2, 3)
"""Between two rounds, the point met wanders along its row by less than this many pieces to either side."""


def look(chains: Chains, *, reach_m: float, own_gap_m: float) -> tuple[Hits, Hits]:
    """Cast a ray from every node along its normal, to the left and to the right."""
    samples, segments = chains.samples(), chains.segments()
    with ThreadPoolExecutor(len(SIDES)) as pool:
        left, right = pool.map(
            lambda side: cast(samples, segments, side=side, reach_m=reach_m, own_gap_m=own_gap_m), SIDES
        )
    return left, right


def follow(chains: Chains, seen: tuple[Hits, Hits], *, reach_m: float) -> tuple[Hits, Hits]:
    """Measure again to the rows seen before, near the points met before; `chains` has the same nodes, moved.

    A node that saw no row, or lost it, sees none.
    """
    left, right = (_followed(chains, hits, side, reach_m) for side, hits in zip(SIDES, seen, strict=True))
    return left, right


def _followed(chains: Chains, hits: Hits, side: int, reach_m: float) -> Hits:
    i = np.nonzero(hits.line >= 0)[0]
    row = hits.line[i]
    pieces = (chains.count[row] - 1)[:, None]
    piece = np.floor(hits.station[i] / chains.step[row]).astype(np.intp)[:, None] + NEAR_PIECES
    piece = np.where(chains.is_ring[row][:, None], piece % pieces, np.clip(piece, 0, pieces - 1))
    start = chains.first[row][:, None] + piece
    ray = side * chains.normal[i][:, None, :]
    distance, part, met = meeting(chains.xy[i][:, None, :], ray, chains.xy[start], chains.xy[start + 1])
    distance = np.where(met & (distance > 1e-9) & (distance <= reach_m), distance, np.inf)
    best = np.argmin(distance, axis=1)
    at = np.arange(len(i))
    found = np.isfinite(distance[at, best])
    i, at, best, row = i[found], at[found], best[found], row[found]
    count = len(hits.line)
    out = Hits(np.full(count, np.inf), np.full(count, -1), np.full(count, np.nan))
    out.distance[i] = distance[at, best]
    out.line[i] = row
    out.station[i] = (piece[at, best] + part[at, best]) * chains.step[row]
    return out
