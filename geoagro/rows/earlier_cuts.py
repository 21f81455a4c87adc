"""What earlier rounds cut and no row has taken up since: still cut, for the same reason."""

from __future__ import annotations

import numpy as np
import shapely
from shapely import LineString

from geoagro.arrays import Shapes
from geoagro.planar.cutting import subtract
from geoagro.planar.segments import segments_of
from geoagro.values.rows import Lines

SHORTEST_M = 1.0
"""What is left of a piece counts from this length on: less is a rounding at a row's end."""


def with_earlier_cuts(held: Lines, earlier: list[tuple[str, LineString]], *, spacing_m: float) -> Lines:
    """Add to `held` the parts of earlier cut pieces that lie more than half a spacing from all that is held.

    Nearer than that the ground is served by a row, or a newer cut says why it isn't.
    """
    taken = [*held.kept, *(piece for _, piece in held.cut)]
    if not earlier or not taken:
        return Lines(held.kept, held.cut + earlier)
    reasons, pieces = zip(*earlier, strict=True)
    away = _away_from(taken, np.array(pieces, dtype=object), spacing_m / 2)
    parts, owner = shapely.get_parts(away, return_index=True)
    long = shapely.length(parts) >= SHORTEST_M
    left = [(reasons[k], part) for k, part in zip(owner[long], parts[long], strict=True)]
    return Lines(held.kept, held.cut + left)


def _away_from(lines: list[LineString], pieces: Shapes, reach_m: float) -> Shapes:
    """Each piece without what lies within reach of a line; only the lines' straight pieces near by are looked at."""
    straight = segments_of(lines).tree
    piece, near = straight.query(pieces, predicate="dwithin", distance=reach_m)
    some, other = np.unique(near, return_inverse=True)
    return subtract(pieces, (piece, other), shapely.buffer(straight.geometries[some], reach_m))
