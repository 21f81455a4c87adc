"""Fewest stakes along a curve such that a tape between two of them stays within a tolerance of it.

Which pairs of points may be joined by a tape is found with the cone of Imai and Iri ("Polygonal
approximations of a curve", 1988): walking on from a start, each point passed narrows the directions in which
a straight line still keeps within the tolerance of it. The fewest stakes are then the shortest path over those
pairs. Taking the longest tape each time isn't always best (on an S curve a long tape can be allowed where a
shorter one isn't, and the last tape may come out shorter than allowed), the shortest path is.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from geoagro.arrays import Bools, Floats, Ints

# Costs of the shortest path, each outweighing all that comes after it: a tape off the row, a spacing below
# the minimum, one more stake (with what the caller adds for its place), how short a short one is, uneven spacing.
_OFF_TAPE, _TOO_SHORT, _ONE_STAKE, _HOW_SHORT, _UNEVEN = 1e9, 1e5, 1.0, 1e-2, 1e-8
_NOWHERE_M = 1e12  # station of points that only fill up


@dataclass(frozen=True, eq=False)
class Chain:
    """Points along one curve, in order.

    Attributes
    ----------
    xy
        Shape (n, 2), metres; every vertex of the curve is among them.
    station
        Distance along the curve, rising.
    fixed
        Where a stake must stand; the first and the last point always.
    extra
        What a stake here costs beside 1; small amounts choose among equally many stakes.
    """

    xy: Floats
    station: Floats
    fixed: Bools
    extra: Floats


def mid_ordinate(chord_m: float, radius_m: float) -> float:
    """Farthest distance between an arc and its chord: M = R - sqrt(R^2 - c^2 / 4), about c^2 / (8 R).

    >>> mid_ordinate(8.0, 5.0)
    2.0
    """
    return float(radius_m - np.sqrt(radius_m**2 - chord_m**2 / 4))


def longest_chord(tolerance_m: float, radius_m: float) -> float:
    """Longest chord whose mid-ordinate is `tolerance_m`: the inverse of `mid_ordinate`.

    >>> round(mid_ordinate(longest_chord(0.05, 20.0), 20.0), 9)
    0.05
    """
    return float(2 * np.sqrt(max(2 * radius_m * tolerance_m - tolerance_m**2, 0.0)))


def fewest_stakes(chains: list[Chain], *, tolerance_m: float, min_m: float, max_m: float) -> list[Ints]:
    """Choose the points of each chain that get a stake.

    Each solution has the fewest stakes of all that keep the tape within `tolerance_m` of the curve (both ways:
    no point of the curve is farther from the tape, nor of the tape from the curve) and the spacing within
    [min_m, max_m]. Where a curve is so tight that this can't be, spacing below `min_m` is taken before
    a tape off the curve. Among equals the cheapest places are taken, then the most even spacing.
    """
    if not chains:
        return []
    size = np.array([len(chain.station) for chain in chains])
    pad = _Padded(chains, int(size.max()))
    reach = _steps_within(pad, max_m)
    allowed = _tapes(pad, reach, tolerance_m)
    before = _shortest_path(pad, reach, allowed, min_m, max_m)
    return [_walk_back(before[k], n - 1) for k, n in enumerate(size)]


def off_tape(chain: Chain, stakes: Ints) -> Floats:
    """Measure how far the curve lies off the tape that ends at each stake; NaN at the first."""
    out = np.full(len(stakes), np.nan)
    if len(stakes) < 2:
        return out
    leg = np.clip(np.searchsorted(stakes, np.arange(len(chain.station)), side="right") - 1, 0, len(stakes) - 2)
    a, b = chain.xy[stakes[leg]], chain.xy[stakes[leg + 1]]
    along, to = b - a, chain.xy - a
    share = np.clip((to * along).sum(axis=1) / np.maximum((along**2).sum(axis=1), 1e-12), 0.0, 1.0)
    away = np.hypot(*(to - share[:, None] * along).T)
    out[1:] = np.maximum.reduceat(away, stakes[:-1])
    return out


class _Padded:
    """Chains as arrays of shape (chains, longest), filled up with points that nothing reaches."""

    def __init__(self, chains: list[Chain], longest: int) -> None:
        self.size = np.array([len(c.station) for c in chains])
        self.x = self._fill([c.xy[:, 0] for c in chains], longest, 0.0)
        self.y = self._fill([c.xy[:, 1] for c in chains], longest, 0.0)
        self.station = self._fill([c.station for c in chains], longest, _NOWHERE_M)
        self.fixed = self._fill([c.fixed for c in chains], longest, False)
        self.price = self._fill([_ONE_STAKE + np.where(c.fixed, 0.0, c.extra) for c in chains], longest, 0.0)

    @staticmethod
    def _fill(parts: list, longest: int, value: float | bool):  # type: ignore[no-untyped-def, type-arg]
        out = np.full((len(parts), longest), value)
        for row, part in zip(out, parts, strict=True):
            row[: len(part)] = part
        return out


def _steps_within(pad: _Padded, max_m: float) -> int:
    """Most points that lie within `max_m` after any point."""
    most = 1
    for station, n in zip(pad.station, pad.size, strict=True):
        ends = np.searchsorted(station[:n], station[:n] + max_m + 1e-9, side="right")
        most = max(most, int((ends - np.arange(n)).max()) - 1)
    return most


def _tapes(pad: _Padded, reach: int, tolerance_m: float) -> Bools:
    """Whether point k of chain c can be joined with the point `step` further on: out[step, c, k]."""
    allowed = np.zeros((reach + 1, *pad.x.shape), dtype=bool)
    ahead = np.zeros_like(pad.x)
    ahead[:, :-1] = np.arctan2(np.diff(pad.y, axis=1), np.diff(pad.x, axis=1))
    low, high = np.full_like(pad.x, -np.pi), np.full_like(pad.x, np.pi)
    farthest = np.zeros_like(pad.x)
    for step in range(1, min(reach, pad.x.shape[1] - 1) + 1):
        dx, dy = pad.x[:, step:] - pad.x[:, :-step], pad.y[:, step:] - pad.y[:, :-step]
        here = (slice(None), slice(0, dx.shape[1]))
        away = np.hypot(dx, dy)
        turn = np.angle(np.exp(1j * (np.arctan2(dy, dx) - ahead[here])))
        inside = (turn >= low[here] - 1e-12) & (turn <= high[here] + 1e-12)
        allowed[step][here] = inside & (farthest[here] <= away + tolerance_m)
        half = np.where(away > tolerance_m, np.arcsin(np.minimum(tolerance_m / np.maximum(away, 1e-12), 1.0)), np.pi)
        low[here] = np.maximum(low[here], turn - half)
        high[here] = np.minimum(high[here], turn + half)
        farthest[here] = np.maximum(farthest[here], away)
    return allowed


def _shortest_path(pad: _Padded, reach: int, allowed: Bools, min_m: float, max_m: float) -> Ints:
    """Point that the best path comes from, for each point: out[c, k]; all chains are stepped together."""
    chains, longest = pad.x.shape
    best = np.full((chains, longest), np.inf)
    best[:, 0] = 0.0
    before = np.zeros((chains, longest), dtype=np.int64)
    row = np.arange(chains)
    last_fixed = _last_before(pad.fixed)
    for k in range(1, longest):
        j = np.arange(max(0, k - reach), k)
        length = pad.station[:, k, None] - pad.station[:, j]
        tape = allowed[k - j, :, j].T
        usable = (length <= max_m + 1e-9) & (j >= last_fixed[:, k, None]) & (tape | (j == k - 1))
        short = (length < min_m - 1e-9) & ~(pad.fixed[:, j] & pad.fixed[:, k, None])
        cost = best[:, j] + _OFF_TAPE * ~tape + _UNEVEN * (length / max_m) ** 2
        cost += short * (_TOO_SHORT + _HOW_SHORT * (1 - length / min_m) ** 2)
        cost = np.where(usable, cost, np.inf)
        choice = cost.argmin(axis=1)
        best[:, k] = cost[row, choice] + pad.price[:, k]
        before[:, k] = j[choice]
    return before


def _last_before(flags: Bools) -> Ints:
    """Index of the last True before each column (0 where there is none)."""
    index = np.where(flags, np.arange(flags.shape[1]), 0)
    out = np.zeros(flags.shape, dtype=np.int64)
    out[:, 1:] = np.maximum.accumulate(index, axis=1)[:, :-1]
    return out


def _walk_back(before: Ints, end: int) -> Ints:
    path = [end]
    while path[-1] > 0:
        path.append(int(before[path[-1]]))
    return np.array(path[::-1], dtype=np.int64)
