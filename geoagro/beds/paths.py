"""Paths: what is left of the ground beside the rows, one polygon for each way that a person walks.

Between a bed and its neighbour nearer to the row lies a path of one width, as long as the bed. All else that is left of
an alley, up to the beds of the row across, is the path in its middle; it branches where rows end.
"""

from __future__ import annotations

from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import shapely
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components
from shapely import MultiPolygon

from geoagro.arrays import Bools, Floats, Ints, Shapes
from geoagro.beds.alleys import Alleys, Side
from geoagro.beds.filled import DrawnBeds
from geoagro.beds.fit import Pieces
from geoagro.beds.names import path_names
from geoagro.beds.shares import Shares, shares_of, side_number
from geoagro.beds.widths import of_each
from geoagro.planar.cutting import SLIVER_M2, absorb, off_grid, on_grid, parts_of, subtract, union_of, within
from geoagro.planar.meeting import meeting
from geoagro.planar.ragged import owners, places
from geoagro.planar.strips import ribbon_length, strips
from geoagro.planar.threads import over_runs, run_each
from geoagro.values.beds import PATHS
from geoagro.values.progress import Progress
from geoagro.values.rows import TreeRows

_SMALLEST_M2 = 1e-4
_CRUMB_M2, _CRUMB_M = SLIVER_M2, 0.06  # paths smaller or narrower than this join the path beside them
_TOUCH_M, _DOOR_M = 1e-4, 0.3  # parts this near to each other along this length are one path
_CHUNK = 200


@dataclass(frozen=True, eq=False)
class _Paths:
    """Polygons, and the number of the side that each belongs to."""

    shapes: Shapes
    side: Ints

    def beside(self, other: _Paths) -> _Paths:
        """Return these and then the other ones."""
        return _Paths(np.concatenate([self.shapes, other.shapes]), np.concatenate([self.side, other.side]))

    def take(self, which: Bools) -> _Paths:
        """Return the chosen ones."""
        return _Paths(self.shapes[which], self.side[which])


def path_frame(
    rows: TreeRows,
    ground: Alleys,
    sides: list[Side],
    pieces: Pieces,
    drawn: DrawnBeds,
    *,
    plantable: MultiPolygon,
    open_ground: MultiPolygon,
    progress: Progress,
) -> gpd.GeoDataFrame:
    """Draw layer PATHS: each side of each row up to the middle of the alley, less all beds (tree beds too).

    Beds lie on `plantable` ground, paths on open ground. Overlays take most of the time here: as a rule only what lies beyond a
    side's own beds is cut, and the paths between them are drawn as they are.
    """
    shares = shares_of(ground, sides, pieces, drawn, open_ground, same=open_ground is plantable)
    ways, rest = _ways_and_rest(ground, shares, pieces, drawn, progress)
    del shares  # of a large field they take hundreds of megabytes
    return _frame(rows, ways.beside(_joined(rest)))


def _ways_and_rest(
    ground: Alleys, shares: Shares, pieces: Pieces, drawn: DrawnBeds, progress: Progress
) -> tuple[_Paths, _Paths]:
    """Paths between beds, and what else is left of the shares."""
    ways, own = _ways(ground, pieces), side_number(pieces.stretch.line, pieces.sign)
    before = _before(shares, drawn, own)
    left, plain = _left(shares, before, progress)
    simple = np.isin(own, shares.side[shares.plain])
    drawn_ways = _uncovered(_Paths(ways[simple], own[simple]), shares, before)
    cut_ways, rest = _between_beds(ways[~simple], own[~simple], left.take(~plain), shares.widest_m)
    return drawn_ways.beside(cut_ways), rest.beside(left.take(plain))


@dataclass(frozen=True, eq=False)
class _Before:
    """What comes before shares on their ground: beds, and shares of lower numbers.

    Attributes
    ----------
    share, other
        Pairs of a share and of what comes before it, ordered by both.
    foreign
        Whether that is another side's.
    shapes
        All that the others are numbers of.
    """

    share: Ints
    other: Ints
    foreign: Bools
    shapes: Shapes


def _before(shares: Shares, drawn: DrawnBeds, own: Ints) -> _Before:
    """Find what comes before each share; `own` holds the sides of the beds."""
    shapes = np.concatenate([drawn.trees, drawn.beds, shares.whole])
    trees, beds = len(drawn.trees), len(drawn.trees) + len(own)
    share, other = meeting(shares.whole, shapes, deep_m=shares.widest_m / 2)
    lower = other - beds < share
    share, other = share[lower], other[lower]
    tree, bed = other < trees, (other >= trees) & (other < beds)
    foreign = np.ones(len(share), dtype=bool)
    foreign[tree] = shares.line[share[tree]] != other[tree]
    foreign[bed] = shares.side[share[bed]] != own[other[bed] - trees]
    return _Before(share, other, foreign, shapes)


def _left(shares: Shares, before: _Before, progress: Progress) -> tuple[_Paths, Bools]:
    """Ground that is left of each share, beyond its own beds where it is plain; and whether it is."""
    shapes = np.where(shares.plain, shares.beyond, shares.whole)
    cut = ~shares.plain[before.share] | before.foreign
    cut[cut] = shapely.intersects(shapes[before.share[cut]], before.shapes[before.other[cut]])
    left = _less(shapes, (before.share[cut], before.other[cut]), before.shapes, progress)
    parts, owner = parts_of(left, _SMALLEST_M2)
    return _Paths(parts, shares.side[owner]), shares.plain[owner]


def _uncovered(ways: _Paths, shares: Shares, before: _Before) -> _Paths:
    """Paths between beds without what comes before them, of another side."""
    side, other = shares.side[before.share[before.foreign]], before.other[before.foreign]
    order = np.argsort(side, kind="stable")
    first, past = (np.searchsorted(side[order], ways.side, side=end) for end in ("left", "right"))
    way = owners(past - first)
    other = other[order][places(past - first) + first[way]]
    shapely.prepare(ways.shapes)
    reached = shapely.intersects(ways.shapes[way], before.shapes[other])
    shapely.destroy_prepared(ways.shapes)  # most of them stay, as paths
    cut = subtract(ways.shapes, (way[reached], other[reached]), before.shapes)
    parts, owner = parts_of(cut, _SMALLEST_M2)
    return _Paths(parts, ways.side[owner])


def _frame(rows: TreeRows, paths: _Paths) -> gpd.GeoDataFrame:
    """Layer PATHS, the crumbs among them joined to their neighbours."""
    crumbs = shapely.area(paths.shapes) < _CRUMB_M2
    parts = absorb(paths.shapes, crumbs | (shapely.area(paths.shapes) / ribbon_length(paths.shapes) < _CRUMB_M))
    some = shapely.area(parts) >= _CRUMB_M2
    parts, side = parts[some], paths.side[some]
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


def _ways(ground: Alleys, pieces: Pieces) -> Shapes:
    """Strip between each bed and its neighbour nearer to the row, or the tree bed, as long as the bed."""
    widths = ground.widths
    if not len(pieces.stretch):
        return np.array([], dtype=object)
    near = pieces.sign * of_each(widths.outer, pieces.order - 1)
    far = pieces.sign * of_each(widths.inner, pieces.order)
    return on_grid(strips(ground.lines, pieces.stretch, near, far))


def _between_beds(ways: Shapes, own: Ints, left: _Paths, widest_m: float) -> tuple[_Paths, _Paths]:
    """Tell the paths between beds from the rest of their sides' ground; `own` holds the sides of the ways."""
    if not (len(ways) and len(left.shapes)):
        return _Paths(ways[:0], own[:0]), left
    deep_m = max(widest_m, float(np.max(shapely.area(ways) / ribbon_length(ways)))) / 2
    way, part = meeting(ways, left.shapes, deep_m=deep_m, groups=(own, left.side))
    inner, at = parts_of(within(left.shapes[part], ways[way]), _SMALLEST_M2)
    rest, owner = parts_of(subtract(left.shapes, (part, way), ways, apart=True), _SMALLEST_M2)
    return _Paths(inner, own[way[at]]), _Paths(rest, left.side[owner])


def _joined(left: _Paths) -> _Paths:
    """Join what lies beside each other across the middle of an alley; each whole keeps the side of its first part."""
    parts, side = left.shapes, left.side
    if not len(parts):
        return left
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
    return _Paths(joined, np.array([side[group[0]] for group in groups], dtype=np.int64)[owner])


def _touching_m2(some: Shapes, others: Shapes) -> Floats:
    """Ground of the others that lies along the edge of some shapes, pair by pair."""
    area: Floats = shapely.area(shapely.intersection(shapely.buffer(some, 2 * _TOUCH_M), others))
    return area


def _less(shapes: Shapes, pair: tuple[Ints, Ints], taken: Shapes, progress: Progress) -> Shapes:
    """Shapes less what each is paired with: (index of shape, index of what is taken), ordered by both."""
    index, other = pair
    result = shapes.copy()
    for start in range(0, len(shapes), _CHUNK):
        chunk = (index >= start) & (index < start + _CHUNK)
        part = slice(start, start + _CHUNK)
        result[part] = subtract(shapes[part], (index[chunk] - start, other[chunk]), taken)
        progress("drawing the paths", 0.6 + 0.4 * start / len(shapes))
    return result


def _outward(rows: TreeRows, parts: Shapes, line: Ints, sign: Ints) -> Ints:
    """Order by row, side (up first), then away from the row, then along it."""
    lines = rows.frame.geometry.to_numpy()[line]
    inner = shapely.point_on_surface(parts)
    away = np.round(shapely.distance(lines, inner), 1)
    return np.lexsort([shapely.line_locate_point(lines, inner), away, -sign, line])
