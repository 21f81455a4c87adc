"""Read the ground: heights, contour lines, or slope with or without aspect."""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely

from geoagro.crs import Bounds, name_of, to_lonlat
from geoagro.errors import InputError
from geoagro.inputs.crs_words import datum_doubt
from geoagro.inputs.raster.contour_file import read_contours
from geoagro.inputs.raster.doubts import aspect_doubts, height_doubts
from geoagro.inputs.raster.file import RasterWindow, read_window
from geoagro.inputs.raster.grid import to_grid
from geoagro.inputs.raster.heights import heights_in_metres
from geoagro.inputs.raster.slopes import aspect_on_grid, slope_as_ratio
from geoagro.values.base.findings import tell
from geoagro.values.design import ContourSource, Design, RasterSource
from geoagro.values.grid import Grid
from geoagro.values.site import Finding, Site
from geoagro.values.terrain import GroundSource
from geoagro.values.words import Sentence, say

MARGIN_M = 60.0
"""Ground read around the field, so that smoothing and contours don't end at its edge. Our own choice."""


def read_ground_source(design: Design, site: Site) -> GroundSource:
    """Read the ground of a design around the field, in the working CRS; doubts are warned of (FindingWarning).

    Raises
    ------
    InputError, CrsError
        With key and file, where the source is missing, lies elsewhere, or its unit can't be told.

    >>> from pathlib import Path
    >>> from geoagro import read_design, read_ground_source, read_site, write_example
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     design = read_design(write_example(Path(folder)))
    ...     heights = read_ground_source(design, read_site(design)).heights
    >>> step = np.diff(heights.values, axis=0)
    >>> print(heights.cell_m, np.nanmin(step).round(2), np.nanmax(step).round(2))  # southward, 8 % down
    10.0 -0.8 -0.8
    """
    source = _read_source(design, site)
    tell(source.findings)
    return source


def _read_source(design: Design, site: Site) -> GroundSource:
    given = design.inputs
    if given.elevation is not None:
        return _from_heights(design, site, given.elevation)
    if given.contours is not None:
        return _from_contours(design, site, given.contours)
    if given.slope is not None:
        return _from_slope(design, site, given.slope)
    raise InputError("inputs: give one of elevation, contours, slope.")


def _bounds(site: Site, margin: float) -> Bounds:
    west, south, east, north = site.boundary.bounds
    return west - margin, south - margin, east + margin, north + margin


def _read(design: Design, site: Site, source: RasterSource, key: str, *, average: bool = True) -> RasterWindow:
    bounds = _bounds(site, MARGIN_M)
    return read_window(source, key=key, folder=design.folder, bounds=bounds, crs=site.crs, average=average)


def _grid(window: RasterWindow, site: Site, *, order: int) -> tuple[Grid, tuple[Finding, ...]]:
    bounds, core = _bounds(site, MARGIN_M), _bounds(site, 0.0)
    grid, resampled = to_grid(window, bounds=bounds, core=core, crs=site.crs, order=order)
    _check_inside(window, grid, site)
    told = (resampled, *_datum_doubt(window, site)) if resampled else ()
    return grid, (*window.findings, *told)


def _datum_doubt(window: RasterWindow, site: Site) -> tuple[Finding, ...]:
    middle = site.boundary.representative_point()
    lon, lat = to_lonlat(middle.x, middle.y, site.crs)
    note = datum_doubt(window.crs, site.crs, lon=float(lon), lat=float(lat))
    return (Finding("warning", window.where, note),) if note else ()


def _check_inside(window: RasterWindow, grid: Grid, site: Site) -> None:
    """Refuse a raster that knows nothing inside the field (the extents met, the data don't)."""
    rows, columns = np.nonzero(np.isfinite(grid.values))
    if len(rows):
        west, north, cell = grid.x[columns.min()], grid.y[rows.min()], grid.cell_m
        known = shapely.box(west, grid.y[rows.max()], grid.x[columns.max()], north).buffer(cell / 2, join_style="mitre")
        if known.intersects(site.boundary):
            return
    raise InputError(
        f"{window.where}: holds no data inside the field, only no-data cells. Give the raster of this place, or check "
        "the CRS of both."
    )


def _from_heights(design: Design, site: Site, source: RasterSource) -> GroundSource:
    key = "inputs.elevation"
    window = heights_in_metres(_read(design, site, source, key), source.unit, key=key)
    doubts = height_doubts(window, key=key)
    grid, findings = _grid(window, site, order=3)
    findings = (*findings, *doubts)
    text = _description(_HEIGHTS, source, window, grid, findings)
    return GroundSource(grid, None, None, None, text, findings)


def _from_contours(design: Design, site: Site, source: ContourSource) -> GroundSource:
    bounds = _bounds(site, MARGIN_M)
    frame, findings, text = read_contours(source, folder=design.folder, bounds=bounds, crs=site.crs)
    return GroundSource(None, frame, None, None, text, findings)


def _from_slope(design: Design, site: Site, source: RasterSource) -> GroundSource:
    key = "inputs.slope"
    window = slope_as_ratio(_read(design, site, source, key), source.unit, key=key)
    slope, findings = _grid(window, site, order=1)
    aspect, found = _aspect(design, site, slope)
    text = _description(_SLOPE, source, window, slope, findings)
    return GroundSource(None, None, slope, aspect, text, (*findings, *found))


def _aspect(design: Design, site: Site, slope: Grid) -> tuple[Grid | None, tuple[Finding, ...]]:
    source: Any = design.inputs.aspect
    if source is None:
        return None, ()
    if source.unit not in (None, "degrees"):
        raise InputError(f"inputs.aspect.unit: must be degrees (got '{source.unit}').")
    window = _read(design, site, source, "inputs.aspect", average=False)
    aspect = aspect_on_grid(window, slope, key="inputs.aspect")
    return aspect, (*window.findings, *aspect_doubts(slope, aspect, where=window.where))


_HEIGHTS = say("heights of {file}, band {band}, cells of {cell:g} m, {crs}")
_SLOPE = say("slope of {file}, band {band}, cells of {cell:g} m, {crs}")


def _description(
    what: str, source: RasterSource, window: RasterWindow, grid: Grid, findings: tuple[Finding, ...]
) -> str:
    told = Sentence(
        what, file=source.file.name, band=source.band, cell=float(grid.cell_m), crs=name_of(window.crs)
    )  # fmt: skip
    changed = tuple(finding.text for finding in findings if finding.level == "note")
    return Sentence("{all}", all=(told, *changed)) if changed else told
