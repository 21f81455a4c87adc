"""Ground and rows with a known answer, for the tests of water."""

import numpy as np
from pyproj import CRS
from shapely import LineString, MultiPolygon, box

from geoagro.terrain.slope import slope_and_aspect
from geoagro.values.grid import Grid
from geoagro.values.rows import TREE_ROWS, TreeRows

UTM = CRS.from_epsg(32633)
WEST, SOUTH = 500_000.0, 5_000_000.0


def ground(height, size_m=100, cell_m=1.0):
    """Grid of a height function of metres east and north of the corner."""
    n = round(size_m / cell_m)
    at = (np.arange(n) + 0.5) * cell_m
    x, y = np.meshgrid(at, at[::-1])
    return Grid(np.asarray(height(x, y), dtype=float), WEST, SOUTH + size_m, cell_m, UTM)


def slope_of(surface):
    return slope_and_aspect(surface)[0]


def rows_of(*lines, spacing_m=5.0):
    """Tree rows from coordinates in metres east and north of the corner; only the line matters here."""
    drawn = [LineString([(WEST + x, SOUTH + y) for x, y in line]) for line in lines]
    n = len(drawn)
    columns = {f.name: ([""] * n if f.kind == "text" else np.zeros(n)) for f in TREE_ROWS.fields}
    columns |= {"row": np.arange(1, n + 1), "length_m": [line.length for line in drawn]}
    return TreeRows(TREE_ROWS.frame(columns, geometry=drawn, crs=UTM), spacing_m, None)


def field(size_m=100):
    return MultiPolygon([box(WEST, SOUTH, WEST + size_m, SOUTH + size_m)])
