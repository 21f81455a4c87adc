"""Rows of one set inside some patches, those of another outside, their ends linked and the seams nudged smooth."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from shapely import LineString
from shapely.geometry.base import BaseGeometry

from geoagro.arrays import Bools, Floats, Ints, Shapes
from geoagro.planar.polylines import stretch
from geoagro.rows.clipping import clipped, clipped_of
from geoagro.rows.joining import apply_joins, facing
from geoagro.rows.row_ends import Ends, ends_of
from geoagro.rows.stitching.seams import Patch

TRIM_M = 2.0
"""Rows give up this much on both sides of a seam, so that a bend across it has room."""
REACH_M = 4.6
"""Ends this near after that are linked: rows that miss each other by up to about two metres."""
SIDE_M, ALONG_M = 1.8, 30.0
"""A row goes on in another one that lies up to the first distance beside its tip, if that one crosses the seam no farther
along than the second."""
CORNER_M = 8.0
"""A row that runs in a patch for less than this only cuts its corner."""
SHORTEST_M = 3.0
_SAME_WAY = 0.8
_ON_M = 1e-6
SEAM_ZONE_M = 14.0
"""Rows move up to this far from a seam."""


def spliced(
    rows: Sequence[LineString], donors: Sequence[Sequence[LineString]], chosen: Sequence[Patch]
) -> list[LineString]:
    """Rows with those of each patch's donor inside it, facing ends at the seams linked."""
    taken = shapely.union_all([patch.area for patch in chosen])
    pieces = [pair for patch in chosen for pair in _inside(donors[patch.donor], patch.area)]
    mixed = _without(rows, taken, [piece for _, piece in pieces])
    tips = ends_of(mixed)
    edge = taken.boundary
    shapely.prepare(edge)
    at_seam: Bools = np.asarray(shapely.dwithin(edge, shapely.points(tips.xy), _ON_M))
    mixed = _shortened(mixed, tips, at_seam)
    tree = shapely.STRtree(np.asarray(shapely.points(tips.xy[at_seam]), dtype=object))
    mixed += [_fitted(row, piece, tree, tips.heading[at_seam]) for row, piece in pieces]
    return apply_joins(mixed, facing(mixed, 0.0, REACH_M))


def _inside(rows: Sequence[LineString], area: BaseGeometry) -> list[tuple[LineString, LineString]]:
    """Pieces of rows inside an area, each after the row that it is of; what only cuts a corner is left out."""
    those = np.asarray(rows, dtype=object)
    shapely.prepare(area)
    those = those[shapely.intersects(area, those)]
    pieces, owner = clipped_of(those, area, CORNER_M)
    return list(zip(those[owner], pieces, strict=True))


def _shortened(rows: list[LineString], tips: Ends, which: Bools) -> list[LineString]:
    """Rows that give up a little at some of their ends."""
    out = list(rows)
    for first in np.flatnonzero(which[::2] | which[1::2]) * 2:
        row = rows[tips.row[first]]
        give_up = min(TRIM_M, row.length / 4)
        out[tips.row[first]] = stretch(row, which[first] * give_up, row.length - which[first + 1] * give_up)
    return out


def _fitted(row: LineString, piece: LineString, tips: shapely.STRtree, headings: Floats) -> LineString:
    """Let a piece of a row begin and end a little behind the tip of another row that can go on in it.

    Where a seam runs nearly along the rows, two that are a metre apart cross it many metres from one another.
    """
    if row.is_closed:
        return piece
    near = np.sort(tips.query(row, predicate="dwithin", distance=SIDE_M))
    station = shapely.line_locate_point(row, tips.geometries[near])
    ahead, behind = (shapely.get_coordinates(shapely.line_interpolate_point(row, station + k)) for k in (0.5, -0.5))
    along = ((ahead - behind) * headings[near]).sum(axis=1)
    first, last = (row.project(shapely.get_point(piece, k)) for k in (0, -1))
    start = 0.0 if first < _ON_M else _moved(first, station[along > _SAME_WAY]) + TRIM_M
    end = row.length if last > row.length - _ON_M else _moved(last, station[along < -_SAME_WAY]) - TRIM_M
    return stretch(row, start, end) if end - start > SHORTEST_M else stretch(row, first + TRIM_M, last - TRIM_M)


def _moved(edge: float, tips: Floats) -> float:
    """Give the tip nearest to the end of a piece, or that end where none is near."""
    if len(tips) == 0:
        return edge
    nearest = float(tips[np.argmin(np.abs(tips - edge))])
    return nearest if abs(nearest - edge) <= ALONG_M else edge


def _without(rows: Sequence[LineString], area: BaseGeometry, others: Sequence[LineString]) -> list[LineString]:
    """Rows without what lies in an area; a row that only cuts a corner of it, where none of the others runs, goes on."""
    those = np.asarray(rows, dtype=object)
    shapely.prepare(area)
    tree = shapely.STRtree(np.asarray(others, dtype=object))
    out: list[LineString] = []
    for row, touched in zip(those, shapely.intersects(area, those), strict=True):
        if not touched:
            out.append(row)
            continue
        inside = np.asarray(clipped([row], area), dtype=object)
        middle = shapely.line_interpolate_point(inside, 0.5, normalized=True)
        beside = np.isin(np.arange(len(inside)), tree.query(middle, predicate="dwithin", distance=SIDE_M)[0])
        gone = inside[beside | (shapely.length(inside) >= CORNER_M)] if len(inside) else inside
        if len(gone) == 0:
            out.append(row)
        elif len(gone) == len(inside):
            out += _parts(shapely.difference(row, area))[0].tolist()
        else:
            out += _between(row, gone)
    return out


def _between(row: LineString, gone: Shapes) -> list[LineString]:
    """Cut a row into what is left of it without some pieces of it."""
    cuts = sorted(sorted((row.project(shapely.get_point(k, 0)), row.project(shapely.get_point(k, -1)))) for k in gone)
    edges = [0.0, *(v for cut in cuts for v in cut), row.length]
    return [stretch(row, a, b) for a, b in zip(edges[::2], edges[1::2], strict=True) if b - a > _ON_M]


def zone_of(chosen: Sequence[Patch]) -> BaseGeometry:
    """Ground around the seams in which rows may move."""
    return shapely.union_all([patch.area.boundary.buffer(SEAM_ZONE_M) for patch in chosen])


def _parts(shapes: Shapes) -> tuple[Shapes, Ints]:
    """Single lines, and which shape each is of."""
    parts, owner = shapely.get_parts(shapely.line_merge(shapes), return_index=True)
    line = (shapely.get_type_id(parts) == 1) & (shapely.length(parts) > 0)
    return parts[line], owner[line]
