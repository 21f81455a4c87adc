"""Contour lines with their heights."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from pyproj import CRS

from geoagro.arrays import Floats, Shapes
from geoagro.crs import Bounds, transform_bounds
from geoagro.errors import InputError
from geoagro.inputs.files import reading
from geoagro.inputs.raster.doubts import contour_doubts
from geoagro.inputs.raster.heights import HIGHEST_M, LOWEST_M, UNITS
from geoagro.inputs.vector.features import Features
from geoagro.inputs.vector.file import read_features
from geoagro.values.design import ContourSource
from geoagro.values.site import Finding
from geoagro.values.words import Sentence

HEIGHT_NAMES = (
    "elev", "elevation", "height", "height_m", "elevation_m", "elev_m", "contour", "level", "z", "zvalue", "z_value", "alt",
    "altitude", "ele", "cota", "kote", "hoehe", "höhe", "hoehe_m", "quota", "hoogte", "korkeus", "wysokosc",
)  # fmt: skip
"""Usual names of the height attribute, in order of preference; case doesn't matter."""


def read_contours(
    source: ContourSource, *, folder: Path, bounds: Bounds, crs: CRS
) -> tuple[Any, tuple[Finding, ...], str]:
    """Read the contour lines near the field.

    Returns
    -------
    frame, findings, description
        LineStrings with `elevation_m` in the working CRS, those that meet `bounds`.

    Raises
    ------
    InputError
        If the heights can't be found, or fewer than two levels lie near the field.
    """
    features = read_features(source, key="inputs.contours", folder=folder)
    with reading(features.where):
        return _near(features, source, bounds, crs)


def _near(features: Features, source: ContourSource, bounds: Bounds, crs: CRS) -> tuple[Any, tuple[Finding, ...], str]:
    heights, named = _heights(features, source)
    lines, index = shapely.get_parts(_lines(features, crs), return_index=True)
    heights = heights[index] * UNITS[source.unit]
    near = shapely.intersects(lines, shapely.box(*bounds)) & np.isfinite(heights)
    if not near.any():
        raise InputError(_elsewhere(features, bounds, crs))
    _check(features, heights[near])
    doubts = contour_doubts(lines[near], heights[near], where=features.where)
    frame = gpd.GeoDataFrame({"elevation_m": heights[near]}, geometry=lines[near], crs=crs)
    unknown = int((~np.isfinite(heights)).sum())
    left_out = Sentence("{n} {n:line|lines} without a height left out", n=unknown)
    found = (features.finding("repair", left_out),) if unknown else ()
    text = Sentence(
        "contour lines of {file}, heights from {named} in {unit}", file=source.file.name, named=named, unit=source.unit
    )
    return frame, (*features.findings, features.finding("note", text), *found, *doubts), text


def _lines(features: Features, crs: CRS) -> Shapes:
    flat = features.flat_in(crs)
    dimension = shapely.get_dimensions(flat)
    if (dimension < 1).any():
        raise InputError(f"{features.where}: contour lines are needed, but it holds {features.kinds()}.")
    return np.where(dimension == 2, shapely.boundary(flat), flat)


def _heights(features: Features, source: ContourSource) -> tuple[Floats, str]:
    """Heights as they stand in the file, and where they were found."""
    if source.height_field is not None:
        return _column(features, source.height_field), f"field '{source.height_field}'"
    by_name = {str(name).lower(): name for name in features.table.columns}
    for name in HEIGHT_NAMES:
        if name in by_name:
            return _column(features, by_name[name]), f"field '{by_name[name]}'"
    if shapely.has_z(features.geometries).all():
        return _z_of_lines(features), "the lines' z"
    raise InputError(
        f"{features.where}: which field holds the height? Set inputs.contours.height_field to one of: "
        f"{', '.join(map(str, features.table.columns)) or 'none (the lines have no fields and no z)'}."
    )


def _column(features: Features, name: str) -> Floats:
    if name not in features.table.columns:
        raise InputError(
            f"{features.where}: has no field '{name}'. Set inputs.contours.height_field to one of: "
            f"{', '.join(map(str, features.table.columns))}."
        )
    return np.asarray(pd.to_numeric(features.table[name], errors="coerce"), dtype=float)


def _z_of_lines(features: Features) -> Floats:
    xyz, index = shapely.get_coordinates(features.geometries, include_z=True, return_index=True)
    by_line = pd.Series(xyz[:, 2]).groupby(index)
    uneven = int(((by_line.max() - by_line.min()) > 0.01).sum())
    if uneven:
        raise InputError(
            f"{features.where}: {uneven} of {len(by_line)} lines change their z along the way, so they aren't contours."
        )
    return np.asarray(by_line.mean(), dtype=float)


def _check(features: Features, heights: Floats) -> None:
    levels = np.unique(heights)
    if len(levels) < 2:
        raise InputError(
            f"{features.where}: only one level ({levels[0]:g} m) near the field; two or more are needed to tell slope. "
            "Give contours at a smaller interval, or a raster."
        )
    if levels[0] < LOWEST_M or levels[-1] > HIGHEST_M:
        raise InputError(
            f"{features.where}: heights from {levels[0]:g} to {levels[-1]:g} m aren't land; check "
            "inputs.contours.height_field and unit."
        )


def _elsewhere(features: Features, bounds: Bounds, crs: CRS) -> str:
    own = transform_bounds(bounds, crs, features.crs)
    digits = 6 if features.crs.is_geographic else 0
    extents = [
        f"x {w:.{digits}f} to {e:.{digits}f}, y {s:.{digits}f} to {n:.{digits}f}"
        for w, s, e, n in (features.bounds(), own)
    ]
    return (
        f"{features.where}: no contour with a height near the field. The lines cover {extents[0]}, the field lies in "
        f"{extents[1]} ({features.crs.name}). Give the contours of this place, or check the CRS of both."
    )
