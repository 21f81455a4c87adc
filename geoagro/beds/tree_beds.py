"""Tree beds: a strip round each row, moved off its middle where the edge of the plantable ground would cut it."""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely

from geoagro.arrays import Bools, Floats, Ints
from geoagro.beds.alleys import STEP_M, Alleys
from geoagro.beds.fit import Pieces, beside_bed
from geoagro.planar.cutting import on_grid
from geoagro.planar.meeting import meeting
from geoagro.planar.strips import Stretches, ring_between, strips

_TREES_IN_M = 0.1
"""The row stays so far inside its moved bed."""
_SAME_M2 = 1e-4
"""Strips whose areas differ by less are the same strip: corners on a grid of a micrometre differ by less."""


def tree_strips(ground: Alleys, pieces: Pieces, beside: Any) -> tuple[Any, Bools]:
    """Strip of the tree bed's width round every row, not yet cut to the plantable ground.

    And whether it lies between two parallels of its row: it didn't move, nor was it drawn otherwise round a sharp bend.

    Where the ground ends beside a row, its bed moves to the other side by what is missing, as far as a path to the beds
    there allows (the narrowest that the rule names); the row itself stays, inside its bed. A bed that would come too near to
    any other stays in its place.

    Parameters
    ----------
    beside
        Polygons of the vegetable beds.
    """
    widths = ground.widths
    around = on_grid(
        shapely.buffer(ground.shapes, widths.tree / 2, cap_style="flat", join_style="mitre", mitre_limit=2.0)
    )
    plain = _between_parallels(ground, around)
    cut = np.flatnonzero(~shapely.covers(ground.plantable, around))
    if not len(cut):
        return around, plain
    moved, line = _moved(ground, pieces, cut)
    better = shapely.area(shapely.intersection(moved, ground.plantable)) > shapely.area(
        shapely.intersection(around[line], ground.plantable)
    )
    others = np.concatenate([around, beside])
    near, other = meeting(moved, others, within_m=widths.narrowest - widths.give, deep_m=widths.tree / 2)
    better[near[other != line[near]]] = False
    around[line[better]] = moved[better]
    plain[line[better]] = False
    return around, plain


def _between_parallels(ground: Alleys, around: Any) -> Bools:
    """Tell which tree beds are the strip between two parallels of their row, to less than can be measured."""
    lines, half = ground.lines, np.full(len(ground.lines), ground.widths.tree / 2)
    every = Stretches(np.arange(len(lines)), np.zeros(len(lines)), lines.lengths)
    drawn = on_grid(strips(lines, every, -half, half))
    same: Bools = np.abs(shapely.area(drawn) - shapely.area(around)) < _SAME_M2
    return same


def _moved(ground: Alleys, pieces: Pieces, cut: Ints) -> tuple[Any, Ints]:
    """Lay moved strips of the rows that need it; returns them and their numbers."""
    lines, half = ground.lines, ground.widths.tree / 2
    line, s = lines.breaks(STEP_M)
    some = np.isin(line, cut)
    line, s = line[some], s[some]
    left = _move(ground, pieces, line, s)
    number, first, own = np.unique(line, return_index=True, return_inverse=True)
    moved = ring_between(own, lines.beside(line, s, left - half), lines.beside(line, s, left + half))
    needed = np.maximum.reduceat(np.abs(left), first) > 0.01
    sound = shapely.is_valid(moved)
    return on_grid(moved[needed & sound]), number[needed & sound]


def _move(ground: Alleys, pieces: Pieces, line: Ints, s: Floats) -> Floats:
    """How far the bed's middle lies left of the row at each break."""
    widths, half = ground.widths, ground.widths.tree / 2
    point, mitre = ground.lines.footing(line, s)
    free = {}
    for sign in (1, -1):
        edge = ground.edge.first_hit(point, sign * mitre, 1e-3, 2 * widths.tree).distance
        beside = beside_bed(ground.lines, pieces.only(sign, 1), line, s, more_m=STEP_M)
        beds = np.where(beside, widths.inner(1) - widths.narrowest, np.inf)
        free[sign] = np.minimum(edge, beds) - half
    most = max(half - _TREES_IN_M, 0.0)
    left = np.clip(np.minimum(-free[-1], free[1]), 0.0, most)
    right = np.clip(np.minimum(-free[1], free[-1]), 0.0, most)
    move: Floats = np.where(free[-1] < 0, left, 0.0) - np.where(free[1] < 0, right, 0.0)
    return move
