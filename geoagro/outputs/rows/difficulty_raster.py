"""The difficulty of the ground as one GeoTIFF, a band for each of its three measures."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import rasterio
from rasterio.errors import RasterioError
from rasterio.transform import Affine

from geoagro.errors import OutputError
from geoagro.outputs.staging import unwritten
from geoagro.values.terrain import Difficulty

NO_DATA = -9999.0
NO_END = 99_999.0
"""Stands for "any distance", which GIS viewers can't show as infinite."""


def write_difficulty_raster(difficulty: Difficulty, path: Path) -> None:
    """Write bands equidistant_m, holds_grade_m and flow_curvature (1/m) in the working CRS, with their meaning.

    Cells where nothing is known hold NO_DATA, distances without end NO_END. Raises OutputError where the file
    can't be written.
    """
    bands = {
        "equidistant_m": (difficulty.equidistant_m, "m a level row keeps its spacing; 99999 any distance"),
        "holds_grade_m": (difficulty.holds_grade_m, "m aside where parallel rows hold the grade; 99999 any distance"),
        "flow_curvature": (difficulty.flow_curvature, "1/m, bend of the lines of steepest descent"),
    }
    grid = difficulty.equidistant_m
    rows, columns = grid.values.shape
    try:
        with rasterio.open(
            path, "w", driver="GTiff", width=columns, height=rows, count=len(bands), dtype="float32", crs=grid.known_crs.to_wkt(),
            transform=Affine(grid.cell_m, 0.0, grid.west, 0.0, -grid.cell_m, grid.north), nodata=NO_DATA,
            compress="deflate", predictor=3, tiled=True, blockxsize=256, blockysize=256,
        ) as file:  # fmt: skip
            for number, (name, (band, meaning)) in enumerate(bands.items(), start=1):
                values = np.where(np.isnan(band.values), NO_DATA, np.clip(band.values, -NO_END, NO_END))
                file.write(values.astype("float32"), number)
                file.set_band_description(number, name)
                file.update_tags(number, meaning=meaning)
    except (RasterioError, OSError) as error:
        raise OutputError(unwritten(Path(path.name), error, room=path.parent)) from error
