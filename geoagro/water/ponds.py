"""Water standing along one row behind its ridge or in its ditch: filled, joined, run over."""

from __future__ import annotations

from collections.abc import Iterator
from copy import copy
from dataclasses import dataclass, replace
from itertools import pairwise
from operator import itemgetter

import numpy as np

from geoagro.arrays import Floats, Ints
from geoagro.values.rules.water import Ridge
from geoagro.water.row_profiles import Profile

_ENDS = ("first end", "last end")
"""Gates at the open ends of a row."""
_FULL = 1e-9
"""Water (m3) that counts as nothing."""
_LEAST_SLOPE = 0.01
"""On flatter ground a ridge is taken to hold what it would hold at 1 %: on level ground it would seem to hold a lake."""
_HALVINGS = 50


@dataclass(frozen=True)
class Spill:
    """Water that leaves a row: over the ridge at a station, or out of an open end."""

    at: int
    volume_m3: float
    over_end: bool


@dataclass
class _Pond:
    """Stations first..last share one water level; it can rise to `level` before water leaves at `gate`.

    Gates in `shut` are under water that stands outside as well: nothing leaves there. Were `gate` shut too, the level
    could rise to `next_level` (infinite where no other gate is left).
    """

    first: int
    last: int
    low: int
    level: float
    gate: str
    room_m3: float
    shut: frozenset[str] = frozenset()
    next_level: float = np.inf
    volume_m3: float = 0.0

    @property
    def excess_m3(self) -> float:
        return self.volume_m3 - self.room_m3

    @property
    def full(self) -> bool:
        return self.excess_m3 >= -_FULL


class RowPonds:
    """The ponds along one row. Water is added at stations; `settle` moves what doesn't fit.

    A pond's level is held by the lower of three: the pass to the pond on either side (or the row's open end), and the
    ridge's top, which is lowest over the pond's lowest station.
    """

    def __init__(self, profile: Profile, ridge: Ridge) -> None:
        self._profile, self._ridge = profile, ridge
        low, _ = profile.low_points()
        self._low = _with_falling_ends(profile.z_m, low)
        self._pass = [a + int(np.argmax(profile.z_m[a : b + 1])) for a, b in pairwise(self._low)]
        cuts = [0, *self._pass, len(profile.z_m) - 1]
        self._ponds = [self._pond(a, b) for a, b in pairwise(cuts)]
        self._first = [replace(pond) for pond in self._ponds]

    def emptied(self) -> RowPonds:
        """Give the same row without any water, its ponds parted as at first."""
        other = copy(self)
        other._ponds = [replace(pond, volume_m3=0.0) for pond in self._first]
        return other

    @property
    def lowest(self) -> list[int]:
        """Stations (index) at which water can stand."""
        return self._low

    @property
    def held_m3(self) -> float:
        """Water that stands along the row."""
        return float(sum(pond.volume_m3 for pond in self._ponds))

    def room_at(self, station: int) -> float:
        """Water that the pond of a station holds before it leaves, m3."""
        return self._pond_of(station).room_m3

    def held_at(self, station: int) -> float:
        """Water that stands in the pond of a station, m3."""
        return self._pond_of(station).volume_m3

    def gate_at(self, station: int) -> tuple[str, float]:
        """Tell what holds the level of the pond of a station ("left", "right", "ridge", "first end", "last end") and that level, m."""
        pond = self._pond_of(station)
        return pond.gate, pond.level

    def way_out(self, station: int) -> tuple[list[int], int] | None:
        """Follow water that arrives at a station through full ponds until it leaves the row.

        Returns the low stations of the ponds on its way and the station where it leaves; None where it finds room.
        """
        pond, on_the_way = self._pond_of(station), []
        while pond.full:
            on_the_way.append(pond.low)
            if pond.gate == "ridge":
                return on_the_way, pond.low
            place = self._ponds.index(pond)
            if pond.gate in _ENDS:
                return on_the_way, self._end(pond)
            pond = self._ponds[place + (1 if pond.gate == "right" else -1)]
            if pond.low in on_the_way:
                return None
        return None

    def next_level(self, station: int) -> float:
        """Level (m) to which the pond of a station could rise if nothing left at its gate; infinite without another."""
        return self._pond_of(station).next_level

    def shut_gate(self, station: int) -> None:
        """Close the gate of a station's pond, as what leaves there comes back: its level rises to the next gate."""
        pond = self._pond_of(station)
        place = self._ponds.index(pond)
        raised = self._pond(pond.first, pond.last, pond.shut | {pond.gate})
        raised.volume_m3 = pond.volume_m3
        self._ponds[place] = raised

    def add(self, stations: Ints, volumes_m3: Floats) -> list[Spill]:
        """Pour water in at stations (index) and let it settle; gives what leaves the row, in the order it leaves."""
        place = np.searchsorted([pond.last for pond in self._ponds], stations)
        poured = np.bincount(place, weights=volumes_m3, minlength=len(self._ponds))
        for pond, volume in zip(self._ponds, poured.tolist(), strict=True):
            pond.volume_m3 += volume
        spills: list[Spill] = []
        while (over := next((p for p in self._ponds if p.excess_m3 > _FULL), None)) is not None:
            spilled = self._let_out(over)
            if spilled:
                spills.append(spilled)
        return spills

    def _let_out(self, pond: _Pond) -> Spill | None:
        excess = pond.excess_m3
        if pond.gate == "ridge" or pond.gate in _ENDS:
            pond.volume_m3 = pond.room_m3
            over_end = pond.gate in _ENDS
            return Spill(self._end(pond) if over_end else pond.low, excess, over_end=over_end)
        other = self._ponds[self._ponds.index(pond) + (1 if pond.gate == "right" else -1)]
        back = "left" if pond.gate == "right" else "right"
        if other.full and other.gate == back:
            self._join(pond, other)
        else:
            pond.volume_m3 = pond.room_m3
            other.volume_m3 += excess
        return None

    @staticmethod
    def _end(pond: _Pond) -> int:
        return pond.first if pond.gate == "first end" else pond.last

    def _join(self, one: _Pond, other: _Pond) -> None:
        left, right = sorted((one, other), key=lambda pond: pond.first)
        place = self._ponds.index(left)
        joined = self._pond(left.first, right.last, (left.shut | right.shut) & {*_ENDS})
        joined.volume_m3 = left.volume_m3 + right.volume_m3
        self._ponds[place : place + 2] = [joined]

    def _pond_of(self, station: int) -> _Pond:
        return next(pond for pond in self._ponds if pond.first <= station <= pond.last)

    def _pond(self, first: int, last: int, shut: frozenset[str] = frozenset()) -> _Pond:
        z = self._profile.z_m
        low = first + int(np.argmin(z[first : last + 1]))
        gates = sorted((g for g in self._gates(first, last, low) if g[0] not in shut), key=itemgetter(1))
        gate, level = gates[0]
        following = gates[1][1] if len(gates) > 1 else np.inf
        return _Pond(first, last, low, level, gate, self._holds(first, last, level), shut, following)

    def _gates(self, first: int, last: int, low: int) -> Iterator[tuple[str, float]]:
        z, open_ends = self._profile.z_m, self._ridge.ends == "open"
        yield "ridge", float(z[low]) + self._ridge.height_m
        if first > 0 or open_ends:
            yield ("left" if first > 0 else "first end"), float(z[first])
        if last < len(z) - 1 or open_ends:
            yield ("right" if last < len(z) - 1 else "last end"), float(z[last])

    def _holds(self, first: int, last: int, level: float) -> float:
        """Water along stations first..last up to a level, m3; the station at a pass belongs half to each side."""
        part = slice(first, last + 1)
        depth = level - self._profile.z_m[part]
        share = np.full(last - first + 1, self._profile.step_m)
        share[[0, -1]] /= 2
        return float((water_section_m2(depth, self._profile.slope[part], self._ridge) * share).sum())


def _with_falling_ends(z: Floats, low: Ints) -> list[int]:
    """Low points, and the row's ends where the row falls toward them."""
    stations: list[int] = low.tolist()
    first = stations[0] if stations else len(z) - 1
    last = stations[-1] if stations else 0
    if not stations:
        return [int(np.argmin(z))] if not _hump(z) else [0, len(z) - 1]
    if int(np.argmax(z[: first + 1])) > 0 and z[0] < z[: first + 1].max():
        stations = [0, *stations]
    if int(np.argmax(z[last:])) < len(z) - 1 - last and z[-1] < z[last:].max():
        stations = [*stations, len(z) - 1]
    return stations


def _hump(z: Floats) -> bool:
    """Tell whether a row without low points falls from within toward both ends."""
    top = float(z.max())
    return bool(z[0] < top - _FULL and z[-1] < top - _FULL)


def water_section_m2(depth_m: Floats, slope: Floats, ridge: Ridge) -> Floats:
    """Cross section of the water along a row, m2, by depth (m) over the row's own ground and slope (ratio) across it.

    Behind a ridge: a triangle between its bank and the ground above. In a ditch: a trapezoid (both banks alike).
    """
    depth = np.clip(depth_m, 0.0, ridge.height_m)
    if ridge.kind == "ditch":
        ditch: Floats = depth * (ridge.bottom_m + depth * ridge.bank)
        return ditch
    triangle: Floats = depth**2 / 2 * (1.0 / np.maximum(slope, _LEAST_SLOPE) + ridge.bank)
    return triangle
