"""Paths: what is left of the ground beside the rows, one polygon for each way that a person walks.

Between a bed and its neighbour nearer to the row lies a path of one width, as long as the bed. All else that is left of
an alley, up to the beds of the row across, is the path in its middle; it branches where rows end.
"""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import shapely
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components
from shapely import MultiPolygon

from geoagro.arrays import Floats, Ints, Shapes
from geoagro.beds.alleys import SIMPLIFY_M, Alleys, Side
from geoagro.beds.fit import Pieces
from geoagro.beds.names import path_names
from geoagro.beds.widths import of_each
from geoagro.planar.cutting import SLIVER_M2, absorb, off_grid, on_grid, parts_of, subtract, union_of, within
from geoagro.planar.meeting import meeting
from geoagro.planar.strips import ribbon_length, ring_between, strips
from geoagro.planar.threads import over_runs, run_each
from geoagro.values.beds import PATHS
from geoagro.values.progress import Progress
from geoagro.values.rows import TreeRows

_DRIFT = 1.1  # a row serves the ground up to half of this many spacings; farther out it is row margin
_OVERLAP_M = 0.03  # by which two rows' shares overlap at the middle before one gives way: no gap between them
_SMALLEST_M2 = 1e-4
_CRUMB_M2, _CRUMB_M = SLIVER_M2, 0.06  # paths smaller or narrower than this join the path beside them
_TOUCH_M, _DOOR_M = 1e-4, 0.3  # parts this near to each other along this length are one path
_CHUNK = 200


def path_frame(
    rows: TreeRows,
    ground: Alleys,
    sides: list[Side],
    pieces: Pieces,
    *,
    beds: Shapes,
    plantable: MultiPolygon,
    progress: Progress,
) -> gpd.GeoDataFrame:
    """Draw layer PATHS: each side of each row up to the middle of the alley, less all beds (tree beds too)."""
    drawn = [_shares(ground, side, pieces) for side in sides]
    shares, widest_m = np.concatenate([share for share, _ in drawn]), max(width for _, width in drawn)
    line = np.tile(np.arange(len(ground.lines)), len(sides))
    sign = np.repeat([side.sign for side in sides], len(ground.lines))
    shares = _inside(shares, ground, plantable)
    taken = np.concatenate([beds, shares])
    parts, owner = parts_of(_less(shares, taken, widest_m, progress), _SMALLEST_M2)
    inner, piece, rest, owner = _between_beds(ground, pieces, parts, _side_number(line[owner], sign[owner]), widest_m)
    rest, first = _joined(rest, owner)
    every = np.concatenate([inner, rest])
    side_of = np.concatenate([_side_number(pieces.stretch.line[piece], pieces.sign[piece]), first])
    every = absorb(every, (shapely.area(every) < _CRUMB_M2) | (shapely.area(every) / ribbon_length(every) < _CRUMB_M))
    some = shapely.area(every) >= _CRUMB_M2
    return _frame(rows, every[some], side_of[some])


def _side_number(line: Ints, sign: Ints) -> Ints:
    """Give each side of each line a number: twice the line's index, one more downslope."""
    number: Ints = 2 * line + (sign == -1)
    return number


def _frame(rows: TreeRows, parts: Shapes, side: Ints) -> gpd.GeoDataFrame:
    """Layer PATHS of polygons and the number of the side that each belongs to."""
    line, sign = side // 2, 1 - 2 * (side % 2)
    order = _outward(rows, parts, line, sign)
    parts, sign, row = parts[order], sign[order], rows.frame["row"].to_numpy()[line[order]]
    area, length = shapely.area(parts), ribbon_length(parts)
    columns = {
        "path": path_names(row, sign),
        "row": row,
        "width_m": area / length,
        "length_m": length,
        "area_m2": area,
    }
    return PATHS.frame(columns, geometry=shapely.orient_polygons(parts), crs=rows.frame.crs)


def _between_beds(
    ground: Alleys, pieces: Pieces, parts: Shapes, side: Ints, widest_m: float
) -> tuple[Shapes, Ints, Shapes, Ints]:
    """Paths between each bed and its neighbour nearer to the row, with the bed's number; and what is left, with its side."""
    widths, nothing = ground.widths, np.array([], dtype=np.int64)
    if not len(pieces.stretch):
        return np.array([], dtype=object), nothing, parts, side
    near = pieces.sign * of_each(widths.outer, pieces.order - 1)
    far = pieces.sign * of_each(widths.inner, pieces.order)
    ways = on_grid(strips(ground.lines, pieces.stretch, near, far))
    own = _side_number(pieces.stretch.line, pieces.sign)
    deep_m = max(widest_m, float(np.max(np.abs(far - near)))) / 2
    way, part = meeting(ways, parts, deep_m=deep_m, groups=(own, side))
    inner, at = parts_of(within(parts[part], ways[way]), _SMALLEST_M2)
    rest, owner = parts_of(subtract(parts, (part, way), ways, apart=True), _SMALLEST_M2)
    return inner, way[at].astype(np.int64), rest, side[owner]


def _joined(parts: Shapes, side: Ints) -> tuple[Shapes, Ints]:
    """Join what lies beside each other across the middle of an alley; each whole keeps the side of its first part."""
    if not len(parts):
        return parts, side
    a, b = meeting(parts, parts, within_m=_TOUCH_M)
    pair = a < b
    a, b = a[pair], b[pair]
    free = off_grid(parts)
    beside = over_runs(_touching_m2, free[a], free[b]) > _TOUCH_M * _DOOR_M
    links = coo_matrix((np.ones(int(beside.sum())), (a[beside], b[beside])), shape=(len(parts), len(parts)))
    member = np.asarray(connected_components(links, directed=False)[1], dtype=np.int64)
    order = np.lexsort([side, member])
    groups = np.split(order, np.flatnonzero(np.diff(member[order])) + 1)
    whole = np.array(run_each(lambda k: union_of(parts[groups[k]]), len(groups)), dtype=object)
    joined, owner = parts_of(whole, _SMALLEST_M2)
    return joined, np.array([side[group[0]] for group in groups], dtype=np.int64)[owner]


def _touching_m2(some: Shapes, others: Shapes) -> Floats:
    """Ground of the others that lies along the edge of some shapes, pair by pair."""
    area: Floats = shapely.area(shapely.intersection(shapely.buffer(some, 2 * _TOUCH_M), others))
    return area


def _shares(ground: Alleys, side: Side, pieces: Pieces) -> tuple[Shapes, float]:
    """One polygon per row: from the row to the middle of the alley, or as far as the row serves; and the widest's width, metres."""
    line, s = side.line, side.station
    last = _last_bed(ground, side, pieces)
    usual = max(_DRIFT * ground.spacing_m / 2, ground.widths.reach(ground.widths.from_one_side(ground.spacing_m)))
    far = np.maximum(usual, of_each(ground.widths.reach, last))
    edge = of_each(ground.widths.outer, last)
    past_middle = edge + 0.4 * ground.widths.narrowest > side.middle  # the odd bed; others keep half a path from it
    far = np.where(past_middle, far, np.minimum(far, side.middle + _OVERLAP_M))
    far = np.minimum(far, _before_centre(ground, side))
    shares = ring_between(line, ground.lines.beside(line, s, 0.0), ground.lines.beside(line, s, side.sign * far))
    shares = on_grid(over_runs(lambda some: shapely.simplify(some, SIMPLIFY_M), shares))
    broken = ~shapely.is_valid(shares)
    shares[broken] = shapely.make_valid(shares[broken], method="structure", keep_collapsed=False)
    return shares, float(np.max(far, initial=0.0))


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


def _inside(shares: Shapes, ground: Alleys, plantable: MultiPolygon) -> Shapes:
    outside = ~shapely.covers(ground.plantable, shares)
    shares[outside] = within(shares[outside], plantable)
    return shares


def _less(shares: Shapes, taken: Shapes, widest_m: float, progress: Progress) -> Shapes:
    """Shares less beds and less the shares before them in `taken`'s tail."""
    tail = len(taken) - len(shares)
    index, other = meeting(shares, taken, deep_m=widest_m / 2)
    mine = other - tail < index
    index, other = index[mine], other[mine]
    result = shares.copy()
    for start in range(0, len(shares), _CHUNK):
        chunk = (index >= start) & (index < start + _CHUNK)
        part = slice(start, start + _CHUNK)
        result[part] = subtract(shares[part], (index[chunk] - start, other[chunk]), taken)
        progress("drawing the paths", 0.6 + 0.4 * start / len(shares))
    return result


def _outward(rows: TreeRows, parts: Shapes, line: Ints, sign: Ints) -> Ints:
    """Order by row, side (up first), then away from the row, then along it."""
    lines = rows.frame.geometry.to_numpy()[line]
    inner = shapely.point_on_surface(parts)
    away = np.round(shapely.distance(lines, inner), 1)
    return np.lexsort([shapely.line_locate_point(lines, inner), away, -sign, line])
