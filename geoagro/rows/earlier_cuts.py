"""What earlier rounds cut and no row has taken up since: still cut, for the same reason."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from shapely import LineString

from geoagro.arrays import Ints, Shapes
from geoagro.planar.cutting import subtract
from geoagro.planar.segments import segments_of
from geoagro.values.rows import Lines

SHORTEST_M = 1.0
"""What is left of a piece counts from this length on: less is a rounding at a row's end."""


Cuts = list[tuple[str, LineString]]


def with_all_earlier_cuts(held: Lines, past: Sequence[Cuts], *, spacing_m: float) -> Lines:
    """Add what several earlier sets cut, the latest first (see `with_earlier_cuts`).

    Most of it has been taken up by rows since, so that is left out first, at once.
    """
    every = [entry for cuts in past for entry in cuts]
    if not every:
        return held
    of_set = np.repeat(np.arange(len(past)), [len(cuts) for cuts in past])
    left, which = _left(held.kept, every, spacing_m) if held.kept else (every, np.arange(len(every)))
    for number in np.unique(of_set[which]):
        those = np.flatnonzero(of_set[which] == number)
        held = with_earlier_cuts(held, [left[k] for k in those], spacing_m=spacing_m)
    return held


def with_earlier_cuts(held: Lines, earlier: Cuts, *, spacing_m: float) -> Lines:
    """Add to `held` the parts of earlier cut pieces that lie more than half a spacing from all that is held.

    Nearer than that the ground is served by a row, or a newer cut says why it isn't.
    """
    taken = [*held.kept, *(piece for _, piece in held.cut)]
    if not earlier or not taken:
        return Lines(held.kept, held.cut + earlier)
    return Lines(held.kept, held.cut + _left(taken, earlier, spacing_m)[0])


def _left(taken: Sequence[LineString], earlier: Cuts, spacing_m: float) -> tuple[Cuts, Ints]:
    """Parts of earlier pieces that lie away from lines, and the piece that each is of."""
    reasons, pieces = zip(*earlier, strict=True)
    away = _away_from(taken, np.array(pieces, dtype=object), spacing_m / 2)
    parts, owner = shapely.get_parts(away, return_index=True)
    long = shapely.length(parts) >= SHORTEST_M
    return [(reasons[k], part) for k, part in zip(owner[long], parts[long], strict=True)], owner[long]


def _away_from(lines: Sequence[LineString], pieces: Shapes, reach_m: float) -> Shapes:
    """Each piece without what lies within reach of a line; only the lines' straight pieces near by are looked at."""
    straight = segments_of(lines).tree
    piece, near = straight.query(pieces, predicate="dwithin", distance=reach_m)
    some, other = np.unique(near, return_inverse=True)
    return subtract(pieces, (piece, other), shapely.buffer(straight.geometries[some], reach_m))
