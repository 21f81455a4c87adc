"""Where spacing and where grade gives out first, as areas on the map."""

from __future__ import annotations

from typing import Any

import geopandas as gpd
import numpy as np
import shapely
from numpy.typing import NDArray
from rasterio import Affine
from rasterio.features import shapes, sieve
from shapely import MultiPolygon

from geoagro.arrays import Floats
from geoagro.planar.margins import grown
from geoagro.terrain.difficulty import CLEAR
from geoagro.terrain.records.difficulty import DIFFICULTY_ZONES
from geoagro.terrain.window import cells_in
from geoagro.values.grid import Grid
from geoagro.values.terrain import Difficulty

FIRST = ("neither", "both", "spacing", "grade")
_OUTSIDE = len(FIRST)
_SMALLEST_SPACINGS = 3.0
"""Zones smaller than the square of this many spacings join their neighbours: nobody lays rows by them."""


def first_to_give_out(difficulty: Difficulty, plantable: MultiPolygon) -> NDArray[np.uint8]:
    """Class of each cell as an index into FIRST, by the rule that the field's verdict follows.

    Neither, where parallel rows hold the grade from the field's middle to its edge or a level row keeps its
    spacing across it; else the shorter of the two distances, "both" where they are within a factor CLEAR.
    """
    across = float(np.sqrt(plantable.area))
    level, parallel = difficulty.equidistant_m.values, difficulty.holds_grade_m.values
    hard = (parallel < across / 2) & (level < across)
    with np.errstate(invalid="ignore", divide="ignore"):
        ratio = parallel / level
    first = np.where(ratio > CLEAR, 2, np.where(ratio < 1 / CLEAR, 3, 1))
    return np.where(hard, first, 0).astype(np.uint8)


def difficulty_zones(difficulty: Difficulty, plantable: MultiPolygon, *, spacing_m: float) -> gpd.GeoDataFrame:
    """Layer DIFFICULTY_ZONES over the plantable ground, in its CRS; zones too small for a few rows are joined."""
    grid = difficulty.equidistant_m
    known = np.isfinite(difficulty.flow_curvature.values) | np.isinf(grid.values)
    near = cells_in(grid, grown(plantable, grid.cell_m)) & known
    classes = np.where(near, first_to_give_out(difficulty, plantable), _OUTSIDE).astype(np.uint8)
    least = max(1, round((_SMALLEST_SPACINGS * spacing_m / grid.cell_m) ** 2))
    classes = np.where(near, sieve(classes, least, mask=near), _OUTSIDE).astype(np.uint8)
    areas, kinds = _polygons(classes, grid)
    parts, owner = shapely.get_parts(shapely.intersection(areas, plantable), return_index=True)
    solid = (shapely.get_type_id(parts) == shapely.GeometryType.POLYGON) & (shapely.area(parts) > grid.cell_m**2 / 4)
    parts, kinds = parts[solid], kinds[owner[solid]]
    medians = [_medians(difficulty, part, spacing_m) for part in parts]
    return DIFFICULTY_ZONES.frame(
        {
            "first": [FIRST[kind] for kind in kinds],
            "equidistant_m": [level for level, _ in medians],
            "holds_grade_rows": [rows for _, rows in medians],
            "area_m2": shapely.area(parts),
        },
        geometry=parts,
        crs=grid.crs,
    )


def _polygons(classes: NDArray[np.uint8], grid: Grid) -> tuple[Any, NDArray[np.int64]]:
    transform = Affine(grid.cell_m, 0.0, grid.west, 0.0, -grid.cell_m, grid.north)
    found = [
        (shapely.geometry.shape(s), int(k)) for s, k in shapes(classes, mask=classes != _OUTSIDE, transform=transform)
    ]
    return np.array([area for area, _ in found], dtype=object), np.array([k for _, k in found], dtype=np.int64)


def _medians(difficulty: Difficulty, area: Any, spacing_m: float) -> tuple[float, float]:
    inside = _window_cells(difficulty.equidistant_m, area)
    level, parallel = (g.values[inside] for g in (difficulty.equidistant_m, difficulty.holds_grade_m))
    return _median(level), _median(parallel) / spacing_m


def _window_cells(grid: Grid, area: Any) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Rows and columns of the cells in a polygon, looked for in its own window."""
    west, south, east, north = area.bounds
    top, left = (max(0, int(v) - 1) for v in ((grid.north - north) / grid.cell_m, (west - grid.west) / grid.cell_m))
    bottom, right = int((grid.north - south) / grid.cell_m) + 2, int((east - grid.west) / grid.cell_m) + 2
    part = Grid(
        grid.values[top:bottom, left:right],
        grid.west + left * grid.cell_m,
        grid.north - top * grid.cell_m,
        grid.cell_m,
        grid.crs,
    )
    rows, columns = np.nonzero(cells_in(part, area))
    return rows + top, columns + left


def _median(values: Floats) -> float:
    known = values[~np.isnan(values)]
    return float(np.percentile(known, 50, method="lower")) if len(known) else float("nan")
