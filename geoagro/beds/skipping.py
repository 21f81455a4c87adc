"""Leave out beds that the design skips, and keep their ground with its reason."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
import shapely

from geoagro.arrays import Shapes
from geoagro.values.beds import Beds
from geoagro.values.places import Reach


@dataclass(frozen=True, eq=False)
class Skipped:
    """Ground of beds that are not laid, and the reason of each."""

    shapes: Shapes
    reasons: tuple[str, ...]


def skip_beds(beds: Beds, asked: Iterable[tuple[str, Reach]]) -> tuple[Beds, Skipped]:
    """Take out the beds that a place holds, by the middle of their axis; the first reason counts."""
    reasons: dict[str, str] = {}
    layers = (beds.tree_beds, beds.beds)
    names = [str(name) for layer in layers for name in layer["bed"]]
    axes = np.concatenate([layer["axis"].to_numpy() for layer in layers])
    middle = shapely.get_coordinates(shapely.line_interpolate_point(axes, 0.5, normalized=True))
    for reason, reach in asked:
        for k in np.flatnonzero(reach.holds(names, np.arange(len(names)), middle)):
            reasons.setdefault(names[k], reason)
    shapes = [shape for layer in layers for shape in layer.geometry[layer["bed"].isin(list(reasons))]]
    order = [name for name in names if name in reasons]
    left = [layer[~layer["bed"].isin(list(reasons))].reset_index(drop=True) for layer in layers]
    skipped = Skipped(np.array(shapes, dtype=object), tuple(reasons[name] for name in order))
    return replace(beds, tree_beds=left[0], beds=left[1]), skipped
