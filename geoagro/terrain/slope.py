"""Slope and aspect of a height grid after Horn 1981."""

from __future__ import annotations

import numpy as np

from geoagro.arrays import Floats
from geoagro.values.grid import Grid


def gradient(heights: Grid) -> tuple[Floats, Floats]:
    """Return dz/dx (east) and dz/dy (north), ratio; NaN where one of the 3 x 3 cells has no height.

    Horn, B.K.P. 1981, "Hill shading and the reflectance map", Proc. IEEE 69(1): 14-47: weighted differences
    1-2-1 over eight cell sizes.
    """
    z = np.pad(heights.values, 1, constant_values=np.nan)
    rows, columns = heights.values.shape

    def shifted(down: int, right: int) -> Floats:
        part: Floats = z[1 + down : 1 + down + rows, 1 + right : 1 + right + columns]
        return part

    east = shifted(-1, 1) + 2 * shifted(0, 1) + shifted(1, 1)
    west = shifted(-1, -1) + 2 * shifted(0, -1) + shifted(1, -1)
    north = shifted(-1, -1) + 2 * shifted(-1, 0) + shifted(-1, 1)
    south = shifted(1, -1) + 2 * shifted(1, 0) + shifted(1, 1)
    scale = 1 / (8 * heights.cell_m)
    return (east - west) * scale, (north - south) * scale


def slope_and_aspect(heights: Grid) -> tuple[Grid, Grid]:
    """Return slope (ratio) and aspect (downslope direction, degrees clockwise from grid north).

    Aspect is NaN on level cells, which fall nowhere.

    >>> z = Grid(np.repeat([[3.0], [2.0], [1.0]], 3, axis=1), 0.0, 3.0, 10.0, None)
    >>> slope, aspect = slope_and_aspect(z)
    >>> float(slope.values[1, 1]), float(aspect.values[1, 1])
    (0.1, 180.0)
    """
    dx, dy = gradient(heights)
    slope = np.hypot(dx, dy)
    aspect = np.degrees(np.arctan2(-dx, -dy)) % 360
    return heights.with_values(slope), heights.with_values(np.where(slope > 0, aspect, np.nan))
