"""Which row each node sees on either side: looked for afresh now and then, and followed while rows move a little."""

from __future__ import annotations

import numpy as np

from geoagro.planar.segments import Hits
from geoagro.rows.chains import Chains
from geoagro.rows.loops.followed import follow_rays
from geoagro.rows.sampling import cast_both

SIDES = (1, -1)


def look(chains: Chains, *, reach_m: float, own_gap_m: float) -> tuple[Hits, Hits]:
    """Cast a ray from every node along its normal, to the left and to the right."""
    return cast_both(chains.samples(), chains.segments(), reach_m=reach_m, own_gap_m=own_gap_m)


def follow(chains: Chains, before: Chains, seen: tuple[Hits, Hits], *, reach_m: float) -> tuple[Hits, Hits]:
    """Measure again to the rows seen before, near the points met before; `chains` has the same nodes as `before`, moved.

    A node that saw no row, or lost it, sees none.
    """
    left, right = (_followed(chains, before, hits, side, reach_m) for side, hits in zip(SIDES, seen, strict=True))
    return left, right


def _followed(chains: Chains, before: Chains, hits: Hits, side: int, reach_m: float) -> Hits:
    size = len(hits.line)
    out = Hits(np.empty(size), np.empty(size, dtype=np.int64), np.empty(size))
    nodes = (chains.xy, chains.normal, chains.first, chains.count, chains.step, chains.is_ring)
    seen, found = ((h.distance, h.line, h.station) for h in (hits, out))
    follow_rays(nodes, (side, float(reach_m)), seen, before.step, found)
    return out
