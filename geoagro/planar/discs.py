"""Exact area of ground under discs, overlaps counted once."""

from __future__ import annotations

import numpy as np

from geoagro.arrays import Floats, Ints
from geoagro.planar.compiled import compiled


def area_of_discs(xy: Floats, radii: Floats) -> float:
    """Area of the union of discs, square metres; exact but for rounding.

    By Green's theorem it is an integral along the outline of the union, which is made of those arcs of each circle that no
    other disc covers. Each disc is held against those near it only, so time grows with their number.

    Parameters
    ----------
    xy
        Middles, shape (n, 2), metres.
    radii
        Shape (n,), metres; a radius of 0 counts for nothing.

    >>> round(area_of_discs(np.array([[0.0, 0.0], [1.0, 0.0]]), np.array([1.0, 1.0])), 6) == round(4 * np.pi / 3 + 3**0.5 / 2, 6)
    True
    """
    there = radii > 0
    if not there.any():
        return 0.0
    x, y = np.ascontiguousarray((xy[there] - xy[there].min(axis=0)).T)
    reach = 2 * float(radii[there].max())  # middles of discs that meet lie within this
    columns = int(x.max() // reach) + 3
    cell = (y // reach + 1).astype(np.int64) * columns + (x // reach + 1).astype(np.int64)
    order = np.argsort(cell, kind="stable")
    cells, first = np.unique(cell[order], return_index=True)
    return float(_under(x[order], y[order], radii[there][order], cell[order], (cells, first, columns)))


@compiled
def _under(x: Floats, y: Floats, radii: Floats, cell: Ints, cells: tuple[Ints, Ints, int]) -> float:
    """Add up what the bare arcs of each circle give; discs lie in the order of their cells."""
    numbers, first, columns = cells
    total = 0.0
    begin, end = np.empty(len(x) + 1), np.empty(len(x) + 1)
    for k in range(len(x)):
        count = 0
        for line in range(-1, 2):
            low = np.searchsorted(numbers, cell[k] + line * columns - 1)
            high = np.searchsorted(numbers, cell[k] + line * columns + 1, side="right")
            if high == low or count < 0:
                continue
            until = len(x) if high == len(numbers) else first[high]
            for other in range(first[low], until):
                if other != k and count >= 0:
                    count = _covered(x, y, radii, (k, other), begin, end, count)
        if count >= 0:
            total += _bare((x[k], y[k]), radii[k], begin, end, count)
    return total


@compiled
def _covered(  # noqa: PLR0917  # plain numbers and arrays for the compiler
    x: Floats, y: Floats, radii: Floats, pair: tuple[int, int], begin: Floats, end: Floats, count: int
) -> int:
    """Note the angles of one circle that another disc covers; gives how many stand there now, -1 where it covers all."""
    k, other = pair
    dx, dy = x[other] - x[k], y[other] - y[k]
    away = np.sqrt(dx * dx + dy * dy)
    r, s = radii[k], radii[other]
    if away >= r + s or away + s < r:
        return count
    if away + r <= s:
        same = away == 0 and r == s
        return count if same and other > k else -1
    half = np.arccos(min(max((away * away + r * r - s * s) / (2 * away * r), -1.0), 1.0))
    low = np.arctan2(dy, dx) - half
    low = low % (2 * np.pi)
    high = low + 2 * half
    if high > 2 * np.pi:
        begin[count], end[count] = 0.0, high - 2 * np.pi
        count += 1
        high = 2 * np.pi
    begin[count], end[count] = low, high
    return count + 1


@compiled
def _bare(middle: tuple[float, float], r: float, begin: Floats, end: Floats, count: int) -> float:
    """Half the integral of x dy - y dx along the arcs of a circle that nothing covers."""
    x, y = middle
    order = np.argsort(begin[:count])
    total, done = 0.0, 0.0
    for place in range(count + 1):
        until = 2 * np.pi if place == count else begin[order[place]]
        if until > done:
            turned = x * (np.sin(until) - np.sin(done)) - y * (np.cos(until) - np.cos(done))
            total += 0.5 * r * (r * (until - done) + turned)
        if place < count:
            done = max(done, end[order[place]])
    return total
