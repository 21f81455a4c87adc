"""The steps of conjugate gradients of `banded_loops`, for rows of large fields: several threads share them, each by whole rows."""

from __future__ import annotations

import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from itertools import pairwise
from typing import TypeVar

import numpy as np

from geoagro.arrays import Floats, Ints
from geoagro.planar.compiled import compiled
from geoagro.rows.loops.banded_loops import BAND, FarPairs, factored

# BAND is part of the compiled code that is kept on disk, and only a change of this file makes that be compiled anew: whoever
# changes BAND changes this line too. It is 6 nodes now.
MANY_UNKNOWNS = 200_000
"""From so many unknowns on threads share the work: below, what a processor's own memory holds is faster for one."""
PARTS = 8
"""As many on every machine, so that sums are the same on each."""

Part = tuple[int, int]
FarOfEach = tuple[Ints, Ints, Floats]
Found = TypeVar("Found")


def parts_of_rows(row: Ints) -> list[Part]:
    """Part unknowns, given the row of each, into runs of whole rows of about one size: first one, and first one past the end."""
    starts = np.append(np.flatnonzero(np.append(True, row[1:] != row[:-1])), len(row))
    wanted = np.linspace(0, len(row), PARTS + 1)
    ends = np.unique(starts[np.searchsorted(starts, wanted)])
    return [(int(a), int(b)) for a, b in pairwise(ends)]


def conjugate_gradients_by_parts(
    matrix: tuple[Floats, Floats, FarPairs], right: Floats, steps: int, row: Ints
) -> Floats:
    """Solve as `conjugate_gradients` does; `row` is the row of each unknown. Sums are rounded in another order.

    `matrix` is the band (padded), what the rows' own far pairs lack in it, and the far pairs.
    """
    band, spare, far = matrix
    parts = parts_of_rows(row)
    upper, pairs = factored(band, spare), far_of_each(far, len(right))
    found, left, toward, eased, pulled = work = tuple(np.zeros(len(right) + 2 * BAND) for _ in range(5))
    left[BAND : len(right) + BAND] = right
    enough, along, before = 1e-24 * float(right @ right), 0.0, 0.0
    with ThreadPoolExecutor(os.cpu_count()) as pool:

        def each(do: Callable[..., Found], *known: object) -> list[Found]:
            return list(pool.map(lambda part: do(part, *known), parts))

        for step in range(steps + 1):
            now, rest = np.sum(each(_step_and_ease, upper, along, work), axis=0)
            if step == steps or rest <= enough or now <= 0:
                break
            each(_aim, now / before if step > 0 else 0.0, eased, toward)
            power = sum(each(_pull, band, pairs, toward, pulled))
            if power <= 0:
                break
            along, before = now / power, now
    return found[BAND : len(right) + BAND]


@compiled
def far_of_each(far: FarPairs, count: int) -> FarOfEach:
    """Sort far pairs by unknown, each pair under both: those of i are others[pointer[i] : pointer[i + 1]], and their values."""
    a, b, value = far
    pointer = np.zeros(count + 1, dtype=np.int64)
    for p in range(len(a)):
        pointer[a[p] + 1] += 1
        pointer[b[p] + 1] += 1
    for i in range(count):
        pointer[i + 1] += pointer[i]
    place = pointer[:-1].copy()
    others, values = np.empty(pointer[count], dtype=np.int64), np.empty(pointer[count])
    for p in range(len(a)):
        for one, other in ((a[p], b[p]), (b[p], a[p])):
            others[place[one]], values[place[one]] = other, value[p]
            place[one] += 1
    return pointer, others, values


@compiled
def _step_and_ease(
    part: Part, upper: Floats, along: float, work: tuple[Floats, Floats, Floats, Floats, Floats]
) -> tuple[float, float]:
    """Step along, then solve with the factors for a part; gives its shares of left * eased and of left * left.

    Band and factors are padded, and places are counted without a sign, as in `banded_loops`; `part` counts unknowns.
    """
    found, left, toward, eased, pulled = work
    first, last = part
    for at in range(first + BAND, last + BAND):
        found[at] += along * toward[at]
        left[at] -= along * pulled[at]
    for i in range(first + BAND, last + BAND):
        k = np.uint64(i)
        value = left[k]
        for b in range(min(BAND, i - BAND - first), 0, -1):
            before = np.uint64(i - b)
            value -= upper[before, np.uint64(b)] * eased[before]
        eased[k] = value
    product, rest = 0.0, 0.0
    for i in range(last + BAND - 1, first + BAND - 1, -1):
        k = np.uint64(i)
        value = eased[k] * upper[k, 0]
        for b in range(min(BAND, last + BAND - 1 - i), 0, -1):
            value -= upper[k, np.uint64(b)] * eased[np.uint64(i + b)]
        eased[k] = value
        product += value * left[k]
        rest += left[k] * left[k]
    return product, rest


@compiled
def _aim(part: Part, again: float, eased: Floats, toward: Floats) -> None:
    """Turn to where the next step goes."""
    for k in range(part[0] + BAND, part[1] + BAND):
        toward[k] = eased[k] + again * toward[k]


@compiled
def _pull(part: Part, band: Floats, far: FarOfEach, toward: Floats, pulled: Floats) -> float:
    """Multiply a part by the matrix; gives its share of toward * pulled."""
    pointer, others, values = far
    first, last = part
    power = 0.0
    for i in range(first + BAND, last + BAND):
        k = np.uint64(i)
        total = band[k, 0] * toward[k]
        for b in range(1, BAND + 1):
            total += band[k, np.uint64(b)] * toward[np.uint64(i + b)]
        for b in range(1, min(BAND, i - BAND - first) + 1):
            before = np.uint64(i - b)
            total += band[before, np.uint64(b)] * toward[before]
        for p in range(pointer[i - BAND], pointer[i - BAND + 1]):
            total += values[p] * toward[np.uint64(others[p] + BAND)]
        pulled[k] = total
        power += total * toward[k]
    return power
