"""Taking polygons away from polygons, neighbour by neighbour, so that the work grows with the ground."""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_NOTHING_M2 = 1e-9


def subtract(shapes: Any, pair: tuple[Ints, Ints], others: Any) -> Any:
    """Take from each shape the others that it is paired with: (index of shape, index of other)."""
    order = np.argsort(pair[0], kind="stable")
    index, other = pair[0][order], pair[1][order]
    which, start = np.unique(index, return_index=True)
    result = np.asarray(shapes, dtype=object).copy()
    for shape, taken in zip(which, np.split(other, start[1:])[: len(which)], strict=True):
        result[shape] = shapely.difference(result[shape], shapely.union_all(others[taken]))
    return result


def parts_of(shapes: Any, smallest_m2: float) -> tuple[Any, Ints]:
    """Single polygons of at least a size, and the index of the shape that each is a part of."""
    parts, owner = shapely.get_parts(np.asarray(shapes, dtype=object), return_index=True)
    parts, again = shapely.get_parts(parts, return_index=True)  # polygons inside collections inside collections
    owner = owner[again]
    keep = (shapely.get_type_id(parts) == shapely.GeometryType.POLYGON) & (shapely.area(parts) >= smallest_m2)
    return parts[keep], owner[keep].astype(np.int64)


def largest_parts(shapes: Any) -> Any:
    """Largest polygon of each shape; an empty polygon where there is none."""
    shapes = np.asarray(shapes, dtype=object)
    parts, owner = parts_of(shapes, 0.0)
    order = np.lexsort([shapely.area(parts), owner])
    result = np.full(len(shapes), shapely.Polygon(), dtype=object)
    result[owner[order]] = parts[order]  # the last one written is the largest
    return result


def trim_overlaps(shapes: Any, rank: Floats) -> Any:
    """Take what two shapes share from the one of higher rank (of equals, the smaller one)."""
    shapes = np.asarray(shapes, dtype=object).copy()
    area = shapely.area(shapes)
    a, b = shapely.STRtree(shapes).query(shapes, predicate="intersects")
    before = (rank[a] < rank[b]) | ((rank[a] == rank[b]) & ((area[a] > area[b]) | ((area[a] == area[b]) & (a < b))))
    a, b = a[before], b[before]
    real = shapely.area(shapely.intersection(shapes[a], shapes[b])) > _NOTHING_M2
    cut = np.unique(b[real])
    shapes[cut] = largest_parts(subtract(shapes, (b[real], a[real]), shapes)[cut])
    return shapes
