"""Margins inside and around areas whose outlines have very many vertices.

The buffer of a whole outline takes time with the square of its vertices where they jitter (tracks of a receiver, edges
of an image). Here the outline is cut into short pieces, each is buffered by itself, and the pieces are united, which is
about linear. Where the outline passes the same ground again and again, cells of a fine grid take the place of pieces: their
number is bounded by the ground. Few vertices take the plain buffer, whose results they have always had.
"""

from __future__ import annotations

import numpy as np
import shapely
from shapely import MultiPolygon
from shapely.geometry.base import BaseGeometry

from geoagro.arrays import Floats, Shapes

FEW = 1500
"""Vertices up to which the plain buffer is quick."""

_LINES = (shapely.GeometryType.LINESTRING, shapely.GeometryType.LINEARRING)
_PIECE = 6

_CELL = 0.1
"""Side of a cell over the width: the hull of what lies in it reaches at most d2/8 = .25 % of the width too far (d, its
diagonal), and between two cells a margin is as much too narrow."""


def margin_inside(area: MultiPolygon, width_m: float, *, quad_segs: int) -> BaseGeometry:
    """Ground of an area within `width_m` (above 0) of its outline and its holes' outlines, round at corners."""
    if shapely.get_num_coordinates(area) <= FEW:
        return area.difference(area.buffer(-width_m, quad_segs=quad_segs))
    return area.intersection(_strip(area, width_m, quad_segs))


def near_outline(area: MultiPolygon, width_m: float, *, quad_segs: int) -> BaseGeometry:
    """Ground within `width_m` (above 0) of an area's outline and its holes' outlines; some of it may lie outside the area.

    To be cut with the area, or taken from it: quicker for outlines of very many corners than `margin_inside`, whose result
    has all of them once more.
    """
    if shapely.get_num_coordinates(area) <= FEW:
        return margin_inside(area, width_m, quad_segs=quad_segs)
    return _strip(area, width_m, quad_segs)


def grown(area: BaseGeometry, width_m: float, *, quad_segs: int = 16) -> BaseGeometry:
    """Area (or lines, points) and all ground within `width_m` of it.

    >>> round(float(grown(shapely.box(0, 0, 10, 10), 1.0).area), 2)
    143.14
    """
    if shapely.get_num_coordinates(area) <= FEW:
        return area.buffer(width_m, quad_segs=quad_segs)
    parts = shapely.get_parts(shapely.get_parts([area]))
    points = shapely.get_type_id(parts) == shapely.GeometryType.POINT
    ground = [part for part in parts if part.geom_type == "Polygon"]
    around = shapely.buffer(parts[points], width_m, quad_segs=quad_segs)
    return shapely.union_all([*ground, *around, _strip(area, width_m, quad_segs)])


def grown_each(shapes: Shapes, width_m: Floats) -> Shapes:
    """Each shape with all ground within its own width; those of width 0 as they are."""
    wide = np.asarray(shapes, dtype=object).copy()
    some = width_m > 0
    many = some & (shapely.get_num_coordinates(wide) > FEW)
    few = some & ~many
    wide[few] = shapely.buffer(wide[few], width_m[few], quad_segs=16)
    wide[many] = [grown(shape, width) for shape, width in zip(wide[many], width_m[many], strict=True)]
    return wide


def _strip(area: BaseGeometry, width_m: float, quad_segs: int) -> BaseGeometry:
    """Ground within `width_m` of the outline, united from few simple shapes.

    The outline moves by at most a hundredth of the width, mostly by less than the roundness of corners: pieces lose corners
    nearer to each other than that, or all that lies in one small cell is taken as its hull.
    """
    parts = shapely.get_parts(shapely.get_parts([area]))
    lines = parts[np.isin(shapely.get_type_id(parts), _LINES)]
    rings = [shapely.get_coordinates(line) for line in (*shapely.get_rings(parts), *lines)]
    if not rings:
        return shapely.Polygon()
    corners = sum(map(len, rings))
    heaps = _heaps(rings, _CELL * width_m, most=corners)
    shapes = shapely.simplify(_pieces(rings), 0.003 * width_m) if heaps is None else heaps
    return shapely.union_all(shapely.buffer(shapes, width_m, quad_segs=quad_segs))


def _pieces(rings: list[Floats]) -> Shapes:
    """Lines of `_PIECE` edges each, which together are the rings."""
    lines = [xy[k : k + _PIECE + 1] for xy in rings for k in range(0, len(xy) - 1, _PIECE)]
    return np.array([shapely.LineString(xy) for xy in lines], dtype=object)


def _heaps(rings: list[Floats], cell_m: float, *, most: int) -> Shapes | None:
    """Hulls of what lies in each cell of a fine grid, where an outline passes the same ground many times.

    Cells with outline in all their eight neighbours add nothing to a margin and are left out. None if pieces of the
    outline would be fewer and quicker: more than `most` halves of them, or ten steps of a cell for each corner.
    """
    if sum(np.hypot(*np.diff(xy, axis=0).T).sum() for xy in rings) > 10 * most * cell_m:
        return None
    xy = np.concatenate([_dense(ring, cell_m) for ring in rings])
    column, row = ((xy - xy.min(axis=0)) // cell_m).astype(np.int64).T + 1
    width = int(column.max()) + 2
    cell = row * width + column
    filled = np.unique(cell)
    around = [dy * width + dx for dx in (-1, 0, 1) for dy in (-1, 0, 1)]
    inner = np.logical_and.reduce([np.isin(filled + step, filled, assume_unique=True) for step in around])
    if 2 * int((~inner).sum()) > most:
        return None
    outer = np.isin(cell, filled[~inner])
    order = np.argsort(cell[outer], kind="stable")
    _, heap = np.unique(cell[outer][order], return_inverse=True)
    return np.asarray(shapely.convex_hull(shapely.multipoints(xy[outer][order], indices=heap)), dtype=object)


def _dense(xy: Floats, step_m: float) -> Floats:
    """Corners of a ring, with points between them where they are further apart than a step."""
    edge = np.diff(xy, axis=0)
    count = np.maximum(1, np.ceil(np.hypot(*edge.T) / step_m)).astype(np.int64)
    of = np.repeat(np.arange(len(edge)), count)
    place = np.arange(len(of)) - np.repeat(np.cumsum(count) - count, count)
    return np.asarray(xy[of] + edge[of] * (place / count[of])[:, None], dtype=np.float64)
