"""Directions that light comes from, seen across the rows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from geoagro.arrays import Floats, Ints
from geoagro.light.sun import MEAN_DAY, extraterrestrial_mj, position

DIFFUSE_SHARE = 0.5
"""Share of the light that comes from the whole sky: about the mean of many climates, from memory; a weather file knows
better."""

_LOWEST_DEG = 3.0
_STEP_H = 1.0
_ZENITHS, _AZIMUTHS = 7, 8
_LEVEL = 0.02


@dataclass(frozen=True, eq=False)
class Rays:
    """Parallel rays onto an endless alley.

    Attributes
    ----------
    shift
        Metres that a ray moves across, to the right of the rows' bearing, for each metre that it falls.
    path
        Metres of way for each metre of fall.
    weight
        Share of the light on open ground; they add up to 1.
    """

    shift: Floats
    path: Floats
    weight: Floats

    def sloped(self, fall: float) -> Rays:
        """See the same rays from ground that falls to the right by so many metres a metre.

        Heights are measured from the sloping ground; rays from behind it don't reach it.
        """
        meeting = 1 - self.shift * fall
        kept = meeting > _LEVEL
        f = meeting[kept]
        weight = self.weight[kept] * f
        return Rays(self.shift[kept] / f, self.path[kept] / f, weight / weight.sum())

    def only(self, which: Ints) -> Rays:
        """Take some of the rays, by their numbers."""
        return Rays(self.shift[which], self.path[which], self.weight[which])


@dataclass(frozen=True)
class Sky:
    """The light of a place: its latitude, and how much of it comes from the whole sky.

    `latitude_deg` None means that it isn't known: an even sky is taken, without a sun.
    """

    latitude_deg: float | None
    diffuse_share: float = DIFFUSE_SHARE

    def rays(self, months: Sequence[int], bearing_deg: float) -> Rays:
        """Rays of some calendar months together, weighed by their radiation; rows run to `bearing_deg`."""
        return _rays(self.latitude_deg, self.diffuse_share, tuple(months), round(bearing_deg % 360.0, 3))

    def year(self, bearing_deg: float, fall: float) -> tuple[Rays, Floats]:
        """Rays of all months on ground that falls to the right, each once, and their weights by month (12 x rays)."""
        parts = [_even_sky(bearing_deg)]
        if self.latitude_deg is not None:
            parts += [_sun(self.latitude_deg, month, bearing_deg) for month in range(1, 13)]
        sizes = np.cumsum([0, *(len(part.weight) for part in parts)])
        weights = np.zeros((12, sizes[-1]))
        weights[:, : sizes[1]] = parts[0].weight * (self.diffuse_share if len(parts) > 1 else 1.0)
        for month, part in enumerate(parts[1:]):
            weights[month, sizes[month + 1] : sizes[month + 2]] = part.weight * (1 - self.diffuse_share)
        shift, path = (np.concatenate([getattr(part, name) for part in parts]) for name in ("shift", "path"))
        meeting = 1 - shift * fall
        kept = meeting > _LEVEL
        f = meeting[kept]
        weights = weights[:, kept] * f
        weights /= weights.sum(axis=1, keepdims=True)
        return Rays(shift[kept] / f, path[kept] / f, weights.mean(axis=0)), weights

    def month_weight(self, month: int) -> float:
        """Radiation of a month's mean day above the atmosphere, MJ per m2; the same for all where the latitude isn't known."""
        return 1.0 if self.latitude_deg is None else extraterrestrial_mj(self.latitude_deg, MEAN_DAY[month - 1])

    @property
    def south(self) -> bool:
        """South of the equator."""
        return self.latitude_deg is not None and self.latitude_deg < 0


@cache
def _rays(latitude_deg: float | None, diffuse_share: float, months: tuple[int, ...], bearing_deg: float) -> Rays:
    diffuse = _even_sky(bearing_deg)
    if latitude_deg is None:
        return diffuse
    weights = np.array([extraterrestrial_mj(latitude_deg, MEAN_DAY[month - 1]) for month in months])
    direct = [_sun(latitude_deg, month, bearing_deg) for month in months]
    lit = [(rays, w) for rays, w in zip(direct, weights, strict=True) if len(rays.weight)]
    if not lit:
        return diffuse
    total = sum(w for _, w in lit)
    parts = [replace(rays, weight=rays.weight * (1 - diffuse_share) * w / total) for rays, w in lit]
    parts.append(replace(diffuse, weight=diffuse.weight * diffuse_share))
    return Rays(*(np.concatenate([getattr(part, name) for part in parts]) for name in ("shift", "path", "weight")))


def _seen(elevation: Floats, azimuth: Floats, weight: Floats, bearing_deg: float) -> Rays:
    h = np.radians(elevation)
    shift = -np.sin(np.radians(azimuth - bearing_deg)) / np.tan(h)
    return Rays(shift, 1 / np.sin(h), weight / weight.sum() if len(weight) else weight)


@cache
def _sun(latitude_deg: float, month: int, bearing_deg: float) -> Rays:
    """Sun of the month's mean day, hour by hour; the way through clear air takes 0.7^(m^0.678) (Meinel, from memory)."""
    hours = np.arange(_STEP_H / 2, 24, _STEP_H)
    elevation, azimuth = position(latitude_deg, MEAN_DAY[month - 1], hours)
    up = elevation > _LOWEST_DEG
    sine = np.sin(np.radians(elevation[up]))
    return _seen(elevation[up], azimuth[up], sine * 0.7 ** (sine**-0.678), bearing_deg)


def _even_sky(bearing_deg: float) -> Rays:
    """Rays from an evenly bright sky: 7 zeniths x 8 azimuths turned with the rows."""
    zenith = (np.arange(_ZENITHS) + 0.5) * 90.0 / _ZENITHS
    around = (np.arange(_AZIMUTHS) + 0.5) * 360.0 / _AZIMUTHS + bearing_deg
    z, a = (grid.ravel() for grid in np.meshgrid(zenith, around, indexing="ij"))
    weight = np.cos(np.radians(z)) * np.sin(np.radians(z))
    return _seen(90.0 - z, a, weight, bearing_deg)
