"""Margins inside and around areas whose outlines have very many vertices.

The buffer of a whole outline takes time with the square of its vertices where they jitter (tracks of a receiver, edges
of an image). Here the outline is cut into short pieces, each is buffered by itself, and the pieces are united, which is
about linear. Few vertices take the plain buffer, whose results they have always had.
"""

from __future__ import annotations

import numpy as np
import shapely
from shapely import MultiPolygon
from shapely.geometry.base import BaseGeometry

FEW = 1500
"""Vertices up to which the plain buffer is quick."""

_PIECE = 6


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


def grown(area: MultiPolygon, width_m: float, *, quad_segs: int = 16) -> BaseGeometry:
    """Area and all ground within `width_m` of it.

    >>> round(float(grown(shapely.box(0, 0, 10, 10), 1.0).area), 2)
    143.14
    """
    if shapely.get_num_coordinates(area) <= FEW:
        return area.buffer(width_m, quad_segs=quad_segs)
    return area.union(_strip(area, width_m, quad_segs))


def _strip(area: MultiPolygon, width_m: float, quad_segs: int) -> BaseGeometry:
    """Ground within `width_m` of the outline, united from pieces of `_PIECE` edges.

    Vertices nearer to each other than a hundredth of the width are taken out of a piece first: its strip moves by no
    more than that, and always less than the roundness of its corners.
    """
    pieces: list[BaseGeometry] = []
    for ring in shapely.get_rings(shapely.get_parts(area)):
        xy = shapely.get_coordinates(ring)
        for first in range(0, len(xy) - 1, _PIECE):
            pieces.append(shapely.LineString(xy[first : first + _PIECE + 1]))
    lines = shapely.simplify(np.array(pieces, dtype=object), 0.003 * width_m)
    return shapely.union_all(shapely.buffer(lines, width_m, quad_segs=quad_segs))
