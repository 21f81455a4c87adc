"""Taking polygons away from polygons, neighbour by neighbour, so that the work grows with the ground."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.errors import GEOSException
from shapely.geometry.base import BaseGeometry

from geoagro.arrays import Floats, Ints, Shapes
from geoagro.planar.meeting import meeting
from geoagro.planar.threads import over_runs, run_each

GRID_M = 1e-6
"""Corners lie on this grid, so that edges which two shapes share are the same or clearly apart; overlays of edges
that are nearly the same give wrong areas (seen with GEOS 3.14)."""

_NOTHING_M2 = 1e-4

SLIVER_M2 = 0.1
"""Ground smaller than this is no feature of its own in any layer (our choice: a third of a metre square)."""


def on_grid(shapes: Shapes) -> Shapes:
    """Shapes with their corners rounded to the grid, sound for overlays.

    A strip along a line that doubles back or crosses itself overlaps itself, and rounding can make edges touch; overlays
    refuse either, so such shapes become the ground that they cover.
    """
    rounded = shapely.set_precision(shapes, GRID_M, mode="pointwise")
    broken = ~shapely.is_valid(rounded)
    if np.any(broken):
        rounded = np.asarray(rounded, dtype=object)
        rounded[broken] = _ground_only(shapely.make_valid(rounded[broken]))
    return rounded


def off_grid(shapes: Shapes) -> Shapes:
    """Give the same shapes without their grid, which the library else keeps to in all that it makes of them, at four times the work."""
    free: Shapes = shapely.set_precision(shapes, 0.0, mode="pointwise")
    return free


def within(shapes: Shapes, area: BaseGeometry | Shapes) -> Shapes:
    """Cut each shape to an area, on the grid; only ground counts, no lines where they touch."""
    return _ground_only(_overlay(shapely.intersection, shapes, area))


def cut_at_lines(shapes: Shapes, x: Floats, y: Floats) -> tuple[Shapes, Ints, Ints]:
    """Cut shapes into the tiles between upright lines at `x` and level lines at `y`, corners rounded to the grid.

    Halves of the tiles first, then halves of those: a strip of a kilometre isn't cut anew out of every tile that it crosses,
    so the work grows with the length of the shapes, not with its square. What lies beyond the outermost lines is left out.

    Returns
    -------
    Pieces, and the column and the row of tiles that each lies in; a shape can be in a tile in several parts.
    """
    pieces, frame = np.asarray(shapes, dtype=object).copy(), shapely.box(x[0], y[0], x[-1], y[-1])
    beyond = ~shapely.covers(frame, shapely.box(*shapely.bounds(pieces).T))
    pieces[beyond] = shapely.intersection(pieces[beyond], frame)
    pieces, column = _sorted_out(pieces, np.zeros(len(pieces), dtype=np.int64), x, 0)
    pieces, cell = _sorted_out(pieces, column * len(y), y, 1)
    return on_grid(_ground_only(pieces)), cell // len(y), cell % len(y)


def _sorted_out(pieces: Shapes, base: Ints, lines: Floats, axis: int) -> tuple[Shapes, Ints]:
    """Cut pieces at lines square to an axis (0: x, 1: y); beside them `base` and the number of lines before each."""
    first, last = np.zeros(len(pieces), dtype=np.int64), np.full(len(pieces), len(lines) - 1)
    done: list[tuple[Shapes, Ints]] = [(pieces[:0], base[:0])]
    while len(pieces):
        low, high = (shapely.bounds(pieces)[:, axis + k] for k in (0, 2))
        left = np.isfinite(low) & (last - first == 1)
        done.append((pieces[left], base[left] + first[left]))
        middle = (first + last) // 2
        under, over = ((low < lines[middle]) & (last - first > 1), (high > lines[middle]) & (last - first > 1))
        before, past = _halves(pieces, lines[middle], axis, under & over)
        pieces, base = np.concatenate([before[under], past[over]]), np.concatenate([base[under], base[over]])
        first, last = np.concatenate([first[under], middle[over]]), np.concatenate([middle[under], last[over]])
    return np.concatenate([k[0] for k in done]), np.concatenate([k[1] for k in done])


def _halves(pieces: Shapes, line: Floats, axis: int, crossed: NDArray[np.bool_]) -> tuple[Shapes, Shapes]:
    """Cut pieces in two at a line each: what lies before it and what lies past it; what isn't crossed is whole in both.

    Clipping by a rectangle takes a fraction of an overlay's time but promises no sound shapes: where both halves don't make
    up the whole, the overlay cuts.
    """
    before, past = pieces.copy(), pieces.copy()
    many = np.flatnonzero(crossed)
    if not len(many):
        return before, past
    order = many[np.argsort(line[many], kind="stable")]
    cuts, first = np.unique(line[order], return_index=True)
    groups = np.split(order, first[1:])
    frame = shapely.total_bounds(pieces[many]) + np.array([-1.0, -1.0, 1.0, 1.0])
    boxes = [_boxes_beside(frame, cut, axis) for cut in cuts]
    clipped = run_each(
        lambda k: [np.asarray(shapely.clip_by_rect(pieces[groups[k]], *box), dtype=object) for box in boxes[k]],
        len(groups),
    )
    for group, halves in zip(groups, clipped, strict=True):
        before[group], past[group] = halves
    missing_m2 = shapely.area(pieces[many]) - shapely.area(before[many]) - shapely.area(past[many])
    torn = many[np.abs(missing_m2) > _NOTHING_M2]
    for half, side in ((before, 0), (past, 1)):
        bounds = np.array([_boxes_beside(frame, cut, axis)[side] for cut in line[torn]]).reshape(-1, 4)
        half[torn] = shapely.intersection(pieces[torn], shapely.box(*bounds.T))
    return before, past


def _boxes_beside(frame: Floats, cut: float, axis: int) -> tuple[Floats, Floats]:
    """Bounds of what lies in a frame before a line square to an axis, and past it."""
    before, past = frame.copy(), frame.copy()
    before[2 + axis] = past[axis] = cut
    return before, past


def without(shapes: Shapes, area: BaseGeometry) -> Shapes:
    """Cut an area out of each shape, on the grid."""
    return _ground_only(_overlay(shapely.difference, shapes, area))


def union_of(shapes: Shapes) -> BaseGeometry:
    """Join shapes, on the grid; those that overlap themselves count as the ground that they cover."""
    try:
        return shapely.union_all(shapes, grid_size=GRID_M)
    except GEOSException:
        return shapely.union_all(_sound(shapes), grid_size=GRID_M)


def _overlay(overlay: Callable[..., Shapes], shapes: Shapes, other: BaseGeometry | Shapes) -> Shapes:
    """Overlay on the grid. The library refuses shapes that overlap themselves: they become the ground that they cover."""
    many = np.asarray(shapes, dtype=object)
    others = np.asarray(np.broadcast_to(np.asarray(other, dtype=object), many.shape))
    try:
        found: Shapes = over_runs(lambda one, two: overlay(one, two, grid_size=GRID_M), many, others)
    except GEOSException:
        found = overlay(_sound(many), _sound(others), grid_size=GRID_M)
    return found


def _sound(shapes: BaseGeometry | Shapes) -> Shapes:
    """Polygons without those that overlap themselves; lines stay as they are."""
    many = np.asarray(shapes, dtype=object)
    broken = ~shapely.is_valid(many) & (shapely.get_dimensions(many) == 2)
    sound: Shapes = np.where(broken, shapely.make_valid(many), many)
    # what collapses to lines and points is no ground, and mixed collections are refused by overlays
    return _ground_only(sound.reshape(-1)).reshape(sound.shape)


def _ground_only(shapes: Shapes) -> Shapes:
    """Leave out lines and points from mixed collections."""
    mixed = np.flatnonzero(shapely.get_type_id(shapes) == shapely.GeometryType.GEOMETRYCOLLECTION)
    for k in mixed:
        shapes[k] = shapely.MultiPolygon(parts_of(shapes[k : k + 1], 0.0)[0].tolist())
    return shapes


def subtract(shapes: Shapes, pair: tuple[Ints, Ints], others: Shapes, *, apart: bool = False) -> Shapes:
    """Take from each shape (polygon or line) the polygons that it is paired with: (index of shape, index of other).

    Many shapes are cut by as many threads as there are processors. `apart` says that no two of the others lie over each other:
    then they need not be joined first, as a rule, and the work is a third.
    """
    order = np.argsort(pair[0], kind="stable")
    index, other = pair[0][order], pair[1][order]
    which, start = np.unique(index, return_index=True)
    result = np.asarray(shapes, dtype=object).copy()

    taken = np.split(other, start[1:])

    def left(k: int) -> Any:
        shape, gone = result[which[k]], others[taken[k]]
        rest = _without_at_once(shape, gone) if apart else None
        return without(np.array([shape], dtype=object), union_of(gone))[0] if rest is None else rest

    result[which] = np.array(run_each(left, len(which)), dtype=object)
    return result


def _without_at_once(shape: BaseGeometry, others: Shapes) -> BaseGeometry | None:
    """Take polygons that lie apart from a polygon that holds them, without joining them; None where the library can't.

    Where they touch, they are no sound shape together, which the library doesn't promise to understand: what is left must
    be sound and have the size that it should.
    """
    try:
        gone = shapely.multipolygons(shapely.get_parts(others))
        rest: Any = shapely.difference(shape, gone, grid_size=GRID_M)
    except (GEOSException, TypeError):  # a part may be a line
        return None
    missing_m2 = shape.area - float(shapely.area(others).sum()) - rest.area
    if abs(missing_m2) > _NOTHING_M2 / 2 or not rest.is_valid:
        return None
    whole: BaseGeometry = _ground_only(np.array([rest], dtype=object))[0]
    return whole


def parts_of(shapes: Shapes, smallest_m2: float) -> tuple[Shapes, Ints]:
    """Single polygons of at least a size, and the index of the shape that each is a part of."""
    parts, owner = shapely.get_parts(np.asarray(shapes, dtype=object), return_index=True)
    parts, again = shapely.get_parts(parts, return_index=True)  # polygons inside collections inside collections
    owner = owner[again]
    keep = (shapely.get_type_id(parts) == shapely.GeometryType.POLYGON) & (shapely.area(parts) >= smallest_m2)
    return parts[keep], owner[keep].astype(np.int64)


def largest_parts(shapes: Shapes) -> Shapes:
    """Largest polygon of each shape; an empty polygon where there is none."""
    shapes = np.asarray(shapes, dtype=object)
    parts, owner = parts_of(shapes, 0.0)
    order = np.lexsort([shapely.area(parts), owner])
    result = np.full(len(shapes), shapely.Polygon(), dtype=object)
    result[owner[order]] = parts[order]  # the last one written is the largest
    return result


def absorb(parts: Shapes, crumbs: NDArray[np.bool_]) -> Shapes:
    """Join each crumb to the part that it shares the longest edge with; an empty polygon stays in its place.

    A crumb that borders on no other part stays as it is.
    """
    parts = np.asarray(parts, dtype=object).copy()
    index = np.flatnonzero(crumbs)
    crumb, part = shapely.STRtree(parts).query(parts[index], predicate="intersects")
    mine = ~crumbs[part]
    crumb, part = index[crumb[mine]], part[mine]
    shared = shapely.length(_overlay(shapely.intersection, parts[crumb], parts[part]))
    for k in np.lexsort([shared, crumb])[::-1]:
        if parts[crumb[k]].is_empty or shared[k] <= 0:
            continue
        whole = union_of(np.array([parts[crumb[k]], parts[part[k]]], dtype=object))
        if whole.geom_type == "Polygon":
            parts[part[k]], parts[crumb[k]] = whole, shapely.Polygon()
    return parts


def trim_overlaps(shapes: Shapes, rank: Floats, *, deep_m: float) -> Shapes:
    """Take what two shapes share from the one of higher rank (of equals, the smaller one).

    No point of a shape lies farther than `deep_m` from its outline.
    """
    shapes = np.asarray(shapes, dtype=object).copy()
    area = shapely.area(shapes)
    a, b = meeting(shapes, shapes, deep_m=deep_m)
    before = (rank[a] < rank[b]) | ((rank[a] == rank[b]) & ((area[a] > area[b]) | ((area[a] == area[b]) & (a < b))))
    a, b = a[before], b[before]
    real = shapely.area(within(shapes[a], shapes[b])) > _NOTHING_M2
    cut = np.unique(b[real])
    shapes[cut] = largest_parts(subtract(shapes, (b[real], a[real]), shapes)[cut])
    return shapes
