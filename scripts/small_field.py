"""Write a small invented field with its design into a folder: `python scripts/small_field.py FOLDER`."""

from __future__ import annotations

import sys
from pathlib import Path

import geopandas as gpd
import numpy as np
import rasterio
from rasterio.transform import from_origin
from shapely import box

WEST, SOUTH, WIDE_M, HIGH_M = 500_000.0, 5_000_000.0, 60.0, 40.0

DESIGN = """\
name: Small field
inputs:
  boundary: { file: boundary.gpkg }
  elevation: { file: elevation.tif, unit: m }
rows: { method: contour, spacing_m: 5.0, thorough: false }
start_date: 2025-03-03
plantings:
  - { crop: apple, bed: tree, spacing_m: 4.0 }
  - { crop: lettuce, bed: vegetable, lines: 3 }
season:
  years: 1
  currency: EUR
  wage_per_hour: 10.0
"""


def main(folder: Path) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    field = gpd.GeoDataFrame(
        {"name": ["small"]}, geometry=[box(WEST, SOUTH, WEST + WIDE_M, SOUTH + HIGH_M)], crs="EPSG:32633"
    )
    field.to_file(folder / "boundary.gpkg", layer="boundary")
    x, y = np.meshgrid(np.arange(-20, WIDE_M + 20) + 0.5, np.arange(-20, HIGH_M + 20)[::-1] + 0.5)
    heights = (200 + 0.08 * y + 1.2 * np.sin(x / 9)).astype("float32")
    profile = {"driver": "GTiff", "height": len(heights), "width": heights.shape[1], "count": 1, "dtype": "float32"}
    place = from_origin(WEST - 20, SOUTH + HIGH_M + 20, 1.0, 1.0)
    with rasterio.open(folder / "elevation.tif", "w", crs="EPSG:32633", transform=place, **profile) as file:
        file.write(heights, 1)
    (folder / "design.yaml").write_text(DESIGN)


if __name__ == "__main__":
    main(Path(sys.argv[1]))
