"""What drawing a row's end back would win: legal runs counted anew for every length that the row may give up."""

from __future__ import annotations

import numpy as np

from geoagro.arrays import Bools, Floats, Ints
from geoagro.planar.compiled import compiled

_NOTHING = 1e-6

Rows = tuple[Ints, Ints, Floats]
"""First sample and number of samples of each row, and the length that each sample stands for."""
Ends = tuple[Ints, Ints, Floats, Ints]
"""Row of each end, whether it is the row's last (1) or first one (0), how far it may be drawn back at the most, and where its
part of `Seen` begins (one entry more than ends)."""
Seen = tuple[Ints, Ints, Floats, Bools]
"""What sees each end's row near its tip: the sample, its side, how far from the tip, and whether that side would be within
limits if the row weren't there; the nearest to the tip first."""
Within = tuple[Bools, Bools]
"""Of each sample: whether it holds its own limits, and whether the neighbours on both sides do, shape (2, n)."""
Prices = tuple[float, float, float, float]
"""Shortest run that counts and shortest row; what a metre given up costs and what a row less saves, in metres of legal row."""


@compiled
def legal_m(row: int, rows: Rows, within: Within, shortest_m: float) -> float:
    """Length of one row in unbroken runs within all limits."""
    first, count, weight = rows
    ok, sides = within
    total, run = 0.0, 0.0
    for k in range(first[row], first[row] + count[row]):
        if ok[k] and sides[0, k] and sides[1, k]:
            run += weight[k]
        else:
            total += run if run >= shortest_m - _NOTHING else 0.0
            run = 0.0
    return total + (run if run >= shortest_m - _NOTHING else 0.0)


@compiled
def wins_of_ends(ends: Ends, seen: Seen, rows: Rows, within: Within, prices: Prices) -> Floats:
    """Give what each end wins at best (metres of legal row), and how far it is drawn back for that; shape (n, 2)."""
    end_row, is_last, most_m, pointer = ends
    seen_sample, seen_side, seen_at, seen_ok = seen
    first, count, weight = rows
    run_m, row_m, given_up, row_saves = prices
    best = np.zeros((len(end_row), 2))
    ok, sides = within[0].copy(), within[1].copy()
    tried = (ok, sides)
    for e in range(len(end_row)):
        row, begin, end = end_row[e], pointer[e], pointer[e + 1]
        concerned = np.unique(np.searchsorted(first, seen_sample[begin:end], side="right") - 1)
        concerned = concerned[concerned != row]
        own_before = legal_m(row, rows, tried, run_m)
        before = 0.0
        for other in concerned:
            before += legal_m(other, rows, tried, run_m)
        length = weight[first[row] : first[row] + count[row]].sum()
        kept = (ok[first[row] : first[row] + count[row]].copy(), sides[:, seen_sample[begin:end]].copy())
        back, p = 0.0, begin
        for taken in range(count[row]):
            k = first[row] + (count[row] - 1 - taken if is_last[e] else taken)
            if back + weight[k] > most_m[e] + _NOTHING:
                break
            ok[k] = False
            back += weight[k]
            while p < end and seen_at[p] < back:
                sides[seen_side[p], seen_sample[p]] = seen_ok[p]
                p += 1
            left = length - back
            if _NOTHING < left < row_m:
                continue
            now = legal_m(row, rows, tried, run_m) - own_before - before
            for other in concerned:
                now += legal_m(other, rows, tried, run_m)
            win = now - given_up * back + (row_saves if left <= _NOTHING else 0.0)
            if win > best[e, 0] + _NOTHING:
                best[e, 0], best[e, 1] = win, back
        ok[first[row] : first[row] + count[row]] = kept[0]
        for q in range(begin, end):
            sides[:, seen_sample[q]] = kept[1][:, q - begin]
    return best
