"""Make data_demo/: an invented farm on an invented surface. Same script, same files; run it by hand after a change.

The place is invented too: the coordinates lie in the open sea, so that nobody takes the farm for a real one.
"""

from __future__ import annotations

import sys
from pathlib import Path

import geopandas as gpd
import numpy as np
import pyogrio
import rasterio
from numpy.typing import NDArray
from rasterio.transform import Affine
from scipy.ndimage import gaussian_filter
from shapely import LineString, Point, Polygon, transform

DEMO = Path(__file__).parents[1] / "data_demo"
CRS = "EPSG:32722"
WEST, SOUTH = 700_000.0, 6_680_000.0  # where (0, 0) below lies; in the sea
WIDTH, HEIGHT = 330, 300  # metres, and cells of 1 m
SEED = 20

OUTLINE = [
    (38, 42), (90, 30), (150, 34), (205, 28), (262, 40), (296, 72), (300, 120), (288, 168), (292, 214), (270, 256),
    (226, 270), (196, 252), (182, 214), (160, 186), (132, 190), (114, 222), (94, 254), (58, 250), (36, 214), (28, 160),
    (34, 100),
]  # fmt: skip
ROCKS = [(206, 128), (220, 124), (232, 133), (231, 147), (218, 154), (205, 145)]
SPRING = (84.0, 152.0)
TRACK = [(238, 20), (232, 58), (222, 92), (219, 124)]


def surface(x: NDArray[np.float64], y: NDArray[np.float64]) -> NDArray[np.float64]:
    """Heights in metres: a tilted plain with a ridge, a hollow beside it and a small knoll."""
    along = 0.94 * (x - 175) + 0.34 * (y - 150)  # across the ridge, which runs a little west of north
    ridge = 7.5 * np.exp(-((along / 75) ** 2))
    hollow = -4.5 * np.exp(-(((x - 88) / 48) ** 2) - ((y - 140) / 80) ** 2)
    knoll = 2.2 * np.exp(-(((x - 222) / 24) ** 2) - ((y - 208) / 20) ** 2)
    roll = 0.5 * np.sin(x / 31 + y / 57) * np.cos(y / 43)
    return 412.0 + 0.085 * y - 0.018 * x + ridge + hollow + knoll + roll


def elevation() -> NDArray[np.float32]:
    """Heights at the cell centres, north first, with the few centimetres of noise that a survey has."""
    x, y = np.meshgrid(np.arange(WIDTH) + 0.5, HEIGHT - np.arange(HEIGHT) - 0.5)
    random = np.random.default_rng(SEED)
    clods = gaussian_filter(random.standard_normal(x.shape), 2.0) * 0.20
    return np.round(surface(x, y) + clods + 0.01 * random.standard_normal(x.shape), 2).astype(np.float32)


def write_elevation(folder: Path) -> None:
    with rasterio.open(
        folder / "elevation.tif", "w", driver="GTiff", width=WIDTH, height=HEIGHT, count=1, dtype="float32",
        crs=CRS, transform=Affine(1.0, 0.0, WEST, 0.0, -1.0, SOUTH + HEIGHT), nodata=-9999.0,
        compress="deflate", predictor=3, zlevel=9, tiled=True, blockxsize=256, blockysize=256,
    ) as file:  # fmt: skip
        file.write(elevation(), 1)
        file.set_band_description(1, "height in metres, invented")


def write_farm(folder: Path) -> None:
    path = folder / "farm.gpkg"
    path.unlink(missing_ok=True)
    layers = {
        "boundary": ("invented farm, ridge field", Polygon(OUTLINE, [ROCKS])),
        "spring": ("invented spring", Point(SPRING)),
        "track": ("invented access track", LineString(TRACK)),
    }
    pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": "2000-01-01T00:00:00.000Z"})
    for layer, (name, shape) in layers.items():
        placed = transform(shape, lambda xy: xy + np.array([WEST, SOUTH]))
        frame = gpd.GeoDataFrame({"name": [name]}, geometry=[placed], crs=CRS)
        frame.to_file(path, layer=layer, driver="GPKG", engine="pyogrio", VERSION="1.3")
    pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": None})


def main(folder: Path = DEMO) -> None:
    folder.mkdir(exist_ok=True)
    write_elevation(folder)
    write_farm(folder)


if __name__ == "__main__":
    main(*map(Path, sys.argv[1:]))
