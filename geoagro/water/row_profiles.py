"""Heights along rows: where they fall, where water would stand, how far it runs one way."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from scipy.signal import find_peaks

from geoagro.arrays import Floats, Ints
from geoagro.planar.polylines import Polylines
from geoagro.values.grid import Grid

STEP_M = 1.0
RIPPLE_M = 0.02
"""Dents shallower than this are the survey's noise, not ground: water in them isn't told. Our own choice."""


@dataclass(frozen=True)
class Profile:
    """Heights at even steps along one row.

    Attributes
    ----------
    row
        Number of the row.
    station_m
        Metres from the row's start.
    z_m
        Height at each station, m.
    xy
        Shape (n, 2), metres.
    slope
        Steepness of the ground at each station, ratio.
    """

    row: int
    station_m: Floats
    z_m: Floats
    xy: Floats
    slope: Floats

    @property
    def step_m(self) -> float:
        """Distance between two stations, m."""
        return float(self.station_m[1] - self.station_m[0])

    @property
    def length_m(self) -> float:
        """Length of the row, m."""
        return float(self.station_m[-1])

    @property
    def weight_m(self) -> Floats:
        """Length of row that each station stands for, m; they add up to the row's length."""
        share = np.full(len(self.z_m), self.step_m)
        share[[0, -1]] /= 2
        return share

    def low_points(self, least_m: float = RIPPLE_M) -> tuple[Ints, Floats]:
        """Stations (index) of inner low points, and how deep each lies below the lower of its two passes, m."""
        low, found = find_peaks(-self.z_m, prominence=least_m)
        return low.astype(np.intp), np.asarray(found["prominences"], dtype=float)

    def turns(self, least_m: float = RIPPLE_M) -> Ints:
        """Stations (index) at which water turns round: both ends, low points and the heights between them."""
        low, _ = self.low_points(least_m)
        high, _ = find_peaks(self.z_m, prominence=least_m)
        last = len(self.z_m) - 1
        inner = np.union1d(low, high)
        kept = [0, *_alternating(self.z_m, inner), last]
        return np.unique(np.asarray(kept, dtype=np.intp))


def _alternating(z: Floats, turns: Ints) -> list[int]:
    """Of neighbours that turn the same way keep the more extreme one."""
    kept: list[int] = []
    for at in turns.tolist():
        if len(kept) >= 2 and (z[kept[-1]] - z[kept[-2]]) * (z[at] - z[kept[-1]]) > 0:
            kept[-1] = at
        else:
            kept.append(at)
    return kept


def row_profiles(rows: Any, surface: Grid, slope: Grid) -> list[Profile]:
    """Read the surface along rows (layer TREE_ROWS) every metre or a little less; stations divide a row evenly.

    A row of which part lies where no height is known is left out from there on: only its known beginning is read.
    """
    lines = Polylines.read(rows.geometry.to_numpy())
    count = np.maximum(np.ceil(lines.lengths / STEP_M).astype(int), 2) + 1
    owner = np.repeat(np.arange(len(lines)), count)
    place = np.arange(len(owner)) - np.repeat(np.cumsum(count) - count, count)
    station = place * np.repeat(lines.lengths / (count - 1), count)
    xy, _ = lines.locate(owner, station)
    z = surface.sample(xy[:, 0], xy[:, 1])
    steep = slope.sample(xy[:, 0], xy[:, 1])
    numbers = rows["row"].to_numpy()
    ends = np.cumsum(count)
    profiles = []
    for k, (a, b) in enumerate(zip(ends - count, ends, strict=True)):
        known = np.isfinite(z[a:b])
        stop = b if known.all() else a + int(np.argmin(known))
        if stop - a >= 3:
            part = slice(a, stop)
            profiles.append(Profile(int(numbers[k]), station[part], z[part], xy[part], np.nan_to_num(steep[part])))
    return profiles


def lines_between(profile: Profile, first: int, last: int) -> Any:
    """Piece of a row between two stations (index), as LineString."""
    return shapely.linestrings(profile.xy[first : last + 1])
