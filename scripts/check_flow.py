"""Compare the ground above each cell with a reference library, landlab (MIT), on any elevation raster.

Run by hand: landlab isn't among the project's dependencies, `pip install landlab` in an environment of its own.

usage: python scripts/check_flow.py RASTER [RASTER ...]

Both get the same heights, as `geoagro water` fills them. The library's own way down (steepest of eight neighbours) and its
own sums are compared cell by cell. Where two neighbours are equally steep, or ground was filled level, each side may choose
any way; below such ground sums may differ, and are compared as ratios on lines of gathered flow.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import rasterio
from landlab import RasterModelGrid
from landlab.components import FlowAccumulator
from pyproj import CRS
from scipy import ndimage

from geoagro.arrays import Floats, Ints
from geoagro.values.grid import Grid
from geoagro.water.flow import Flow, flow_over

GATHERED_M2 = 5000.0
TILT_M = 1e-9
"""Rise per cell that filled ground gets on its way out: the library leaves water standing on level ground."""


def read(path: Path) -> Grid:
    """Read the first band of a raster with square cells."""
    with rasterio.open(path) as file:
        z = file.read(1, masked=True).filled(np.nan).astype(float)
        return Grid(z, file.bounds.left, file.bounds.top, file.res[0], CRS.from_user_input(file.crs))


def reference(flow: Flow) -> tuple[Ints, Floats]:
    """Give the library's receiver and drained area of each cell, numbered as ours."""
    steps = _steps(flow.onward).reshape(flow.surface.values.shape)
    z = np.flipud(flow.surface.values + steps * TILT_M)
    grid = RasterModelGrid(z.shape, xy_spacing=flow.surface.cell_m)
    heights = grid.add_field("topographic__elevation", np.where(np.isnan(z), -9999.0, z).ravel(), at="node")
    grid.set_nodata_nodes_to_closed(heights, -9999.0)
    FlowAccumulator(grid, flow_director="FlowDirectorD8").run_one_step()
    number = np.flipud(np.arange(z.size).reshape(z.shape)).ravel()  # ours, for each of the library's nodes
    receiver = np.empty(z.size, dtype=np.intp)
    receiver[number] = number[grid.at_node["flow__receiver_node"]]
    area = np.empty(z.size)
    area[number] = grid.at_node["drainage_area"]
    return receiver, area


def main(paths: list[str]) -> None:
    """Print one line of agreement for each raster."""
    for path in paths:
        flow = flow_over(read(Path(path)))
        receiver, area = reference(flow)
        print(f"{Path(path).name}: {agreement(flow, receiver, area)}")


def agreement(flow: Flow, receiver: Ints, area: Floats) -> str:
    """Tell how far ways down and sums agree; the library counts no ground on the outermost ring of cells."""
    known = np.isfinite(flow.surface.values)
    inner = (ndimage.minimum_filter(known, size=3, mode="constant") > 0).ravel()
    falls = inner & (receiver != np.arange(flow.onward.size))
    ours, theirs = _fall(flow, flow.onward), _fall(flow, receiver)
    same = flow.onward == receiver
    as_steep = np.abs(ours - theirs) <= 1e-7
    counted, one = summed(flow.onward, inner.astype(float)), flow.surface.cell_m**2
    over_edge = np.bincount(flow.onward[inner], minlength=len(inner)).astype(bool) & ~inner  # the library stops there
    strange = ((inner & ~(falls & same)) | over_edge).astype(float)
    alike = falls & (summed(flow.onward, strange) == 0) & (summed(receiver, strange) == 0)
    gathered = falls & (area >= GATHERED_M2)
    low, middle, high = np.percentile(counted[gathered] * one / area[gathered], [5, 50, 95])
    return (
        f"{falls.sum():,} cells fall: {same[falls].mean():.3%} the same way, {as_steep[falls].mean():.3%} as steeply; "
        f"{alike.sum():,} have only such ways above them: sums differ by {np.abs(counted - area / one)[alike].max():.2f} cells "
        f"at most; {gathered.sum():,} cells gather {GATHERED_M2:,.0f} m2 or more: ratio of sums {low:.3f} / {middle:.3f} / {high:.3f} "
        f"(5 %, median, 95 %)"
    )


def _fall(flow: Flow, onward: Ints) -> Floats:
    z, width = flow.surface.values.ravel(), flow.surface.values.shape[1]
    here = np.arange(len(onward))
    across = np.hypot(onward // width - here // width, onward % width - here % width)
    return np.asarray((z - z[onward]) / np.where(across > 0, across * flow.surface.cell_m, 1.0))


def summed(onward: Ints, weight: Floats) -> Floats:
    """Sum of the weights of each cell and all cells above it."""
    steps = _steps(onward)
    order = np.argsort(-steps, kind="stable")
    total = weight.copy()
    for level in np.split(order, np.flatnonzero(np.diff(steps[order])) + 1):
        moving = level[onward[level] != level]
        np.add.at(total, onward[moving], total[moving])
    return total


def _steps(onward: Ints) -> Ints:
    way, steps = onward.copy(), (onward != np.arange(len(onward))).astype(np.intp)
    for _ in range(32):
        further = steps + steps[way]
        if np.array_equal(further, steps):
            break
        steps, way = further, way[way]
    return steps


if __name__ == "__main__":
    main(sys.argv[1:])
