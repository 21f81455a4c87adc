"""Areas that discs and sectors of discs share: closed form for two discs, rays with Gauss points otherwise."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from geoagro.arrays import Floats, Ints

Pair = tuple[Floats, Floats]

_RAYS = 48
_CHUNK = 20_000
_FULL = 359.999


@dataclass(frozen=True, eq=False)
class Zones:
    """Discs, and sectors of discs whose tip is the middle.

    Attributes
    ----------
    x, y
        The middle, metres.
    reach
        Radius, metres.
    bearing_deg
        Bearing of the sector's middle line; NaN for a disc.
    opening_deg
        Angle between the sector's sides; taken as 360 where the azimuth is NaN.
    """

    x: Floats
    y: Floats
    reach: Floats
    bearing_deg: Floats
    opening_deg: Floats

    def __len__(self) -> int:
        return len(self.x)

    def take(self, index: Any) -> Zones:
        """Only the zones at these places."""
        return Zones(**{f.name: getattr(self, f.name)[index] for f in fields(self)})

    def scaled(self, share: float | Floats) -> Zones:
        """Multiply every reach, as for younger plants."""
        return replace(self, reach=self.reach * share)

    def facing(self, bearing_deg: Floats) -> Zones:
        """Turn every zone to another bearing."""
        return replace(self, bearing_deg=bearing_deg)

    @property
    def is_disc(self) -> NDArray[np.bool_]:
        """True where the zone reaches all round."""
        return np.isnan(self.bearing_deg) | (self.opening_deg >= _FULL)

    @property
    def half(self) -> Floats:
        """Half the opening, radians."""
        return np.where(self.is_disc, np.pi, np.radians(self.opening_deg) / 2)

    @property
    def area(self) -> Floats:
        """Square metres."""
        return self.half * self.reach**2

    def holds(self, x: Floats, y: Floats) -> NDArray[np.bool_]:
        """Say for each zone whether it holds its own point (arrays of the zones' length, or (n, k) points)."""
        extra = (slice(None),) + (None,) * (np.ndim(x) - 1)
        dx, dy = x - self.x[extra], y - self.y[extra]
        held: NDArray[np.bool_] = dx**2 + dy**2 <= self.reach[extra] ** 2
        some = np.flatnonzero(~self.is_disc)
        if len(some):
            axis = np.radians(self.bearing_deg[some])[extra]
            dx, dy = dx[some], dy[some]
            ahead = dx * np.sin(axis) + dy * np.cos(axis)
            held[some] &= ahead >= np.cos(self.half[some])[extra] * np.hypot(dx, dy) - 1e-12
        return held


def lens_area(distance: Floats, a: Floats, b: Floats) -> Floats:
    """Area that two discs with radii a and b share, their middles `distance` apart (closed form).

    >>> round(float(lens_area(np.array([1.0]), np.array([1.0]), np.array([1.0]))[0]), 6)
    1.22837
    """
    distance, a, b = np.broadcast_arrays(distance, a, b)
    small, large = np.minimum(a, b), np.maximum(a, b)
    d = np.clip(distance, large - small, large + small)
    d_safe, small_safe, large_safe = (np.where(v > 0, v, 1.0) for v in (d, small, large))
    at_small = np.arccos(np.clip((d**2 + small**2 - large**2) / (2 * d_safe * small_safe), -1, 1))
    at_large = np.arccos(np.clip((d**2 + large**2 - small**2) / (2 * d_safe * large_safe), -1, 1))
    kite = (-d + small + large) * (d + small - large) * (d - small + large) * (d + small + large)
    lens = small**2 * at_small + large**2 * at_large - 0.5 * np.sqrt(np.maximum(kite, 0.0))
    inside = distance <= large - small
    area: Floats = np.where(inside, np.pi * small**2, np.where(distance >= a + b, 0.0, lens))
    return area


def shared_area(a: Zones, b: Zones, *, rays: int = _RAYS) -> Floats:
    """Area that zone i of `a` shares with zone i of `b`, square metres.

    Two discs: closed form. Otherwise rays from a sector's tip, each cut by the other zone in closed form, summed
    with Gauss-Legendre weights over the angle. Error against polygons, as a share of the smaller zone, over 5,000
    random pairs: at most 1.2 % with the 48 rays of the default (99 % of pairs below 0.2 %), 3.1 % with 24 (0.8 %).
    """
    area = np.zeros(len(a))
    distance = np.hypot(b.x - a.x, b.y - a.y)
    near = distance < a.reach + b.reach
    discs = near & a.is_disc & b.is_disc
    area[discs] = lens_area(distance[discs], a.reach[discs], b.reach[discs])
    rest = np.flatnonzero(near & ~discs)
    for start in range(0, len(rest), _CHUNK):
        part = rest[start : start + _CHUNK]
        area[part] = _by_rays(a.take(part), b.take(part), rays)
    return area


def _by_rays(a: Zones, b: Zones, rays: int) -> Floats:
    """Sum over rays from the tip of the narrower zone of each pair, over the angle in which it sees the other."""
    swap = a.half > b.half
    tip, other = _choose(swap, b, a), _choose(swap, a, b)
    dx, dy = other.x - tip.x, other.y - tip.y
    distance = np.hypot(dx, dy)
    axis = np.radians(tip.bearing_deg)
    toward = (np.arctan2(dx, dy) - axis + np.pi) % (2 * np.pi) - np.pi
    seen = distance > other.reach
    width = np.where(seen, np.arcsin(np.where(seen, other.reach / np.where(seen, distance, 1.0), 1.0)), np.pi)
    toward = np.where(seen, toward, 0.0)
    area = np.zeros(len(tip))
    for turn in (0.0, -2 * np.pi, 2 * np.pi):
        low = np.maximum(toward - width + turn, -tip.half)
        high = np.minimum(toward + width + turn, tip.half)
        some = np.flatnonzero(high > low)
        if len(some):
            area[some] += _window(tip.take(some), other.take(some), low[some], high[some], rays)
    return area


def _choose(swap: NDArray[np.bool_], yes: Zones, no: Zones) -> Zones:
    return Zones(**{f.name: np.where(swap, getattr(yes, f.name), getattr(no, f.name)) for f in fields(Zones)})


def _window(tip: Zones, other: Zones, low: Floats, high: Floats, rays: int) -> Floats:
    node, weight = np.polynomial.legendre.leggauss(rays)
    middle, span = (low + high) / 2, (high - low) / 2
    angle = np.radians(tip.bearing_deg)[:, None] + middle[:, None] + span[:, None] * node
    ux, uy = np.sin(angle), np.cos(angle)
    dx, dy = (other.x - tip.x)[:, None], (other.y - tip.y)[:, None]
    along = ux * dx + uy * dy
    root = np.sqrt(np.maximum(other.reach[:, None] ** 2 - dx**2 - dy**2 + along**2, 0.0))
    first = np.maximum(along - root, 0.0)
    last = np.minimum(along + root, tip.reach[:, None])
    area: Floats = span * np.sum(weight * _in_wedge(other, (ux, uy), (dx, dy), first, last), axis=1)
    return area


def _in_wedge(other: Zones, u: Pair, d: Pair, first: Floats, last: Floats) -> Floats:
    """Half of (outer radius squared - inner radius squared) of each ray inside the other zone's opening."""
    whole = _ring(first, last)
    if bool(np.all(other.is_disc)):
        return whole
    wide = other.half > np.pi / 2
    half = np.where(wide, np.pi - other.half, other.half)[:, None]
    axis = (np.radians(np.where(other.is_disc, 0.0, other.bearing_deg)) + np.where(wide, np.pi, 0.0))[:, None]
    for side in (1.0, -1.0):
        inward = -side * np.cos(axis + side * half), side * np.sin(axis + side * half)
        first, last = _beyond(inward, u, d, first, last)
    cut = _ring(first, last)
    part: Floats = np.where(other.is_disc[:, None], whole, np.where(wide[:, None], whole - cut, cut))
    return part


def _beyond(n: Pair, u: Pair, d: Pair, first: Floats, last: Floats) -> Pair:
    """Keep the part of each ray with n . (ray - d) >= 0."""
    rate = n[0] * u[0] + n[1] * u[1]
    level = n[0] * d[0] + n[1] * d[1]
    flat = np.abs(rate) < 1e-12
    at = level / np.where(flat, 1.0, rate)
    first = np.where(~flat & (rate > 0), np.maximum(first, at), first)
    last = np.where(~flat & (rate < 0), np.minimum(last, at), last)
    last = np.where(flat & (level > 0), first, last)
    return first, last


def _ring(first: Floats, last: Floats) -> Floats:
    ring: Floats = 0.5 * np.maximum(last**2 - first**2, 0.0) * (last > first)
    return ring


def sample_points(zones: Zones, count: int) -> tuple[Floats, Floats]:
    """Points (n, count) spread evenly by area over each zone, the same pattern in all (golden-ratio spiral)."""
    k: Ints = np.arange(count)
    radius = np.sqrt((k + 0.5) / count) * zones.reach[:, None]
    turn = ((k * 0.6180339887498949) % 1.0 * 2 - 1) * zones.half[:, None]
    axis = np.radians(np.where(zones.is_disc, 0.0, zones.bearing_deg))[:, None]
    return zones.x[:, None] + radius * np.sin(axis + turn), zones.y[:, None] + radius * np.cos(axis + turn)
