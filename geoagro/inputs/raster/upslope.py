"""Heights beyond the field: as far upslope as the raster goes, for water that comes from there."""

from __future__ import annotations

from geoagro.inputs.raster.file import read_window
from geoagro.inputs.raster.grid import to_grid
from geoagro.inputs.raster.heights import heights_in_metres
from geoagro.values.design import Design
from geoagro.values.grid import Grid
from geoagro.values.site import Site


def read_heights_around(design: Design, site: Site, margin_m: float) -> Grid | None:
    """Read the elevation of a design up to `margin_m` around the field, in the working CRS.

    Cells beyond the raster are unknown (NaN). None where the design's ground isn't an elevation raster: contour lines
    and slopes are read around the field only.

    Raises
    ------
    InputError, CrsError
        As `read_ground_source` does.
    """
    source = design.inputs.elevation
    if source is None:
        return None
    key = "inputs.elevation"
    west, south, east, north = site.boundary.bounds
    bounds = (west - margin_m, south - margin_m, east + margin_m, north + margin_m)
    window = read_window(source, key=key, folder=design.folder, bounds=bounds, crs=site.crs)
    window = heights_in_metres(window, source.unit, key=key)
    grid, _ = to_grid(window, bounds=bounds, core=site.boundary.bounds, crs=site.crs, order=3)
    return grid
