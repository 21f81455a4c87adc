"""Planting lines across a bed: parallels of its axis, kept inside it, and the places along them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely

from geoagro.arrays import Floats, Ints, Shapes
from geoagro.planar.offsets import parallels
from geoagro.planar.polylines import Polylines
from geoagro.planar.ragged import owners, places
from geoagro.plants.strips import Strips, line_offsets
from geoagro.values.recipe import Planting

_SAME = 1e-6
"""Metres and shares of a step below which two positions count as the same."""


@dataclass(frozen=True)
class Lines:
    """Planting lines of one planting.

    Attributes
    ----------
    bed
        Index of each line's bed.
    number
        Number across the bed, 1 on the upslope side.
    offset_m
        Distance from the bed's middle, upslope positive.
    start_m
        Distance of the line's start from the start of the first piece with its number: 0, except where a
        bed is cut in such a way that its line falls into pieces.
    """

    shape: Polylines
    bed: Ints
    number: Ints
    offset_m: Floats
    start_m: Floats


@dataclass(frozen=True, eq=False)
class Places:
    """Places along lines, in order: the line's index, the distance along it, and a count from 0."""

    line: Ints
    station_m: Floats
    place: Ints


def lay_lines(planting: Planting, strips: Strips, beds: Ints) -> Lines:
    """Lay the planting's lines in these beds, ordered by bed and number."""
    offsets = line_offsets(planting, strips, beds)
    count = offsets.shape[1]
    bed, number = np.repeat(beds, count), np.tile(np.arange(1, count + 1), len(beds))
    shape = parallels(strips.axes.take(bed), offsets.ravel())
    return _inside(Lines(shape, bed, number, offsets.ravel(), np.zeros(len(bed))), strips.polygon[bed])


def _inside(lines: Lines, polygons: Shapes) -> Lines:
    geometry = lines.shape.geometries()
    out = np.flatnonzero(~shapely.covers(polygons, geometry))
    if not len(out):
        return lines
    pieces, owner, start = _pieces(geometry[out], polygons[out])
    kept = np.setdiff1d(np.arange(len(geometry)), out)
    source = np.concatenate([kept, out[owner]])
    start = np.concatenate([np.zeros(len(kept)), start])
    by = np.lexsort([start, source])
    source = source[by]
    shape = Polylines.read(np.concatenate([geometry[kept], pieces])[by])
    return Lines(shape, lines.bed[source], lines.number[source], lines.offset_m[source], start[by])


def _pieces(lines: Shapes, polygons: Shapes) -> tuple[Any, Ints, Floats]:
    parts, owner = shapely.get_parts(shapely.intersection(lines, polygons), return_index=True)
    whole = (shapely.get_type_id(parts) == 1) & (shapely.length(parts) > _SAME)
    parts, owner = parts[whole], owner[whole]
    first = shapely.line_locate_point(lines[owner], shapely.get_point(parts, 0))
    last = shapely.line_locate_point(lines[owner], shapely.get_point(parts, -1))
    parts = np.where(first > last, shapely.reverse(parts), parts)
    start = np.minimum(first, last)
    earliest = np.full(len(lines), np.inf)
    np.minimum.at(earliest, owner, start)
    return parts, owner, start - earliest[owner]


def lay_places(planting: Planting, lines: Lines, spacing_m: float) -> Places:
    """Places at equal arc length along each line, between its end margins.

    n = floor((L - 2 e - f) / p) + 1 with the line's length L, end margin e, first offset f (plus p / 2 on
    every second line where they are staggered) and spacing p.
    """
    margin = spacing_m / 2 if planting.end_margin_m is None else planting.end_margin_m
    shift = spacing_m / 2 * ((lines.number % 2 == 0) & planting.stagger)
    first = margin + planting.first_offset_m + shift
    room = lines.shape.lengths - margin - first
    count = np.where(room > -_SAME, np.floor(room / spacing_m + _SAME) + 1, 0).astype(np.int64)
    line, place = owners(count), places(count)
    return Places(line, np.minimum(first[line] + spacing_m * place, lines.shape.lengths[line]), place)
