"""Minimum cut between two choices for every cell, in compiled loops.

Cells that lose by the change hold as much flow as they lose, cells that win have as much room; flow runs through links up to
their capacity. Where the flow that finds room is greatest, the cells from which room can still be reached are those to change:
the smallest set that wins most. Flow is pushed downhill over distances to room (Goldberg and Tarjan 1988), which are
measured afresh now and then (Cherkassky and Goldberg 1997).
"""

from __future__ import annotations

import numpy as np

from geoagro.arrays import Bools, Ints
from geoagro.planar.compiled import compiled

Links = tuple[Ints, Ints, Ints]
"""First arc of each cell (one more than cells); cell that each arc leads to; number of the arc back."""


@compiled
def linked(count: int, first: Ints, second: Ints, capacity: Ints) -> tuple[Links, Ints]:
    """Sort links between cells (numbers of both) by cell, two arcs each; beside them the capacity of each arc."""
    pointer = np.zeros(count + 1, dtype=np.int64)
    for k in range(len(first)):
        pointer[first[k] + 1] += 1
        pointer[second[k] + 1] += 1
    for i in range(count):
        pointer[i + 1] += pointer[i]
    place = pointer[:-1].copy()
    arcs = 2 * len(first)
    target, back, left = (
        np.empty(arcs, dtype=np.int64),
        np.empty(arcs, dtype=np.int64),
        np.empty(arcs, dtype=np.int64),
    )
    for k in range(len(first)):
        a, b = place[first[k]], place[second[k]]
        target[a], target[b], back[a], back[b] = second[k], first[k], b, a
        left[a] = left[b] = capacity[k]
        place[first[k]] += 1
        place[second[k]] += 1
    return (pointer, target, back), left


@compiled
def _measured(links: Links, left: Ints, room: Ints, away: Ints, queue: Ints) -> None:
    """Write how many arcs each cell is away from room (1 for a cell with room); the number of cells where there is no way."""
    pointer, target, back = links
    count = len(room)
    end = 0
    for i in range(count):
        away[i] = count
        if room[i] > 0:
            away[i] = 1
            queue[end] = i
            end += 1
    k = 0
    while k < end:
        i = queue[k]
        k += 1
        for arc in range(pointer[i], pointer[i + 1]):
            j = target[arc]
            if away[j] == count and left[back[arc]] > 0:
                away[j] = away[i] + 1
                queue[end] = j
                end += 1


@compiled
def _emptied(
    links: Links, left: Ints, room: Ints, full: Ints, away: Ints, i: int, queue: tuple[Ints, Ints, Ints]
) -> int:
    """Push what cell i holds downhill, lifting the cell where it must be; tells how often it was lifted."""
    pointer, target, back = links
    waiting, ends, queued = queue
    count, lifts = len(room), 0
    while full[i] > 0 and away[i] < count:
        if away[i] == 1 and room[i] > 0:
            push = min(full[i], room[i])
            full[i] -= push
            room[i] -= push
        lowest = count
        for arc in range(pointer[i], pointer[i + 1]):
            if full[i] == 0:
                break
            if left[arc] == 0:
                continue
            j = target[arc]
            if away[j] == away[i] - 1:
                push = min(full[i], left[arc])
                left[arc] -= push
                left[back[arc]] += push
                full[i] -= push
                full[j] += push
                if queued[j] == 0:
                    queued[j] = 1
                    waiting[ends[1] % count] = j
                    ends[1] += 1
            if left[arc] > 0:
                lowest = min(lowest, away[j])
        if full[i] > 0:
            away[i] = min(lowest + 1, count)
            lifts += 1
    return lifts


@compiled
def smallest_winning(links: Links, left: Ints, room: Ints, full: Ints) -> Bools:
    """Tell which cells to change; all of `left` (capacity of each arc), `room` and `full` (by cell) are written over."""
    count = len(room)
    away, scratch = np.empty(count, dtype=np.int64), np.empty(count, dtype=np.int64)
    waiting, ends, queued = (
        np.empty(count, dtype=np.int64),
        np.zeros(2, dtype=np.int64),
        np.zeros(count, dtype=np.int64),
    )
    _measured(links, left, room, away, scratch)
    for i in range(count):
        if full[i] > 0 and away[i] < count:
            waiting[ends[1]] = i
            queued[i] = 1
            ends[1] += 1
    lifts = 0
    while ends[0] < ends[1]:
        i = waiting[ends[0] % count]
        ends[0] += 1
        queued[i] = 0
        lifts += _emptied(links, left, room, full, away, i, (waiting, ends, queued))
        if lifts >= count // 2:
            _measured(links, left, room, away, scratch)
            lifts = 0
    _measured(links, left, room, away, scratch)
    return away < count
