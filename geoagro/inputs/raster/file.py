"""Open a raster and read the window over the field, with NaN where the file holds no data."""

from __future__ import annotations

import contextlib
import warnings
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np
import rasterio
from affine import Affine
from pyproj import CRS
from rasterio.errors import NotGeoreferencedWarning, RasterioError
from rasterio.io import DatasetReader
from rasterio.windows import Window

from geoagro.arrays import Floats
from geoagro.crs import WGS84, Bounds, parse_crs, transform_bounds
from geoagro.errors import CrsError, InputError
from geoagro.inputs.files import checksums, find_file, reading
from geoagro.inputs.local_only import CLOSED, RASTER_DRIVERS, check_raster
from geoagro.inputs.raster.blocks import block_means
from geoagro.inputs.raster.pictures import refuse_picture
from geoagro.inputs.raster.sentinels import take_out_sentinels
from geoagro.inputs.raster.text_grid import TEXT_DRIVERS, refuse_torn_text
from geoagro.inputs.vector.file import resolved_crs
from geoagro.values.design import RasterSource
from geoagro.values.site import Finding, SourceFile
from geoagro.values.words import Sentence, say

MOST_CELLS = 25_000_000
"""With more cells, terrain no longer fits the memory of a usual computer. Our own choice."""

MOST_READ = 1_000_000_000
"""With more cells over the field, reading alone takes many minutes. Our own choice."""

JUMP_FROM_ZERO = 10.0
"""Zeros with nothing within this of them are the edge of the data, not a shore (see `heights`)."""


@dataclass(frozen=True, eq=False)
class RasterWindow:
    """Cells of one band around the field, as they stand in the file.

    Attributes
    ----------
    where
        Key and file, for messages.
    values
        float64, scale and offset applied, NaN where the file says that there is no data.
    transform
        From (column, row) of cell corners to coordinates.
    crs
        CRS of the coordinates.
    vertical
        CRS of the heights, where the file states one.
    unit
        Unit of the band as the file states it, lower case; empty if it doesn't.
    description
        Name of the band and of its unit, lower case, for guessing what slope is given in.
    findings
        What reading found.
    """

    where: str
    values: Floats
    transform: Affine
    crs: CRS
    vertical: CRS | None
    unit: str
    description: str
    findings: tuple[Finding, ...] = ()

    def with_values(self, values: Floats, *found: Finding) -> RasterWindow:
        """Return the same cells with other values."""
        return replace(self, values=values, findings=(*self.findings, *found))


def raster_crs(source: RasterSource, *, key: str, folder: Path) -> CRS:
    """CRS of a raster, without reading its cells."""
    with _opened(source, key=key, folder=folder) as (dataset, where):
        return _horizontal(dataset, source, where=where, key=key)


def raster_source_files(source: RasterSource, *, key: str, folder: Path) -> tuple[SourceFile, ...]:
    """Checksums of a raster and the files beside it that belong to it (.tfw, .prj, .aux.xml)."""
    path = find_file(source.file, folder=folder, key=key)
    with _opened(source, key=key, folder=folder) as (dataset, _):
        parts = [Path(name) for name in dataset.files if Path(name).is_file()]
    beside = sorted(p for p in parts if p.parent.resolve() == path.parent.resolve() and p.name != path.name)
    return checksums(key.removeprefix("inputs."), source.file, path, [path, *beside])


def read_window(
    source: RasterSource, *, key: str, folder: Path, bounds: Bounds, crs: CRS, average: bool = True
) -> RasterWindow:
    """Read the cells of a raster inside `bounds`, which are given in `crs`.

    More than MOST_CELLS are averaged in blocks while reading, and that is told; directions can't be averaged
    (`average=False`), and are refused then.

    Raises
    ------
    InputError
        If the file can't be read, has no such band, isn't georeferenced or lies elsewhere.
    CrsError
        If it states no CRS and the design doesn't either.
    """
    with _opened(source, key=key, folder=folder) as (dataset, where):
        own = _horizontal(dataset, source, where=where, key=key)
        window = _window(dataset, transform_bounds(bounds, crs, own))
        if window is None:
            raise InputError(_elsewhere(dataset, own, bounds, crs, where))
        factor = _factor(window, where, average)
        band = _Band(dataset, source, where, _trimmed(window, factor))
        values = band.read(factor)
        return RasterWindow(
            where=where,
            values=values,
            transform=_moved(dataset.transform, window, factor),
            crs=own,
            vertical=_vertical(dataset),
            unit=(dataset.units[source.band - 1] or "").strip().lower(),
            description=f"{dataset.descriptions[source.band - 1] or ''} {dataset.units[source.band - 1] or ''}".lower(),
            findings=(*_averaged(window, factor, where), *band.findings()),
        )


@dataclass(eq=False)
class _Band:
    """One band while it is read in strips; counts the marks of no data that the file doesn't declare."""

    dataset: Any
    source: RasterSource
    where: str
    window: Window
    marks: Counter[float] = field(default_factory=Counter)

    def read(self, factor: int) -> Floats:
        if factor == 1:
            return self.rows(0, int(self.window.height))
        return block_means(self.rows, rows=int(self.window.height), factor=factor, jump=JUMP_FROM_ZERO)

    def rows(self, first: int, count: int) -> Floats:
        strip = Window(self.window.col_off, self.window.row_off + first, self.window.width, count)
        try:
            band = self.dataset.read(self.source.band, window=strip, masked=True)
        except RasterioError as error:
            raise InputError(f"{self.where}: can't be read ({error}); the file looks damaged.") from error
        values: Floats = np.ma.filled(band.astype(float), np.nan)
        if self.source.nodata is not None:
            values[np.isclose(values, self.source.nodata, rtol=1e-6, atol=0)] = np.nan
        self.marks += take_out_sentinels(values)
        index = self.source.band - 1
        scale, offset = self.dataset.scales[index], self.dataset.offsets[index]
        return values if (scale, offset) == (1.0, 0.0) else values * scale + offset

    def findings(self) -> tuple[Finding, ...]:
        text = say("{count} {count:cell holds|cells hold} {value}, taken as no data though the file doesn't declare it")
        told = (Sentence(text, count=n, value=f"{v:g}") for v, n in sorted(self.marks.items()))
        return tuple(Finding("repair", self.where, one) for one in told)


@contextmanager
def _opened(source: RasterSource, *, key: str, folder: Path) -> Iterator[tuple[Any, str]]:
    path = find_file(source.file, folder=folder, key=key)
    where = f"{key} ({source.file.name})"
    with warnings.catch_warnings(), rasterio.Env(**CLOSED):
        warnings.simplefilter("ignore", NotGeoreferencedWarning)
        try:
            check_raster(path, where=where)
            with reading(where, but=(RasterioError,)):
                dataset = DatasetReader(
                    str(path.absolute()), driver=list(RASTER_DRIVERS)
                )  # `open` takes one driver only
        except RasterioError as error:
            raise InputError(f"{where}: can't be read as a raster ({error}). GeoTIFF or ASC are safe.") from error
        with reading(where), dataset:
            _check_band(dataset, source, where=where, key=key)
            if dataset.driver in TEXT_DRIVERS:
                refuse_torn_text(dataset, path, where=where)
            yield dataset, where


def _check_band(dataset: Any, source: RasterSource, *, where: str, key: str) -> None:
    if dataset.count == 0:
        inside = ", ".join(dataset.subdatasets) or "none"
        raise InputError(f"{where}: holds several rasters ({inside}); save the one with the values as GeoTIFF.")
    if source.band > dataset.count:
        raise InputError(f"{where}: has {dataset.count} band(s); {key}.band says {source.band}.")
    if np.dtype(dataset.dtypes[source.band - 1]).kind == "c":
        raise InputError(f"{where}: holds complex numbers, not heights or slopes.")
    refuse_picture(dataset, source.band, where=where)
    if dataset.transform == Affine.identity():
        raise InputError(
            f"{where}: isn't georeferenced (no corner and cell size). Export it again with its place, or add a world "
            "file beside it."
        )


def _full_crs(dataset: Any) -> CRS | None:
    return CRS.from_wkt(dataset.crs.to_wkt()) if dataset.crs else None


def _horizontal(dataset: Any, source: RasterSource, *, where: str, key: str) -> CRS:
    full = _full_crs(dataset)
    stated = parse_crs(full, where=where) if full is not None else None
    return resolved_crs(stated, source.crs, where=where, key=key)


def _vertical(dataset: Any) -> CRS | None:
    full = _full_crs(dataset)
    return full.sub_crs_list[1] if full is not None and full.is_compound else None


def _window(dataset: Any, bounds: Bounds) -> Window | None:
    """Cells touched by bounds in the raster's CRS, two more on each side for interpolation; None if there are none."""
    west, south, east, north = bounds
    inverse = ~dataset.transform
    columns, rows = applied(inverse, np.array([west, west, east, east]), np.array([south, north, south, north]))
    first_column, last_column = _clipped(columns, dataset.width)
    first_row, last_row = _clipped(rows, dataset.height)
    if first_column >= last_column or first_row >= last_row:
        return None
    return Window(first_column, first_row, last_column - first_column, last_row - first_row)


def applied(transform: Affine, x: Floats, y: Floats) -> tuple[Any, Any]:
    """Apply a transform to arrays (the package's own operator for it differs between its versions)."""
    return transform.a * x + transform.b * y + transform.c, transform.d * x + transform.e * y + transform.f


def _moved(transform: Affine, window: Window, factor: int) -> Affine:
    x, y = applied(transform, window.col_off, window.row_off)
    a, b, d, e = (factor * v for v in (transform.a, transform.b, transform.d, transform.e))
    return Affine(a, b, float(x), d, e, float(y))


def _clipped(positions: Floats, size: int) -> tuple[int, int]:
    low, high = float(positions.min()), float(positions.max())
    if not (np.isfinite([low, high]).all() and high > 0 and low < size):
        return 0, 0
    return max(int(np.floor(low)) - 2, 0), min(int(np.ceil(high)) + 2, size)


def _elsewhere(dataset: Any, own: CRS, bounds: Bounds, crs: CRS, where: str) -> str:
    """Both extents in the raster's CRS, and a hint where swapped coordinates would fit."""
    wanted = transform_bounds(bounds, crs, own)
    digits = 6 if own.is_geographic else 0
    text = (
        f"{where}: doesn't reach the field. The raster covers {_extent(dataset.bounds, digits)}, the field lies in "
        f"{_extent(wanted, digits)} ({own.name}). Give the raster of this place, or check the CRS of both."
    )
    if any(_window(dataset, swapped) is not None for swapped in _swapped(wanted, bounds, crs, own)):
        text += " With x and y of the field swapped, it would: check the order of its coordinates."
    return text


def _swapped(wanted: Bounds, bounds: Bounds, crs: CRS, own: CRS) -> list[Bounds]:
    """Where the field would lie in the raster's CRS if its x and y, or longitude and latitude, were swapped."""
    west, south, east, north = wanted
    swapped = [(south, west, north, east)]
    west, south, east, north = transform_bounds(bounds, crs, WGS84)
    with contextlib.suppress(CrsError):
        swapped.append(transform_bounds((south, west, north, east), WGS84, own))
    return swapped


def _extent(bounds: Any, digits: int) -> str:
    west, south, east, north = bounds
    return f"x {west:.{digits}f} to {east:.{digits}f}, y {south:.{digits}f} to {north:.{digits}f}"


def _factor(window: Window, where: str, average: bool) -> int:
    """Cells to average along each side of a block, so that no more than MOST_CELLS are left."""
    cells = int(window.width) * int(window.height)
    if cells > MOST_READ:
        raise InputError(
            f"{where}: holds {cells / 1e6:,.0f} million cells over the field; at most {MOST_READ / 1e6:,.0f} million can be "
            "read. Pick a smaller field with `where` under inputs.boundary, or give a coarser raster."
        )
    factor = max(int(np.ceil(np.sqrt(cells / MOST_CELLS))), 1)
    if factor > 1 and not average:
        raise InputError(
            f"{where}: holds {cells / 1e6:.0f} million cells over the field; directions can't be averaged, and at most "
            f"{MOST_CELLS / 1e6:.0f} million can be worked with. Give a coarser raster."
        )
    return factor


def _trimmed(window: Window, factor: int) -> Window:
    width, height = int(window.width) // factor * factor, int(window.height) // factor * factor
    return Window(window.col_off, window.row_off, width, height)


def _averaged(window: Window, factor: int, where: str) -> tuple[Finding, ...]:
    if factor == 1:
        return ()
    cells = int(window.width) * int(window.height)
    text = Sentence(
        "{cells:.0f} million cells over the field, averaged in blocks of {factor} x {factor}",
        cells=cells / 1e6,
        factor=factor,
    )
    return (Finding("repair", where, text),)
