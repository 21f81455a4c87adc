"""Rays through the crowns of an alley, in compiled loops: for each ray that ends at each place of the ground.

Plain arithmetic on the running sums of `canopy`: a test sends the same rays by numpy, array by array.
"""

from __future__ import annotations

from math import asin, ceil, exp, expm1, floor, pi, sqrt

from geoagro.arrays import Bools, Floats, Ints
from geoagro.planar.compiled import compiled

_THIN = 1e-9

Fan = tuple[Floats, Floats, Floats, Floats]
"""Shift, path and weight of the rays; the places across where they end, as shares of the width."""


@compiled
def _read(total: Floats, place: float) -> float:
    """Read the running sum of one kind (from 0 to each column's edge) at a place, as a share of the width."""
    columns = len(total) - 1
    turns = floor(place)
    exact = (place - turns) * columns
    column = min(int(exact), columns - 1)
    return float(turns * total[columns] + total[column] + (exact - column) * (total[column + 1] - total[column]))


@compiled
def _slope(total: Floats, place: float) -> float:
    """Depth from straight above at a place, times the width of a column."""
    columns = len(total) - 1
    column = min(int((place - floor(place)) * columns), columns - 1)
    return float(total[column + 1] - total[column])


@compiled
def fill_sum(at: Floats, width_m: float, radius: float, per_m: Floats, total: Floats) -> None:
    """Add up, from 0 to each column's edge, the chords of discs round places `at` that repeat every width.

    Parameters
    ----------
    at, per_m
        Places of lines within the width; twice the opacity over the spacing.
    total
        Running sum at each edge, written here; half a disc's integral in closed form.
    """
    edges = len(total)
    images = ceil(radius / width_m) + 1
    for k in range(len(at)):
        for image in range(-images, images + 1):
            middle = at[k] + image * width_m
            start = _half_disc(-middle, radius)
            for e in range(edges):
                total[e] += per_m[k] * (_half_disc(e * width_m / (edges - 1) - middle, radius) - start)


@compiled
def _half_disc(u: float, radius: float) -> float:
    """Integral of sqrt(R^2 - u^2) from -R to u."""
    v = min(max(u, -radius), radius)
    return float((v * sqrt(max(radius**2 - v**2, 0.0)) + radius**2 * asin(v / radius)) / 2 + pi * radius**2 / 4)


@compiled
def cross(fan: Fan, width_m: float, sums: Floats, base: Floats, top: Floats, left: Floats) -> None:
    """Write the share of each ray that reaches each place into `left` (rays, places).

    Each crown is crossed in one step; `sums` holds the running sum of each kind (kinds, columns + 1), `base` and `top` its heights.
    """
    shift, path, _, ends = fan
    for r in range(len(shift)):
        move = shift[r] / width_m
        for p in range(len(ends)):
            depth = 0.0
            for k in range(len(base)):
                fall = _read(sums[k], ends[p] - move * base[k]) - _read(sums[k], ends[p] - move * top[k])
                depth += max(fall / shift[r], 0.0) * path[r] / (top[k] - base[k])
            left[r, p] = exp(-depth)


@compiled
def cross_layers(
    fan: Fan,
    width_m: float,
    sums: Floats,
    thick: Floats,
    levels: Floats,
    inside: Bools,
    begins: Ints,
    out: tuple[Floats, ...],
) -> None:
    """Send each ray down through the layers and share out in each what is taken there.

    Parameters
    ----------
    thick
        Height of each kind's crowns.
    levels, inside, begins
        Heights between layers; whether a kind has leaves in the layer below a level (levels, kinds); the level at which its crowns
        begin from above.
    out
        What is left (rays, places), captured by kind, and for the light above each kind's crowns the sums over what it weighs.
    """
    shift, path, weight, ends = fan
    left, captured, reached, weighed = out
    kinds, top = len(thick), len(levels) - 1
    depth, held = captured * 0.0, captured * 0.0
    for r in range(len(shift)):
        move = shift[r] / width_m
        for p in range(len(ends)):
            light, above = 1.0, ends[p] - move * levels[top]
            for level in range(top, 0, -1):
                below = ends[p] - move * levels[level - 1]
                total = 0.0
                for k in range(kinds):
                    if begins[k] == level:
                        stands = weight[r] * _slope(sums[k], above)
                        reached[k] += stands * light
                        weighed[k] += stands
                        held[k] = _read(sums[k], above)
                    if inside[level, k]:
                        at = _read(sums[k], below)
                        depth[k] = max((at - held[k]) / shift[r], 0.0) * path[r] / thick[k]
                        total += depth[k]
                        held[k] = at
                taken = light * -expm1(-total)
                share = weight[r] * taken / max(total, _THIN) / len(ends)
                for k in range(kinds):
                    if inside[level, k]:
                        captured[k] += depth[k] * share
                light -= taken
                above = below
            left[r, p] = light
