"""Where a bed fits: the room beside a row, and the stretches that carry a whole bed.

Two rules keep beds apart. Let bed k of a row reach from a(k) to e(k), p be the path.

1. Against another row, every point of the bed keeps at least e(k) + p from that row; the row with the lower
   number wins the odd bed and needs only e(k-1) + p. (Here p may be the narrowest path.) Were a point in bed k of the winner i and in bed
   m of j, then e(m) + p <= its distance to i <= e(k) gives m < k, and e(k-1) + p <= its distance to j <= e(m)
   gives k-1 < m: no such point exists, whatever the shape of the rows. The same sum with two points shows
   that a path stays between any two beds.
2. Against its own row, the bed stays where the row's nearest point is its own foot, half a path beyond the
   bed's edge too: bends tighter than the bed's edge, hairpins and the inside of rings carry none.

For parallel rows at distance g the first rule reads: as many whole beds as g carries, dealt to both rows.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from geoagro.arrays import Bools, Floats, Ints
from geoagro.beds.alleys import Alleys, Side
from geoagro.planar.polylines import Polylines
from geoagro.planar.quad_loops import HIGHER, LOWER, OWN
from geoagro.planar.strips import Stretches, corners_between

COMFORT_M = 0.05  # room to spare that makes a short bed worth laying
EDGE_M = 1e-4  # ground farther than this from the plantable edge lies on one side of it
_HALVINGS = 6  # a bed's end is found to a sixty-fourth of a cell


@dataclass(frozen=True, eq=False)
class Pieces:
    """Stretches that carry one bed each: side, order from the row, facing row (-1 for none)."""

    stretch: Stretches
    sign: Ints
    order: Ints
    facing: Ints
    comfortable: NDArray[np.bool_]

    def only(self, sign: int, order: int) -> Stretches:
        """Return the stretches of one side and order."""
        return self.stretch.take((self.sign == sign) & (self.order == order))

    def take(self, which: Any) -> Pieces:
        """Return the chosen pieces."""
        rest = (self.sign, self.order, self.facing, self.comfortable)
        return Pieces(self.stretch.take(which), *(column[which] for column in rest))


def beside_bed(lines: Polylines, mine: Stretches, line: Ints, station: Floats, *, more_m: float = 0.0) -> Bools:
    """Tell which places along rows lie beside one of the stretches, `more_m` of room at both ends counted with them.

    Stretches of one side and order, by line and begin.
    """
    if not len(mine):
        return np.zeros(len(line), dtype=bool)
    start = np.cumsum(np.append(0.0, lines.lengths[:-1] + 1.0 + 2 * more_m))  # rows one behind the other, apart
    begin, end = start[mine.line] + mine.begin - more_m, start[mine.line] + mine.end + more_m
    place = start[line] + station
    at = np.searchsorted(begin, place, side="right") - 1
    found: Bools = (at >= 0) & (
        end[at] >= place
    )  # before the first stretch, `at` is -1 and what is read there doesn't count
    return found


def join_pieces(parts: Sequence[Pieces]) -> Pieces:
    """Put several sets of pieces one behind the other."""
    none = Pieces(Stretches(*(np.zeros(0, dtype=d) for d in (int, float, float))), *[np.zeros(0, dtype=int)] * 4)
    parts = [none, *parts]
    stretch = Stretches(
        *(np.concatenate([getattr(p.stretch, name) for p in parts]) for name in ("line", "begin", "end"))
    )
    columns = ("sign", "order", "facing", "comfortable")
    return Pieces(stretch, *(np.concatenate([getattr(p, name) for p in parts]) for name in columns))


def bed_pieces(ground: Alleys, side: Side, order: int) -> Pieces:
    """Find the stretches of one side that carry the bed number `order`, at any length."""
    spare = np.full(len(side.cells), -np.inf)
    widths = ground.widths
    least = widths.outer(order) + widths.outer(order - 1) + widths.middle(2 * order - 1, ground.spacing_m)
    hopeful = np.flatnonzero(side.across >= least - widths.give)
    spare[hopeful] = _spare(ground, side.cells.take(hopeful), side.facing[hopeful], side.sign, order)
    fits = spare >= 0
    joined = (side.cells.line[1:] == side.cells.line[:-1]) & fits[1:] & fits[:-1]
    opens, closes = fits & ~np.append(False, joined), fits & ~np.append(joined, False)
    begin, end = np.flatnonzero(opens), np.flatnonzero(closes)
    stretch = Stretches(
        side.cells.line[begin],
        _reach(ground, side, order, begin, -1),
        _reach(ground, side, order, end, 1),
    )
    run = np.cumsum(opens)[fits] - 1
    comfortable = np.bincount(run, weights=spare[fits] >= COMFORT_M, minlength=len(begin)) > 0
    facing = _commonest(run, side.facing[fits], len(begin))
    signs = np.full(len(begin), side.sign)
    return Pieces(stretch, signs, np.full(len(begin), order), facing, comfortable)


def _spare(ground: Alleys, cells: Stretches, facing: Ints, sign: int, order: int) -> Floats:
    """Room to spare for a bed in each cell, metres; below 0 where it doesn't fit, inf where nothing is near."""
    widths = ground.widths
    spare = np.full(len(cells), np.inf)
    if order > widths.whole_beds(ground.spacing_m):
        spare[facing < 0] = -np.inf  # a row may stand beyond
    opened = ground.lines.closed[cells.line] & (cells.end > ground.lines.lengths[cells.line] - widths.path)
    spare[opened] = -np.inf  # a bed round a closed row is opened by a path
    spare[~_own_side(ground, cells, sign, order)] = -np.inf
    some = np.flatnonzero(spare > 0)
    corners = corners_between(ground.lines, cells.take(some), sign * widths.tree / 2, sign * widths.outer(order))
    inside = _on_plantable(ground, corners)
    spare[some[~inside]] = -np.inf
    some = some[inside]
    spare[some] = np.minimum(spare[some], _room(ground, cells.line[some], order, corners[inside]))
    return spare


def _on_plantable(ground: Alleys, corners: Floats) -> Bools:
    """Tell which four-cornered strips (corners of shape (n, 4, 2)) lie on plantable ground.

    Those that keep off its edge do if one corner does: few need an answer from the library.
    """
    at_edge = np.isfinite(ground.edge.quads_apart(corners, np.zeros(len(corners), dtype=np.int64), EDGE_M)).any(axis=1)
    inside: Bools = np.asarray(shapely.contains_xy(ground.plantable, *corners[:, 0].T))
    inside[at_edge] = shapely.covers(ground.plantable, shapely.polygons(corners[at_edge]))
    return inside


def _room(ground: Alleys, line: Ints, order: int, corners: Floats) -> Floats:
    """Distance of strips beside rows to other rows beyond what rule 1 asks, the least of each; infinite where none is near."""
    widths = ground.widths
    loser = widths.outer(order) + widths.middle(2 * order, ground.spacing_m)
    winner = widths.outer(order - 1) + widths.middle(2 * order - 1, ground.spacing_m)
    apart = ground.rows.quads_apart(corners, line, loser + COMFORT_M)
    room: Floats = np.minimum(apart[:, LOWER] - loser, apart[:, HIGHER] - winner) + widths.give
    return room


def _own_side(ground: Alleys, cells: Stretches, sign: int, order: int) -> NDArray[np.bool_]:
    """Tell the cells whose far edge is nearer to no other part of the row (rule 2)."""
    far = ground.widths.outer(order) + ground.widths.path / 2
    begin = ground.lines.beside(cells.line, cells.begin, sign * far)
    end = ground.lines.beside(cells.line, cells.end, sign * far)
    along = ground.lines.beside(cells.line, cells.end, 0.0) - ground.lines.beside(cells.line, cells.begin, 0.0)
    clear: NDArray[np.bool_] = np.sum((end - begin) * along, axis=1) > 0
    edges = np.stack([begin, end, end, begin], axis=1)
    clear &= np.isinf(ground.rows.quads_apart(edges, cells.line, far - 1e-3)[:, OWN])
    return clear


def _reach(ground: Alleys, side: Side, order: int, last: Ints, way: int) -> Floats:
    """Chainage where the bed ends, beyond its last whole cell, to a sixty-fourth of a cell.

    `way` is 1 toward the end of the row, -1 toward its start.
    """
    cells = side.cells
    fixed = cells.end[last] if way == 1 else cells.begin[last]
    beyond = np.clip(last + way, 0, len(cells) - 1)
    some = np.flatnonzero((cells.line[beyond] == cells.line[last]) & (beyond != last))
    cell = beyond[some]
    low = fixed[some].copy()
    high = cells.end[cell] if way == 1 else cells.begin[cell]
    for _ in range(_HALVINGS):
        trial = (low + high) / 2
        ends = (fixed[some], trial) if way == 1 else (trial, fixed[some])
        fits = _spare(ground, Stretches(cells.line[cell], *ends), side.facing[cell], side.sign, order) >= 0
        low, high = np.where(fits, trial, low), np.where(fits, high, trial)
    reach: Floats = fixed.copy()
    reach[some] = low
    return reach


def _commonest(run: Ints, value: Ints, runs: int) -> Ints:
    """Value that is most frequent in each run (the smallest of several)."""
    pair, count = np.unique(np.column_stack([run, value]), axis=0, return_counts=True)
    order = np.lexsort([pair[:, 1], -count, pair[:, 0]])
    lead = order[np.append(True, np.diff(pair[order, 0]) != 0)] if len(order) else order
    result: Ints = np.full(runs, -1)
    result[pair[lead, 0]] = pair[lead, 1]
    return result
