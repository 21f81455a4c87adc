"""Shares of ground: what one side of each row may take, from the row to the middle of the alley."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely import MultiPolygon

from geoagro.arrays import Bools, Floats, Ints, Shapes
from geoagro.beds.alleys import SIMPLIFY_M, Alleys, Side
from geoagro.beds.filled import DrawnBeds, Filled, filled_beside
from geoagro.beds.fit import Pieces
from geoagro.beds.widths import of_each
from geoagro.planar.cutting import GRID_M, within
from geoagro.planar.strips import ring_between
from geoagro.planar.threads import over_runs

_DRIFT = 1.1  # a row serves the ground up to half of this many spacings; farther out it is row margin
_OVERLAP_M = 0.03  # by which two rows' shares overlap at the middle before one gives way: no gap between them
_NOTHING_M2, _ROUNDING_M = 1e-4, 1e-4


@dataclass(frozen=True, eq=False)
class Shares:
    """What one side of each row may take: side after side, in the order in which they come first.

    Attributes
    ----------
    line, side
        Number of the row and of its side.
    whole, beyond
        All of the share, and what lies beyond its beds and the paths between them.
    plain
        Whether the share is what lies beyond, its beds, the paths between them, and half of the tree bed.
    widest_m
        Most that a share reaches away from its row, metres.
    """

    line: Ints
    side: Ints
    whole: Shapes
    beyond: Shapes
    plain: Bools
    widest_m: float


def side_number(line: Ints, sign: Ints) -> Ints:
    """Give each side of each line a number: twice the line's index, one more downslope."""
    number: Ints = 2 * line + (sign == -1)
    return number


def shares_of(
    ground: Alleys, sides: list[Side], pieces: Pieces, drawn: DrawnBeds, open_ground: MultiPolygon, *, same: bool
) -> Shares:
    """Shares of all sides, cut to open ground; whether that is the `same` as for beds.

    Where there is more of it, what the edge cuts off a tree bed is a path too.
    """
    line = np.arange(len(ground.lines))
    found = [_share(ground, side, pieces, filled_beside(ground, side.sign, pieces, drawn)) for side in sides]
    whole, beyond, plain = (np.concatenate([one[k] for one in found]) for k in range(3))
    outside = ~shapely.covers(ground.plantable, whole)
    plain &= same | ~outside
    for shapes, cut in ((whole, outside), (beyond, outside & plain)):
        shapes[cut] = within(shapes[cut], open_ground)
    number = np.concatenate([side_number(line, np.full(len(line), side.sign)) for side in sides])
    return Shares(np.tile(line, len(sides)), number, whole, beyond, plain, max(one[3] for one in found))


def _share(ground: Alleys, side: Side, pieces: Pieces, filled: Filled) -> tuple[Shapes, Shapes, Bools, float]:
    """One side's shares, what lies beyond its beds, whether beds and paths between fill the rest, and how far it reaches."""
    lines, far = ground.lines, _far(ground, side, pieces)
    outer = shapely.linestrings(lines.beside(side.line, side.station, side.sign * far), indices=side.line)
    back, owner = shapely.get_coordinates(
        over_runs(lambda some: shapely.simplify(some, SIMPLIFY_M), outer), return_index=True
    )
    line, edge = filled.edge(ground)
    row = lines.beside(lines.line, lines.station, 0.0)
    inner = ring_between(line, edge, row, back_owner=lines.line)
    whole = _sound(ring_between(lines.line, row, back, back_owner=owner))
    beyond = _sound(ring_between(line, edge, back, back_owner=owner))
    missing_m2 = shapely.area(whole) - shapely.area(beyond) - shapely.area(inner)
    plain = filled.whole & shapely.is_valid(inner) & (np.abs(missing_m2) < _NOTHING_M2)
    # round the row's own end a share may come to its tree bed from the other side
    shapely.prepare(beyond[plain])
    plain[plain] = ~shapely.dwithin(beyond[plain], ground.shapes[plain], ground.widths.tree / 2 - _ROUNDING_M)
    return whole, beyond, plain, float(np.max(far, initial=0.0))


def _sound(shares: Shapes) -> Shapes:
    """Shares on the grid, without what their outlines enclose twice."""
    shares = shapely.set_precision(shares, GRID_M, mode="pointwise")
    broken = ~shapely.is_valid(shares)
    shares[broken] = shapely.make_valid(shares[broken], method="structure", keep_collapsed=False)
    return shares


def _far(ground: Alleys, side: Side, pieces: Pieces) -> Floats:
    """Offset to which each row's share reaches, per break: the middle of the alley, or as far as the row serves."""
    last = _last_bed(ground, side, pieces)
    usual = max(_DRIFT * ground.spacing_m / 2, ground.widths.reach(ground.widths.from_one_side(ground.spacing_m)))
    far = np.maximum(usual, of_each(ground.widths.reach, last))
    edge = of_each(ground.widths.outer, last)
    past_middle = edge + 0.4 * ground.widths.narrowest > side.middle  # the odd bed; others keep half a path from it
    far = np.where(past_middle, far, np.minimum(far, side.middle + _OVERLAP_M))
    nearer: Floats = np.minimum(far, _before_centre(ground, side))
    return nearer


def _last_bed(ground: Alleys, side: Side, pieces: Pieces) -> Ints:
    """Order of the outermost bed at each break, and at the breaks just past its ends; 0 where there is none."""
    lines = ground.lines
    key = lines.key(side.line, side.station)
    mine = pieces.take(pieces.sign == side.sign)
    begin, end = (lines.key(mine.stretch.line, v) for v in (mine.stretch.begin, mine.stretch.end))
    low = np.searchsorted(key, begin, side="right") - 1
    size = np.searchsorted(key, end, side="left") - low + 1
    piece = np.repeat(np.arange(len(low)), size)
    at = np.arange(size.sum()) - np.repeat(np.cumsum(size) - size, size) + low[piece]
    inside = (at >= 0) & (at < len(key))
    inside[inside] = side.line[at[inside]] == mine.stretch.line[piece[inside]]
    last = np.zeros(len(key), dtype=np.int64)
    np.maximum.at(last, at[inside], mine.order[piece[inside]])
    return last


def _before_centre(ground: Alleys, side: Side) -> Floats:
    """Offset at which neighbouring normals meet on the inner side of a bend, per break, with some room."""
    lines = ground.lines
    point, mitre = lines.footing(side.line, side.station)
    step = np.diff(point, axis=0)
    closing = -side.sign * np.sum(np.diff(mitre, axis=0) * step, axis=1)
    same = side.line[1:] == side.line[:-1]
    with np.errstate(divide="ignore", invalid="ignore"):
        limit = np.where(same & (closing > 0), 0.95 * np.sum(step * step, axis=1) / closing, np.inf)
    nearer: Floats = np.minimum(np.append(np.inf, limit), np.append(limit, np.inf))
    return nearer
