"""Heights along rows: where they fall, where water would stand, how far it runs one way."""

from __future__ import annotations

from dataclasses import dataclass

import geopandas as gpd
import numpy as np
from shapely import LineString

from geoagro.arrays import Floats, Ints
from geoagro.planar import dents
from geoagro.planar.polylines import Polylines
from geoagro.values.grid import Grid


@dataclass(frozen=True, eq=False)
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

    def low_points(self, least_m: float = dents.RIPPLE_M) -> tuple[Ints, Floats]:
        """Stations (index) of inner low points, and how deep each lies below the lower of its two passes, m."""
        return dents.low_points(self.z_m, least_m)

    def turns(self, least_m: float = dents.RIPPLE_M) -> Ints:
        """Stations (index) at which water turns round: both ends, low points and the heights between them."""
        return dents.turns(self.z_m, least_m)


def row_profiles(rows: gpd.GeoDataFrame, surface: Grid, slope: Grid) -> list[Profile]:
    """Read the surface along rows (layer TREE_ROWS) every metre or a little less; stations divide a row evenly.

    A row of which part lies where no height is known is left out from there on: only its known beginning is read.
    """
    read = dents.heights_along(Polylines.read(rows.geometry.to_numpy()), surface.sample)
    steep = np.nan_to_num(slope.sample(read.xy[:, 0], read.xy[:, 1]))
    numbers = rows["row"].to_numpy()
    return [
        Profile(int(numbers[k]), read.station_m[part], read.z_m[part], read.xy[part], steep[part])
        for k, part in read.parts
    ]


def lines_between(profile: Profile, first: int, last: int) -> LineString:
    """Piece of a row between two stations (index), as LineString."""
    return LineString(profile.xy[first : last + 1])
