"""Slope and aspect from rasters: slope as a ratio, aspect clockwise from grid north."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from geoagro.arrays import Floats
from geoagro.crs import scale_at, transform_points
from geoagro.errors import InputError
from geoagro.inputs.raster.doubts import refuse_radians
from geoagro.inputs.raster.file import RasterWindow
from geoagro.inputs.raster.grid import sample_window
from geoagro.values.grid import Grid
from geoagro.values.site import Finding
from geoagro.values.words import Sentence

_NAMES = {
    **dict.fromkeys(("percent", "%", "pct"), "percent"),
    **dict.fromkeys(("degrees", "degree", "deg", "°"), "degrees"),
    **dict.fromkeys(("ratio", "m/m", "1"), "ratio"),
}


def slope_as_ratio(window: RasterWindow, unit: str | None, *, key: str) -> RasterWindow:
    """Bring slope to rise over run.

    The unit is what the design says, else what the band says, else what the values allow: above 90 only
    percent, up to 1 a ratio. Between the two percent and degrees can't be told apart, and the design must say.

    Raises InputError for an unknown or open unit, and for values that can't be slopes.
    """
    known = window.values[np.isfinite(window.values)]
    if len(known) == 0:
        raise InputError(f"{window.where}: holds no data over the field. Give another raster.")
    if known.min() < 0:
        raise InputError(
            f"{window.where}: slopes can't be negative (found {known.min():g}). Set {key}.nodata if that stands for no "
            "data, or name another band."
        )
    name, found = _unit(window, unit, float(known.max()), key)
    if name == "degrees":
        if known.max() >= 90:
            raise InputError(f"{window.where}: {known.max():g} degrees is no slope; set {key}.unit to percent.")
        return window.with_values(np.tan(np.deg2rad(window.values)), *found)
    return window.with_values(window.values * (0.01 if name == "percent" else 1.0), *found)


def _unit(window: RasterWindow, unit: str | None, largest: float, key: str) -> tuple[str, tuple[Finding, ...]]:
    if unit is not None:
        if unit.lower() not in _NAMES:
            raise InputError(f"{key}.unit: must be percent, degrees or ratio (got '{unit}').")
        return _NAMES[unit.lower()], ()
    for word in window.description.split():
        if word.strip("[]()") in _NAMES:
            name = _NAMES[word.strip("[]()")]
            return name, (Finding("note", window.where, Sentence("slope in {name}, as the band says", name=name)),)
    if 1.0 < largest <= 90.0:
        raise InputError(
            f"{window.where}: slopes up to {largest:.1f} may be percent or degrees, and the file doesn't say. Set "
            f"{key}.unit to percent, degrees or ratio."
        )
    name = "percent" if largest > 90.0 else "ratio"
    text = Sentence(
        "slope taken as {name}, since its largest value is {largest:g} (set {key}.unit if it isn't)",
        name=name,
        largest=largest,
        key=key,
    )
    return name, (Finding("warning", window.where, text),)


def aspect_on_grid(window: RasterWindow, slope: Grid, *, key: str) -> Grid:
    """Bring downslope directions onto the cells of the slope grid, turned to its grid north.

    Direction is interpolated through its sine and cosine. Level ground, which rasters mark with -1 or leave
    without data, gets 0 where the slope is 0.

    Raises InputError for values outside 0 to 360.
    """
    values = np.where(window.values == -1.0, np.nan, window.values)
    known = values[np.isfinite(values)]
    refuse_radians(known, window.where)
    if len(known) and (known.min() < 0 or known.max() > 360):
        raise InputError(
            f"{window.where}: directions must be 0 to 360 degrees clockwise from north, or -1 for level ground (found "
            f"{known.min():g} to {known.max():g}). Set {key}.nodata if one of them stands for no data."
        )
    turned = _on_cells(window, values, slope) + _turn(window, slope)
    return slope.with_values(np.where(slope.values == 0.0, 0.0, np.mod(turned, 360.0)))


def _on_cells(window: RasterWindow, values: Floats, slope: Grid) -> Floats:
    radians = np.deg2rad(values)
    sine = sample_window(replace(window, values=np.sin(radians)), slope, order=1)
    cosine = sample_window(replace(window, values=np.cos(radians)), slope, order=1)
    out: Floats = np.rad2deg(np.arctan2(sine, cosine))
    return out


def _turn(window: RasterWindow, slope: Grid) -> float:
    """Degrees from the raster's grid north to that of the working CRS, at the middle."""
    west, south, east, north = slope.bounds
    x, y = np.array((west + east) / 2), np.array((south + north) / 2)
    here = scale_at(slope.known_crs, float(x), float(y)).convergence_deg
    if window.crs.is_geographic:
        return -here
    own_x, own_y = transform_points(x, y, slope.known_crs, window.crs)
    return scale_at(window.crs, float(own_x), float(own_y)).convergence_deg - here
