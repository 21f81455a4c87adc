"""Heights and gradients read from grids at many points, several layers in one compiled pass."""

from __future__ import annotations

import numpy as np

from geoagro.arrays import Floats
from geoagro.planar.compiled import compiled
from geoagro.values.grid import Grid

Frame = tuple[float, float, float]


def frame_of(grid: Grid) -> Frame:
    """West and north edge of a grid, and the width of its cells, metres."""
    return float(grid.west), float(grid.north), float(grid.cell_m)


def heights_at(grid: Grid, xy: Floats) -> Floats:
    """Do what `Grid.sample` does: bilinear values at points (n, 2), NaN off the grid and beside unknown cells."""
    out = np.empty(len(xy))
    _sampled(grid.values, frame_of(grid), xy, out)
    return out


@compiled
def _corner(at: float, count: int) -> tuple[int, int, float]:
    """Cells before and after a fractional place, and the share of the way between; the edge value holds beyond."""
    place = min(max(at, 0.0), count - 1.0)
    before = int(place)
    return before, min(before + 1, count - 1), place - before


@compiled
def _sampled(values: Floats, frame: Frame, xy: Floats, out: Floats) -> None:
    west, north, cell_m = frame
    rows, columns = values.shape
    for k in range(len(xy)):
        r, c = (north - xy[k, 1]) / cell_m - 0.5, (xy[k, 0] - west) / cell_m - 0.5
        if not (-0.5 <= r <= rows - 0.5 and -0.5 <= c <= columns - 0.5):
            out[k] = np.nan
            continue
        i, i_next, down = _corner(r, rows)
        j, j_next, across = _corner(c, columns)
        upper = (1 - across) * values[i, j] + across * values[i, j_next]
        lower = (1 - across) * values[i_next, j] + across * values[i_next, j_next]
        out[k] = (1 - down) * upper + down * lower


@compiled
def rises(
    layers: tuple[Floats, Floats, Floats], frame: Frame, xy: Floats, normal: Floats, out: tuple[Floats, Floats]
) -> None:
    """Write heights at points, and how they change per metre along `normal`, into `out`.

    `layers` are heights and their change per metre east and north; beyond the grid its edge value holds.
    """
    height, east, north_layer = layers
    z, rise = out
    west, north, cell_m = frame
    rows, columns = height.shape
    for k in range(len(xy)):
        i, i_next, down = _corner((north - xy[k, 1]) / cell_m - 0.5, rows)
        j, j_next, across = _corner((xy[k, 0] - west) / cell_m - 0.5, columns)
        a, b = (1 - down) * (1 - across), (1 - down) * across
        c, d = down * (1 - across), down * across
        z[k] = a * height[i, j] + b * height[i, j_next] + c * height[i_next, j] + d * height[i_next, j_next]
        toward_east = a * east[i, j] + b * east[i, j_next] + c * east[i_next, j] + d * east[i_next, j_next]
        toward_north = (
            a * north_layer[i, j]
            + b * north_layer[i, j_next]
            + c * north_layer[i_next, j]
            + d * north_layer[i_next, j_next]
        )
        rise[k] = toward_east * normal[k, 0] + toward_north * normal[k, 1]
