"""Compiled loops for least squares along chains: unknowns of one row pull on near ones, and on a few of other rows.

The matrix is kept as a band (what couples nodes of one row up to BAND apart) and a list of far pairs (all else). The
band of each row is factored by itself; that is nearly the inverse of the whole, since rows pull on one another far less
than a row resists being bent.
"""

from __future__ import annotations

import numpy as np

from geoagro.arrays import Floats, Ints
from geoagro.planar.compiled import compiled

BAND = 8
"""Nodes of one row that share an equation are no farther apart than this: the ends of a chord of 10 m, as a rule 6."""

MOST_FORCE = 1e9
"""Weight times squared factor of an equation at most, ten thousand times what the strongest usual one has: two nodes on one
spot would tie each other so hard that all other equations are lost in rounding."""

FarPairs = tuple[Ints, Ints, Floats]


@compiled
def count_far(columns: Ints, row: Ints) -> int:
    """How many pairs of unknowns of these equations (columns, shape (n, k)) lie in different rows, or farther than BAND."""
    count = 0
    for e in range(len(columns)):
        for p in range(columns.shape[1]):
            for q in range(p + 1, columns.shape[1]):
                a, b = columns[e, p], columns[e, q]
                if a != b and (row[a] != row[b] or abs(a - b) > BAND):
                    count += 1
    return count


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
def mirrored(upper: Floats) -> Floats:
    """Give what couples i with i - b in `[i, b]`, where `upper[i, b]` couples i with i + b; both with BAND spare rows."""
    lower = np.zeros_like(upper)
    for i in range(len(upper) - BAND):
        for b in range(1, BAND + 1):
            lower[i + b, b] = upper[i, b]
    return lower


@compiled
def times(upper: Floats, lower: Floats, far: FarPairs, x: Floats, out: Floats) -> None:
    """Multiply by the matrix; x and out have BAND zeros at their start and at their end.

    Here and in `solved` places are counted without a sign, so that none is looked at as if from an array's end: a third
    of the time.
    """
    for i in range(len(upper) - BAND):
        k, j = np.uint64(i + BAND), np.uint64(i)
        ahead = upper[j, 0] * x[k]
        behind = lower[j, 1] * x[np.uint64(i + BAND - 1)]
        for b in range(1, BAND + 1):
            ahead += upper[j, np.uint64(b)] * x[np.uint64(i + BAND + b)]
        for b in range(2, BAND + 1):
            behind += lower[j, np.uint64(b)] * x[np.uint64(i + BAND - b)]
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
    """Factor the band: one over D in column 0 and the unit triangle L in the others, `lower[i, b]` from i to i + b.

    A pivot that rounding has used up is replaced by its diagonal: the factors only ease the steps, they needn't be exact.
    """
    lower = band.copy()
    count = len(spare)
    for i in range(count):
        lower[i, 0] += spare[i]
    for i in range(count):
        whole = band[i, 0] + spare[i]
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
def solved(upper: Floats, lower: Floats, right: Floats, out: Floats) -> None:
    """Solve with the factors of the band (`lower` is `upper` mirrored); right and out are padded as in `times`."""
    count = len(upper) - BAND
    for i in range(count):
        k, j = np.uint64(i + BAND), np.uint64(i)
        left = right[k]
        for b in range(BAND, 0, -1):
            left -= lower[j, np.uint64(b)] * out[np.uint64(i + BAND - b)]
        out[k] = left
    for i in range(count - 1, -1, -1):
        k, j = np.uint64(i + BAND), np.uint64(i)
        left = out[k] * upper[j, 0]
        for b in range(BAND, 0, -1):
            left -= upper[j, np.uint64(b)] * out[np.uint64(i + BAND + b)]
        out[k] = left


@compiled
def _product(a: Floats, b: Floats) -> float:
    """Scalar product."""
    total = 0.0
    for k in range(len(a)):
        total += a[k] * b[k]
    return total


@compiled
def conjugate_gradients(band: Floats, spare: Floats, far: FarPairs, right: Floats, steps: int) -> Floats:
    """Solve by a number of steps of conjugate gradients from 0, preconditioned by the band's factors.

    `band` has BAND rows more than there are unknowns, of zeros, so that no loop has to mind the end.
    """
    count = len(right)
    below = mirrored(band)
    upper = factored(band, spare)
    lower = mirrored(upper)
    size = count + 2 * BAND
    x, left = np.zeros(size), np.zeros(size)
    left[BAND : count + BAND] = right
    toward, eased, pulled = np.zeros(size), np.zeros(size), np.zeros(size)
    before, rest = 1.0, _product(left, left)
    enough = 1e-24 * rest
    for step in range(steps):
        if rest <= enough:
            break
        solved(upper, lower, left, eased)
        now = _product(left, eased)
        if now <= 0:  # so little is left that its square is nothing
            break
        again = now / before if step > 0 else 0.0
        for k in range(size):
            toward[k] = eased[k] + again * toward[k]
        before = now
        times(band, below, far, toward, pulled)
        power = _product(toward, pulled)
        if power <= 0:
            break
        along, rest = now / power, 0.0
        for k in range(size):
            x[k] += along * toward[k]
            left[k] -= along * pulled[k]
            rest += left[k] * left[k]
    return x[BAND : count + BAND]
