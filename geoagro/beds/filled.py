"""What the beds beside a row fill, outward from its tree bed: there the paths between them need no overlay to be known."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from geoagro.arrays import Bools, Floats, Ints, Shapes
from geoagro.beds.alleys import Alleys
from geoagro.beds.fit import Pieces, beside_bed
from geoagro.beds.widths import of_each
from geoagro.planar.polylines import Polylines
from geoagro.planar.strips import Stretches, nodes


@dataclass(frozen=True, eq=False)
class DrawnBeds:
    """Beds as they were laid, and whether nothing was cut off or moved.

    Attributes
    ----------
    trees, trees_whole
        Tree bed of each line; whether it is the strip between two parallels of its row, as far as the ground goes.
    beds, beds_whole
        Bed of each piece, empty where none is left; whether it is such a strip, all of it.
    """

    trees: Shapes
    trees_whole: Bools
    beds: Shapes
    beds_whole: Bools


@dataclass(frozen=True, eq=False)
class Filled:
    """One side of each line: how many beds lie one behind the other from its tree bed outward.

    Attributes
    ----------
    whole
        Per line: whether each of its beds on this side lies behind all before it for its whole length, and nothing was cut off.
    stretch, beds
        Stretches that make up each line from its start to its end, and the number of beds beside each.
    """

    sign: int
    whole: Bools
    stretch: Stretches
    beds: Ints

    def edge(self, ground: Alleys) -> tuple[Ints, Floats]:
        """Outer edge of the last of those beds, or of the tree bed: line numbers (rising) and points; a step where a bed ends."""
        owner, s = nodes(ground.lines, self.stretch)
        line, away = self.stretch.line[owner], of_each(ground.widths.outer, self.beds)[owner]
        return line, ground.lines.beside(line, s, self.sign * away)


def filled_beside(ground: Alleys, sign: int, pieces: Pieces, drawn: DrawnBeds) -> Filled:
    """Tell what the beds on one side (1 or -1) of each line fill."""
    mine = pieces.sign == sign
    side = pieces.take(mine)
    whole = drawn.trees_whole.copy()
    whole[side.stretch.line[~(drawn.beds_whole[mine] & _behind_others(ground.lines, side))]] = False
    stretch = _between_ends(ground.lines, side.stretch)
    middle = (stretch.begin + stretch.end) / 2
    orders = range(1, side.order.max(initial=0) + 1)
    count = sum(beside_bed(ground.lines, side.only(sign, k), stretch.line, middle) for k in orders)
    return Filled(sign, whole, stretch, np.zeros(len(stretch), dtype=np.int64) + count)


def _behind_others(lines: Polylines, side: Pieces) -> Bools:
    """Tell the pieces that have a bed of the order before between them and their row, for their whole length."""
    behind: Bools = side.order == 1
    for order in range(2, side.order.max(initial=0) + 1):
        mine, before = np.flatnonzero(side.order == order), side.stretch.take(side.order == order - 1)
        begin, end = (lines.key(side.stretch.line[mine], v[mine]) for v in (side.stretch.begin, side.stretch.end))
        opens, closes = lines.key(before.line, before.begin), lines.key(before.line, before.end)
        if len(before):
            at = np.searchsorted(opens, begin, side="right") - 1
            behind[mine] = (at >= 0) & (closes[at] >= end)
    return behind


def _between_ends(lines: Polylines, beds: Stretches) -> Stretches:
    """Cut every line at each end of a bed beside it."""
    every = np.arange(len(lines))
    line = np.concatenate([every, every, beds.line, beds.line])
    at = np.concatenate([np.zeros(len(lines)), lines.lengths, beds.begin, beds.end])
    line, at = np.unique(np.column_stack([line, at]), axis=0).T
    line = line.astype(np.int64)
    inside = line[1:] == line[:-1]
    return Stretches(line[:-1][inside], at[:-1][inside], at[1:][inside])
