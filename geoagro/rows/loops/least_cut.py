"""The cheapest way to part cells that win from cells that lose, in compiled passes.

Goldberg and Tarjan (1988), "A new approach to the maximum-flow problem": what cells lose is pushed downhill to the cells
that win, along labels that bound the way to one of those. A general library for graphs takes six times as long.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from geoagro.arrays import Bools, Ints
from geoagro.planar.compiled import compiled

Small = NDArray[np.int32]
Arcs = tuple[Ints, Small, Small, Small]
"""Arcs of cell k are pointer[k] to pointer[k + 1]: where each leads, its counterpart back, and what it can still carry.

Half the bytes, a sixth less time; so links must be less than a thousand million.
"""


SWEEPS = 6
"""Labels are measured afresh after so many passes over the cells, those farthest from room first."""


@compiled
def least_cut(win: Ints, first: Ints, second: Ints, link: Ints) -> Bools:
    """Tell which cells to take: the smallest set for which `win` less the `link`s to cells left is greatest.

    Parameters
    ----------
    win
        What taking each cell wins, whole units; below 0 what it loses.
    first, second, link
        Pairs of neighbours, and what parting them costs.
    """
    count = len(win)
    arcs = _arcs(count, first, second, link)
    excess, room = np.maximum(-win, 0), np.maximum(win, 0)
    label, order, at = np.zeros(count, dtype=np.int64), np.empty(count, dtype=np.int64), np.empty(count, dtype=np.int64)
    busy = True
    while busy:
        busy = False
        at[:] = arcs[0][:-1]
        reached = _relabel(arcs, room, label, order)
        for _ in range(SWEEPS):
            busy |= _sweep(order[:reached], arcs, (excess, room), label, at)
    return label < count


@compiled
def _arcs(count: int, first: Ints, second: Ints, link: Ints) -> Arcs:
    """Arcs of all cells, both ways of every link."""
    pointer = np.zeros(count + 1, dtype=np.int64)
    for e in range(len(link)):
        pointer[first[e] + 1] += 1
        pointer[second[e] + 1] += 1
    for k in range(count):
        pointer[k + 1] += pointer[k]
    place = pointer[:-1].copy()
    size = 2 * len(link)
    to, back, left = np.empty(size, dtype=np.int32), np.empty(size, dtype=np.int32), np.empty(size, dtype=np.int32)
    for e in range(len(link)):
        i, j = first[e], second[e]
        a, b = place[i], place[j]
        to[a], back[a], left[a] = j, b, link[e]
        to[b], back[b], left[b] = i, a, link[e]
        place[i] += 1
        place[j] += 1
    return pointer, to, back, left


@compiled
def _relabel(arcs: Arcs, room: Ints, label: Ints, order: Ints) -> int:
    """Label each cell by the arcs on the shortest way to one with room, with the number of cells where none is.

    Writes the cells that have a way into `order`, the nearest first, and returns how many they are.
    """
    pointer, to, back, left = arcs
    count = len(room)
    reached = 0
    for k in range(count):
        label[k] = count
        if room[k] > 0:
            label[k] = 1
            order[reached] = k
            reached += 1
    place = 0
    while place < reached:
        k = order[place]
        place += 1
        for a in range(pointer[k], pointer[k + 1]):
            j = to[a]
            if left[back[a]] > 0 and label[j] == count:
                label[j] = label[k] + 1
                order[reached] = j
                reached += 1
    return reached


@compiled
def _sweep(order: Ints, arcs: Arcs, amounts: tuple[Ints, Ints], label: Ints, at: Ints) -> bool:
    """Push what cells have too much of, the last in order first, into their own room and downhill, raising labels where they must.

    Tells whether any had too much.
    """
    pointer, to, back, left = arcs
    excess, room = amounts
    count, busy = len(label), False
    for k in order[::-1]:
        if excess[k] == 0 or label[k] == count:
            continue
        busy = True
        settled = min(excess[k], room[k])
        excess[k] -= settled
        room[k] -= settled
        while excess[k] > 0 and label[k] < count:
            if at[k] == pointer[k + 1]:
                lowest = count
                for a in range(pointer[k], pointer[k + 1]):
                    if left[a] > 0:
                        lowest = min(lowest, label[to[a]])
                label[k], at[k] = min(lowest + 1, count), pointer[k]
                continue
            a = at[k]
            j = to[a]
            if left[a] > 0 and label[k] == label[j] + 1:
                pushed = min(excess[k], left[a])
                excess[k] -= pushed
                left[a] -= pushed
                left[back[a]] += pushed
                excess[j] += pushed
            if excess[k] > 0:
                at[k] += 1
    return busy
