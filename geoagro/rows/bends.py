"""Ease bends that are tighter than the turn radius, where a row can be drawn straighter over a few metres."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import LineString

from geoagro.arrays import Bools, Floats, Ints
from geoagro.planar.bending import circle_radius
from geoagro.rows.chains import Chains, chains_of
from geoagro.rows.quality import BEND_WINDOW_M, window_radius

EASED = 1.1
"""Bends are eased, and rows that run on bend, a little past the smallest radius, so that none is cut for a rounding."""
STEP_M = 0.5
ROUNDS = 24
STEPS_A_ROUND = 24
REACH_M = (3.0, 12.0)
"""How far to both sides of a tight bend a row may move: little at first, more in each round."""


@dataclass(frozen=True, eq=False)
class EasedBends:
    """Bends that could be eased, each to be taken or left.

    Attributes
    ----------
    lines
        All rows as they were.
    numbers, chains, xy, piece
        Rows with such bends, their nodes before and after, and the bend (from 1) that each node belongs to; 0 for none.
    """

    lines: list[LineString]
    numbers: Ints
    chains: Chains
    xy: Floats
    piece: Ints

    @property
    def centres(self) -> Floats:
        """Middle of each bend, shape (K, 2)."""
        count = np.bincount(self.piece)[1:, None]
        return np.column_stack([np.bincount(self.piece, weights=self.xy[:, k])[1:] for k in (0, 1)]) / count

    def rows(self, taken: Bools) -> list[LineString]:
        """All rows, with the bends `taken` (mask, shape (K,)) eased."""
        every = list(self.lines)
        there = np.concatenate([[False], taken])[self.piece]
        changed = np.unique(self.chains.row[there])
        here = np.isin(self.chains.row, changed)
        xy = np.where(there[:, None], self.xy, self.chains.xy)[here]
        eased: list[LineString] = (
            list(
                np.asarray(
                    shapely.linestrings(xy, indices=np.searchsorted(changed, self.chains.row[here])), dtype=object
                )
            )
            if len(changed)
            else []
        )
        for number, row in zip(self.numbers[changed], eased, strict=True):
            every[number] = row
        return every


def ease_bends(lines: Sequence[LineString], radius_m: float) -> EasedBends:
    """Shorten each row about its tight bends, as a taut cord would, until none is tighter than `radius_m`.

    Curve shortening (Grayson 1987) moves every point toward the middle of the points beside it, so the tightest bend
    gives way first. A bend that is still tight after 12 m of row to both sides have moved (a hairpin) is left as it
    was. Only the bend is looked at, neither spacing nor grade.
    """
    every = list(lines)
    samples = chains_of(every, STEP_M).samples()
    numbers = np.unique(samples.row[window_radius(every, samples) < radius_m])
    chains = chains_of([every[k] for k in numbers], STEP_M)
    xy, piece = _eased(chains, radius_m)
    return EasedBends(every, numbers, chains, xy, piece)


def _eased(chains: Chains, radius_m: float) -> tuple[Floats, Ints]:
    """Nodes after easing, shape (M, 2), and the bend that each belongs to."""
    xy, moved = chains.xy.copy(), np.zeros(len(chains.row), dtype=bool)
    first, last = chains.first[chains.is_ring], (chains.first + chains.count - 1)[chains.is_ring]
    for reach_m in np.linspace(*REACH_M, ROUNDS):
        tight = _tight(chains, xy, radius_m)
        if not tight.any():
            break
        share = np.where(chains.is_inner, np.clip(1 - _way_to(chains, tight) / reach_m, 0.0, 1.0), 0.0)
        moved |= share > 0
        i = np.nonzero(share)[0]
        before, after, part = chains.before[i], chains.after[i], 0.5 * share[i, None]
        for _ in range(STEPS_A_ROUND):
            xy[i] += part * ((xy[before] + xy[after]) / 2 - xy[i])
            xy[last] = xy[first]
    piece = chains.runs(moved)
    hopeless = piece[_tight(chains, xy, radius_m)]
    good = moved & ~np.isin(piece, hopeless)
    return xy, chains.runs(good)


def _tight(chains: Chains, xy: Floats, radius_m: float) -> Bools:
    """Tell at which nodes the circle through them and the nodes half a window to both sides is too small."""
    half = np.full(len(xy), round(BEND_WINDOW_M / 2 / STEP_M))
    place = np.arange(len(xy)) - chains.first[chains.row]
    i = np.nonzero(chains.is_ring[chains.row] | ((place >= half) & (place + half < chains.count[chains.row])))[0]
    tight = np.zeros(len(xy), dtype=bool)
    tight[i] = circle_radius(xy[chains.along(i, -half[i])], xy[i], xy[chains.along(i, half[i])]) < radius_m
    return tight


def _way_to(chains: Chains, marked: Bools) -> Floats:
    """Distance along its row from each node to the nearest marked one, infinite where its row has none."""
    node = np.arange(len(marked))
    before = np.maximum.accumulate(np.where(marked, node, -1))
    after = np.minimum.accumulate(np.where(marked, node, len(marked))[::-1])[::-1]
    first = chains.first[chains.row]
    back = np.where(before >= first, node - before, np.inf)
    ahead = np.where(after < first + chains.count[chains.row], after - node, np.inf)
    way: Floats = np.minimum(back, ahead) * chains.step[chains.row]
    return way
