"""Compiled loops for least squares along chains: unknowns of one row pull on near ones, and on a few of other rows.

The matrix is kept as a band (what couples nodes of one row up to BAND apart) and a list of far pairs (all else). The
band of each row is factored by itself; that is nearly the inverse of the whole, since rows pull on one another far less
than a row resists being bent.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from geoagro.arrays import Floats, Ints
from geoagro.planar.compiled import compiled

BAND = 6
"""Nodes of one row that share an equation are no farther apart than this: the ends of a chord of 10 m, as a rule 6."""

MOST_FORCE = 1e9
"""Weight times squared factor of an equation at most, ten thousand times what the strongest usual one has: two nodes on one
spot would tie each other so hard that all other equations are lost in rounding."""

FarPairs = tuple[NDArray[np.int32], NDArray[np.int32], Floats]
"""Both unknowns and what couples them; small whole numbers, as reading them all in every step takes most of the time."""


@compiled
def gather(
    equations: tuple[Ints, Floats, Floats, Floats],
    row: Ints,
    band: Floats,
    spare: Floats,
    right: Floats,
    far: FarPairs,
    done: int,
) -> int:
    """Add equations (columns and factors, shape (n, k); target and weight, shape (n,)) to the normal equations.

    `band[i, b]` couples i with i + b; `spare` gathers what a row's own far pairs lack in the band, for the factors. Far pairs
    are written from place `done` on; returns where the next ones go.
    """
    columns, factors, target, weight = equations
    far_a, far_b, far_value = far
    for e in range(len(columns)):
        strongest = 0.0
        for p in range(columns.shape[1]):
            strongest = max(strongest, factors[e, p] * factors[e, p])
        firm = weight[e] * (MOST_FORCE / max(weight[e] * strongest, MOST_FORCE))
        for p in range(columns.shape[1]):
            a, pull = columns[e, p], firm * factors[e, p]
            right[a] += pull * target[e]
            band[a, 0] += pull * factors[e, p]
            for q in range(p + 1, columns.shape[1]):
                b, value = columns[e, q], pull * factors[e, q]
                if a == b:
                    band[a, 0] += 2 * value
                elif row[a] == row[b] and abs(a - b) <= BAND:
                    band[min(a, b), abs(a - b)] += value
                else:
                    far_a[done], far_b[done], far_value[done] = a, b, value
                    done += 1
                    if row[a] == row[b]:
                        spare[a] += abs(value)
                        spare[b] += abs(value)
    return done


@compiled
def times(bands: Floats, far: FarPairs, x: Floats, out: Floats) -> None:
    """Multiply by the matrix; `bands` is the band with what couples nodes b apart in row b, x and out as padded as it is.

    So laid out, each row is read from end to end, for several nodes at once. Here and in `solved` places are counted without
    a sign, so that none is looked at as if from an array's end: a third of the time.
    """
    own = bands[0]
    first, end = np.uint64(BAND), np.uint64(len(own) - BAND)
    for i in range(first, end):
        k = np.uint64(i)
        ahead = own[k] * x[k]
        for b in range(1, BAND + 1):
            ahead += bands[np.uint64(b), k] * x[k + np.uint64(b)]
        behind = 0.0
        for b in range(1, BAND + 1):
            behind += bands[np.uint64(b), k - np.uint64(b)] * x[k - np.uint64(b)]
        out[k] = ahead + behind
    far_a, far_b, far_value = far
    for p in range(len(far_a)):
        a, c = np.uint64(far_a[p] + BAND), np.uint64(far_b[p] + BAND)
        out[a] += far_value[p] * x[c]
        out[c] += far_value[p] * x[a]


_LEAST_PIVOT = 1e-13
"""Share of its diagonal below which a pivot is rounding alone: two nodes on one spot tie each other so hard that nothing is left."""


@compiled
def factored(band: Floats, spare: Floats) -> Floats:
    """Factor the band (padded as in `times`): one over D in column 0 and the unit triangle L in the others, `lower[i, b]` from i to i + b.

    A pivot that rounding has used up is replaced by its diagonal: the factors only ease the steps, they needn't be exact.
    """
    lower = band.copy()
    for i in range(BAND, len(band) - BAND):
        lower[i, 0] += spare[i - BAND]
    for i in range(BAND, len(band) - BAND):
        whole = band[i, 0] + spare[i - BAND]
        if lower[i, 0] <= _LEAST_PIVOT * whole:
            lower[i, 0] = whole
        for b in range(1, BAND + 1):
            share = lower[i, b] / lower[i, 0]
            for c in range(b, BAND + 1):
                lower[i + b, c - b] -= share * lower[i, c]
        lower[i, 0] = 1 / lower[i, 0]
        for b in range(1, BAND + 1):
            lower[i, b] *= lower[i, 0]
    return lower


@compiled
def solved(lower: Floats, right: Floats, out: Floats) -> None:
    """Solve with the factors of the band; all are padded as in `times`."""
    for i in range(BAND, len(lower) - BAND):
        left = right[np.uint64(i)]
        for b in range(BAND, 0, -1):
            k = np.uint64(i - b)
            left -= lower[k, np.uint64(b)] * out[k]
        out[np.uint64(i)] = left
    for i in range(len(lower) - BAND - 1, BAND - 1, -1):
        k = np.uint64(i)
        left = out[k] * lower[k, 0]
        for b in range(BAND, 0, -1):
            left -= lower[k, np.uint64(b)] * out[np.uint64(i + b)]
        out[k] = left


@compiled
def _product(a: Floats, b: Floats) -> float:
    """Scalar product, as four sums that the processor adds up side by side."""
    whole = np.uint64(len(a) // 4 * 4)
    first, second, third, fourth = 0.0, 0.0, 0.0, 0.0
    for i in range(np.uint64(0), whole, np.uint64(4)):
        k = np.uint64(i)
        first += a[k] * b[k]
        second += a[k + np.uint64(1)] * b[k + np.uint64(1)]
        third += a[k + np.uint64(2)] * b[k + np.uint64(2)]
        fourth += a[k + np.uint64(3)] * b[k + np.uint64(3)]
    for i in range(whole, len(a)):
        first += a[np.uint64(i)] * b[np.uint64(i)]
    return first + second + (third + fourth)


@compiled
def conjugate_gradients(band: Floats, spare: Floats, far: FarPairs, right: Floats, steps: int) -> Floats:
    """Solve by a number of steps of conjugate gradients from 0, preconditioned by the band's factors.

    `band` has BAND rows of zeros before and behind those of the unknowns, so that no loop has to mind the ends.
    """
    lower, bands = factored(band, spare), np.ascontiguousarray(band.T)
    size = len(band)
    x, left = np.zeros(size), np.zeros(size)
    left[BAND : size - BAND] = right
    toward, eased, pulled = np.zeros(size), np.zeros(size), np.zeros(size)
    before, rest = 1.0, _product(left, left)
    enough = 1e-24 * rest
    for step in range(steps):
        if rest <= enough:
            break
        solved(lower, left, eased)
        now = _product(left, eased)
        if now <= 0:  # so little is left that its square is nothing
            break
        again = now / before if step > 0 else 0.0
        for k in range(size):
            toward[k] = eased[k] + again * toward[k]
        before = now
        times(bands, far, toward, pulled)
        power = _product(toward, pulled)
        if power <= 0:
            break
        along = now / power
        for k in range(size):
            x[k] += along * toward[k]
            left[k] -= along * pulled[k]
        rest = _product(left, left)
    return x[BAND : size - BAND]
