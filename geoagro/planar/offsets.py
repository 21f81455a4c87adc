"""Lines beside lines at one distance each, as far as a bend lets them run."""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely

from geoagro.arrays import Floats, Ints, Shapes
from geoagro.errors import LayoutError
from geoagro.planar.polylines import Polylines


def parallels(lines: Polylines, distance_m: Floats) -> Polylines:
    """Lines at a distance beside each line (left positive), vertex for vertex.

    Corners are mitred, so every segment keeps its distance. Where a bend is tighter than the distance
    and segments would run backwards, the line comes from GEOS' offset curve.
    """
    shifted = lines.xy + lines.mitres * np.repeat(distance_m, lines.counts)[:, None]
    result = Polylines.of(shifted, lines.counts, lines.crs)
    folded = _runs_backwards(lines, shifted)
    if len(folded) == 0:
        return result
    shapes = result.geometries()
    shapes[folded] = offset_curves(lines.take(folded).geometries(), distance_m[folded])
    return Polylines.read(shapes, crs=lines.crs)


def _runs_backwards(lines: Polylines, shifted: Floats) -> Ints:
    same_way = np.sum(np.diff(shifted, axis=0) * np.diff(lines.xy, axis=0), axis=1)
    inner = lines.line[1:] == lines.line[:-1]
    return np.unique(lines.line[1:][inner & (same_way <= 0)])


def offset_curves(lines: Shapes, distance_m: Floats) -> Any:
    """GEOS' offset curves (left positive), each running the way of its line; the longest piece of each.

    Raises LayoutError where nothing is left of a line at that distance.
    """
    curves = shapely.offset_curve(lines, distance_m, quad_segs=16, join_style="mitre")
    pieces, line = shapely.get_parts(curves, return_index=True)
    whole = shapely.length(pieces) > 0
    pieces, line = pieces[whole], line[whole]
    by_length = np.lexsort([shapely.length(pieces), line])
    longest = by_length[np.diff(line[by_length], append=-1) != 0]
    if len(longest) < len(lines):
        lost = np.setdiff1d(np.arange(len(lines)), line)[0]
        raise LayoutError(
            f"A line of {shapely.length(lines[lost]):.1f} m bends too tightly to lay another {distance_m[lost]:.2f} m "
            "beside it. Raise rows.min_turn_radius_m or bring the lines nearer to the bed's middle."
        )
    found = lines.copy()
    found[line[longest]] = pieces[longest]
    start = shapely.line_locate_point(lines, shapely.get_point(found, 0))
    end = shapely.line_locate_point(lines, shapely.get_point(found, -1))
    return np.where(start > end, shapely.reverse(found), found)
