"""Water on a layout."""

from __future__ import annotations

import numpy as np

from geoagro.inputs.raster.upslope import read_heights_around
from geoagro.terrain.drainage import coarsened
from geoagro.terrain.smoothing import smoothed
from geoagro.terrain.window import cells_in
from geoagro.values.base.doors import door
from geoagro.values.design import Design
from geoagro.values.grid import Grid
from geoagro.values.progress import Progress, silent
from geoagro.values.rows import TreeRows
from geoagro.values.site import Site
from geoagro.values.terrain import JUDGE_SIGMA_M, Terrain
from geoagro.water.analysis import water_on_rows
from geoagro.water.flow import flow_over
from geoagro.water.records.tables import WaterPlan

_FIRST_MARGIN_M = 60.0
_WIDER = 3.0
_MOST_CELLS = 6_000_000
"""More ground than this isn't looked at: its larger cells would no longer tell where a row is."""


@door
def water_of(design: Design, site: Site, rows: TreeRows, terrain: Terrain, *, progress: Progress = silent) -> WaterPlan:
    """Follow water from as far upslope as the elevation goes onto the rows of a layout, and along them.

    Raises
    ------
    LayoutError
        Where heights are unknown (a slope raster alone) or there are no rows.

    >>> from pathlib import Path
    >>> from geoagro import layout, water_of, write_example
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     laid = layout(write_example(Path(folder)))
    ...     water = water_of(laid.design, laid.site, laid.rows, laid.terrain)
    >>> len(water.row_water), len(water.low_points)  # nine straight rows along an even slope, without a dip
    (9, 0)
    """
    terrain.need_heights("following water")
    progress("water: reading the ground upslope", 0.0)
    surface = ground_upslope(design, site, terrain)
    return water_on_rows(
        surface,
        terrain.slope,
        rows,
        site.boundary,
        rule=design.water,
        outlets=site.outlets if site.outlets is not None else site.outlet,
        water_bodies=site.water_bodies,
        progress=progress,
    )


def ground_upslope(design: Design, site: Site, terrain: Terrain) -> Grid:
    """Heights from the field up to the divide, or as far as the raster goes; smoothed as rows are judged.

    The window grows until no water enters the field over its edge, the raster ends, or it holds too many cells.
    Where the ground isn't an elevation raster, what was read around the field is all there is.
    """
    _, near = terrain.need_heights("following water")
    near = terrain.judged if terrain.judged is not None else near
    margin, known = _FIRST_MARGIN_M, 0
    surface = near
    while True:
        heights = read_heights_around(design, site, margin)
        if heights is None or int(np.isfinite(heights.values).sum()) <= known:
            return surface
        known = int(np.isfinite(heights.values).sum())
        if heights.values.size > _MOST_CELLS and surface is not near:
            return surface
        surface = coarsened(smoothed(_without_gaps(heights, terrain), JUDGE_SIGMA_M), _MOST_CELLS)
        flow = flow_over(surface)
        if not flow.open_[cells_in(surface, site.boundary)].any():
            return surface
        margin *= _WIDER


def _without_gaps(heights: Grid, terrain: Terrain) -> Grid:
    """Fill what was filled around the field when the terrain was built."""
    missing = np.isnan(heights.values)
    if terrain.heights is None or not missing.any():
        return heights
    row, column = np.nonzero(missing)
    filled = heights.values.copy()
    filled[row, column] = terrain.heights.sample(heights.x[column], heights.y[row])
    return heights.with_values(filled)
