"""Outlines that cross themselves more often than can be repaired: told before the work, from a sample of their edges."""

from __future__ import annotations

import numpy as np
import shapely

from geoagro.arrays import Shapes
from geoagro.errors import InputError
from geoagro.inputs.vector.features import Features

MOST_CROSSINGS = 200_000
"""Crossings that are repaired, which takes some 25 microseconds each. Our own choice."""

_BATCH, _SAMPLE = 10, 2000


def refuse_tangles(features: Features, shapes: Shapes) -> None:
    """Raise InputError for lines or polygons of which every repair would be both slow and a guess."""
    crossings = crossings_of(shapes)
    if crossings <= MOST_CROSSINGS:
        return
    corners = int(shapely.get_num_coordinates(shapes).sum())
    raise InputError(
        f"{features.where}: its outline of {corners:,} corners crosses itself about {crossings:,.0f} times (counted on "
        f"a sample), more than the {MOST_CROSSINGS:,} that can be repaired. It zigzags inside its own noise: thin its corners "
        "out in the program that recorded or drew it (one each metre is plenty, or simplify by the noise of the receiver)."
    )


def crossings_of(shapes: Shapes) -> float:
    """Estimate how often the edges of lines and polygons cross, from a seeded sample; exact for few edges.

    Counting stops early where the number is clearly beyond `MOST_CROSSINGS`.

    >>> crossings_of(np.array([shapely.LineString([(0, 0), (2, 2), (2, 0), (0, 2)])]))
    1.0
    """
    edges = _edges(shapes)
    tree = shapely.STRtree(edges)
    order = (
        np.random.default_rng(0).permutation(len(edges))[:_SAMPLE] if len(edges) > _SAMPLE else np.arange(len(edges))
    )
    found, seen = 0, 0
    for first in range(0, len(order), _BATCH):
        batch = order[first : first + _BATCH]
        found, seen = found + len(tree.query(edges[batch], predicate="crosses")[0]), seen + len(batch)
        if seen >= 10 * _BATCH and found / seen * len(edges) / 2 > 4 * MOST_CROSSINGS:
            break
    return found / max(seen, 1) * len(edges) / 2


def _edges(shapes: Shapes) -> Shapes:
    """Every edge of lines and rings as a line of its own."""
    lines = shapely.get_parts(np.where(shapely.get_dimensions(shapes) == 2, shapely.boundary(shapes), shapes))
    xy, line = shapely.get_coordinates(lines, return_index=True)
    within = np.flatnonzero(line[1:] == line[:-1])
    return np.asarray(shapely.linestrings(np.stack([xy[within], xy[within + 1]], axis=1)), dtype=object)
