"""Many polygons or lines at once as matplotlib paths, thinned to what the page can show."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
import shapely
from matplotlib.collections import LineCollection
from matplotlib.patches import PathPatch
from matplotlib.path import Path
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from geoagro.arrays import Shapes

_POLYGONS_PER_PATH = 500  # a path with too many cells overflows the rasteriser
_THIN_MM = 0.05  # drawing tolerance on paper


def polygon_patches(
    geometries: Sequence[BaseGeometry] | Shapes, *, mm_per_m: float, **look: Any
) -> Iterator[PathPatch]:
    """Polygons, holes kept, as a few patches in one look.

    Add them by `add_artist` where the axes have their limits: `add_patch` looks for the extent of each curve anew.
    """
    thin = shapely.simplify(np.asarray(geometries, dtype=object), _THIN_MM / mm_per_m)
    parts = shapely.get_parts(thin)
    parts = shapely.orient_polygons(parts[shapely.get_type_id(parts) == shapely.GeometryType.POLYGON])
    for start in range(0, len(parts), _POLYGONS_PER_PATH):
        yield PathPatch(_compound(parts[start : start + _POLYGONS_PER_PATH]), **look)


def _compound(polygons: NDArray[np.object_]) -> Path:
    rings = shapely.get_rings(polygons)
    vertices, owner = shapely.get_coordinates(rings, return_index=True)
    codes = np.full(len(vertices), Path.LINETO, dtype=np.uint8)
    if len(owner) > 0:
        starts = np.flatnonzero(np.diff(owner, prepend=-1))
        ends = np.append(starts[1:], len(owner)) - 1
        codes[starts], codes[ends] = Path.MOVETO, Path.CLOSEPOLY
    return Path(vertices, codes)


def line_collection(geometries: Sequence[BaseGeometry] | Shapes, *, mm_per_m: float, **look: Any) -> LineCollection:
    """Lines in one look."""
    thin = shapely.simplify(np.asarray(geometries, dtype=object), _THIN_MM / mm_per_m)
    vertices, owner = shapely.get_coordinates(shapely.get_parts(thin), return_index=True)
    cuts = np.flatnonzero(np.diff(owner)) + 1
    segments: Any = np.split(vertices, cuts) if len(vertices) else []
    return LineCollection(segments, capstyle="round", joinstyle="round", **look)
