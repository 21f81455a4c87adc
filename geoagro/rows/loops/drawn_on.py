"""What letting a row's end run on would win: legal runs counted anew for every length that the row may gain."""

from __future__ import annotations

import numpy as np

from geoagro.arrays import Bools, Floats, Ints
from geoagro.planar.compiled import compiled
from geoagro.rows.loops.drawn_back import Rows, Within, legal_m

# legal_m is part of the compiled code that is kept on disk, and only a change of this file makes that be compiled anew: whoever
# changes it changes this line too.
_NOTHING = 1e-6
_PARALLEL = 1e-12

Ways = tuple[Ints, Ints, Ints, Bools, Floats]
"""Of each way on: the row, whether it starts from the row's last end (1) or first one (0), how many steps it may take, of
each step (n, k) whether both neighbours hold the spacing there, and its places (n, k + 1, 2), the tip first."""
Looks = tuple[Floats, Floats, Floats, Ints]
"""Of each sample: its place and its left normal, shape (n, 2), how far it sees to both sides, shape (2, n), and its row."""
Near = tuple[Ints, Ints, Ints]
"""Samples near each way: those of k are the last's [first[k] : first[k] + count[k]]; ways of one end share them."""
Spacing = tuple[float, float, float]
"""Least and largest distance at which a neighbour holds the spacing, and from where on there is none."""
Prices = tuple[float, float, float]
"""Shortest run that counts, what a metre more is worth in metres of legal row, and the length of a step."""
Changes = Ints
"""Sides that a way would turn from within limits to beyond or back: samples, sides, and the steps that do it, shape (3, n)."""


@compiled
def _crossing(look: Floats, points: Floats, steps: int) -> tuple[float, int]:
    """Find where a ray (its place, then its direction) first crosses a way: how far along the ray, and in which step.

    Infinite, and -1, where it doesn't.
    """
    nearest, at = np.inf, -1
    for j in range(steps):
        px, py = points[j, 0] - look[0], points[j, 1] - look[1]
        qx, qy = points[j + 1, 0] - points[j, 0], points[j + 1, 1] - points[j, 1]
        cross = look[2] * qy - look[3] * qx
        if abs(cross) < _PARALLEL:
            continue
        share, far = (px * look[3] - py * look[2]) / cross, (px * qy - py * qx) / cross
        if 0.0 <= share <= 1.0 and 0.0 <= far < nearest:
            nearest, at = far, j
    return nearest, at


@compiled
def _changes(way: tuple[int, int, Floats], looks: Looks, near: Ints, sides: Bools, spacing: Spacing) -> Changes:
    """Find what a way (its row, its steps, its places) would change for the samples near it."""
    row, steps, places = way
    xy, normal, far, row_of = looks
    low, high, none = spacing
    found = np.empty((3, 2 * len(near)), dtype=np.int64)
    look = np.empty(4)
    done = 0
    for i in near:
        if row_of[i] == row:
            continue
        look[:2] = xy[i]
        for s in range(2):
            look[2:] = normal[i] if s == 0 else -normal[i]
            there, at = _crossing(look, places, steps)
            seen = at >= 0 and there < far[s, i] and there <= none
            if seen and (low <= there <= high) != sides[s, i]:
                found[0, done], found[1, done], found[2, done] = i, s, at
                done += 1
    return found[:, :done]


@compiled
def _tail_m(row: int, from_last: int, rows: Rows, within: Within) -> float:
    """Length of the run within all limits that ends at a row's end."""
    first, count, weight = rows
    ok, sides = within
    run = 0.0
    for taken in range(count[row]):
        k = first[row] + (count[row] - 1 - taken if from_last else taken)
        if not (ok[k] and sides[0, k] and sides[1, k]):
            break
        run += weight[k]
    return run


@compiled
def _counted(run: float, shortest_m: float) -> float:
    return run if run >= shortest_m - _NOTHING else 0.0


@compiled
def _others_m(rows_of: Ints, rows: Rows, within: Within, shortest_m: float) -> float:
    total = 0.0
    for row in rows_of:
        total += legal_m(row, rows, within, shortest_m)
    return total


@compiled
def _turn(changes: Changes, sides: Bools, step: int) -> bool:
    """Turn the sides that a step changes (all, where it is -1); tells whether there are any."""
    turned = False
    for q in range(changes.shape[1]):
        if changes[2, q] == step or step < 0:
            sample, side = changes[0, q], changes[1, q]
            sides[side, sample] = not sides[side, sample]
            turned = True
    return turned


@compiled
def _best_of(
    holds: Bools, changes: Changes, tail_m: float, counted: tuple[Ints, Rows, Within], prices: Prices
) -> Floats:
    """Give what a way wins at best, and the steps it takes for that, as all its steps are taken one after another."""
    rows_of, rows, within = counted
    shortest_m, worth, step_m = prices
    before = others = _others_m(rows_of, rows, within, shortest_m)
    run, own = tail_m, -_counted(tail_m, shortest_m)
    best = np.zeros(2)
    for j in range(len(holds)):
        if holds[j]:
            run += step_m
        else:
            own, run = own + _counted(run, shortest_m), 0.0
        if _turn(changes, within[1], j):
            others = _others_m(rows_of, rows, within, shortest_m)
        win = own + _counted(run, shortest_m) + others - before + worth * step_m * (j + 1)
        if win > best[0] + _NOTHING:
            best[0], best[1] = win, j + 1
    return best


@compiled
def wins_of_ways(ways: Ways, seen: tuple[Looks, Near, Spacing], rows: Rows, within: Within, prices: Prices) -> Floats:
    """Give what each way wins at best (metres of legal row), and how many steps it takes for that; shape (n, 2)."""
    row, from_last, steps, holds, places = ways
    looks, (first, count, near), spacing = seen
    sides = within[1].copy()
    tried = (within[0], sides)
    best = np.zeros((len(row), 2))
    for k in range(len(row)):
        some = near[first[k] : first[k] + count[k]]
        changes = _changes((row[k], steps[k], places[k]), looks, some, sides, spacing)
        concerned = np.unique(looks[3][changes[0]])
        tail_m = _tail_m(row[k], from_last[k], rows, tried)
        best[k] = _best_of(holds[k, : steps[k]], changes, tail_m, (concerned, rows, tried), prices)
        _turn(changes, sides, -1)
    return best
