"""Small input files of known shape, written by tests; all around one corner in UTM zone 33N. Invented places."""

from __future__ import annotations

import warnings
from pathlib import Path

import geopandas as gpd
import numpy as np
import rasterio
from affine import Affine
from pyproj import CRS
from shapely import box

from geoagro.crs import WGS84, transform_points
from geoagro.values.design import Design

UTM = CRS.from_epsg(32633)
EAST, NORTH = 500_000.0, 5_000_000.0
FIELD = box(EAST, NORTH, EAST + 100, NORTH + 80)


def lonlat(x, y):
    lon, lat = transform_points(x, y, UTM, WGS84)
    return float(lon), float(lat)


def write_vector(path: Path, geometries, crs=UTM, *, layer=None, driver=None, engine="pyogrio", **columns) -> Path:
    frame = gpd.GeoDataFrame(columns, geometry=list(geometries), crs=crs)
    options = {"layer": layer} if layer else {}
    with warnings.catch_warnings():
        if crs is None:
            warnings.simplefilter("ignore", UserWarning)  # meant
        frame.to_file(path, driver=driver, engine=engine, **options)
    return path


def write_raster(path: Path, values, *, west=EAST - 80, north=NORTH + 160, cell=2.0, transform=None, **profile) -> Path:
    """North-up by default; `crs=None` writes none."""
    values = np.asarray(values)
    bands = values if values.ndim == 3 else values[None]
    settings = {
        "driver": "GTiff",
        "dtype": bands.dtype,
        "count": len(bands),
        "height": bands.shape[1],
        "width": bands.shape[2],
        "crs": UTM.to_wkt(),
        "transform": transform if transform is not None else Affine(cell, 0, west, 0, -cell, north),
    } | profile
    units = settings.pop("units", None)
    with rasterio.open(path, "w", **settings) as file:
        file.write(bands)
        if units:
            file.units = (units,) * len(bands)
    return path


def slope_north(*, shape=(120, 130), cell=2.0, grade=0.10, base=200.0):
    """Heights of a plane that rises to the north, for the default corner of `write_raster`."""
    y = NORTH + 160 - (np.arange(shape[0]) + 0.5) * cell
    return np.repeat(base + grade * (y - NORTH)[:, None], shape[1], axis=1)


def design(folder: Path, **inputs) -> Design:
    """A design on `field.gpkg` and `dem.tif` in a folder; both are written unless the inputs name others."""
    if "boundary" not in inputs:
        if not (folder / "field.gpkg").exists():
            write_vector(folder / "field.gpkg", [FIELD])
        inputs["boundary"] = {"file": "field.gpkg"}
    if not {"elevation", "contours", "slope"} & set(inputs):
        if not (folder / "dem.tif").exists():
            write_raster(folder / "dem.tif", slope_north())
        inputs["elevation"] = {"file": "dem.tif"}
    more = {key: inputs.pop(key) for key in ("rows",) if key in inputs}
    return Design.model_validate({"name": "invented", "inputs": inputs, "folder": folder, **more})
