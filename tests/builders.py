"""Small values with known geometry, built by hand, for tests of rooms that come after the rows."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
from pyproj import CRS
from shapely import LineString, MultiPolygon, box

from geoagro.values.beds import BEDS, PATHS, TREE_BEDS, Beds
from geoagro.values.grid import Grid
from geoagro.values.ground import UNPLANTED, Ground
from geoagro.values.rows import TREE_ROWS, TreeRows
from geoagro.values.site import Site
from geoagro.values.terrain import Terrain

UTM = CRS.from_epsg(32633)
EAST, NORTH = 500_000.0, 5_000_000.0


def plane(*, slope: float = 0.10, size_m: float = 100.0, cell_m: float = 1.0, margin_m: float = 10.0) -> Terrain:
    """A plane that rises to the north, around a square field whose south-west corner is (EAST, NORTH)."""
    n = round((size_m + 2 * margin_m) / cell_m)
    grid = Grid(np.zeros((n, n)), EAST - margin_m, NORTH + size_m + margin_m, cell_m, UTM)
    heights = grid.with_values(np.repeat(100.0 + slope * (grid.y - NORTH)[:, None], n, axis=1))
    full = np.full((n, n), 1.0)
    return Terrain(
        slope=grid.with_values(full * slope),
        aspect_deg=grid.with_values(full * 180.0),
        heights=heights,
        smooth=heights,
        smoothing_m=0.0,
        height_source="a plane built by a test",
        judged=heights,
    )


def square_site(size_m: float = 100.0) -> Site:
    """A square field without exclusions."""
    return Site("square", MultiPolygon([box(EAST, NORTH, EAST + size_m, NORTH + size_m)]), (), (), UTM)


def square_ground(size_m: float = 100.0) -> Ground:
    """All of the square is plantable."""
    site = square_site(size_m)
    return Ground(site.boundary, site.boundary, UNPLANTED.empty(UTM))


def straight_rows(*, spacing_m: float = 4.5, size_m: float = 100.0, slope: float = 0.10) -> TreeRows:
    """Level rows on the plane, west-east, half a spacing from the northern edge; upslope (north) on the left."""
    y = np.arange(NORTH + size_m - spacing_m / 2, NORTH, -spacing_m)
    n = len(y)
    first, last = np.arange(n) == 0, np.arange(n) == n - 1
    up, down = np.where(first, np.nan, spacing_m), np.where(last, np.nan, spacing_m)
    columns = {
        "row": np.arange(1, n + 1),
        "length_m": np.full(n, size_m),
        "elevation_m": 100.0 + slope * (y - NORTH),
        **{f"grade_{k}_pct": np.zeros(n) for k in ("p50", "p95", "max")},
        **{f"up_{k}_m": up for k in ("p05", "p50", "p95")},
        **{f"down_{k}_m": down for k in ("p05", "p50", "p95")},
        "min_radius_m": np.full(n, np.inf),
        "up_rows": ["" if f else str(k) for k, f in enumerate(first)],
        "down_rows": ["" if f else str(k + 2) for k, f in enumerate(last)],
        "name": [""] * n,
        "by_hand": [False] * n,
    }
    lines = [LineString([(EAST, v), (EAST + size_m, v)]) for v in y]
    cut = gpd.GeoDataFrame({"reason": []}, geometry=gpd.GeoSeries([], crs=UTM), crs=UTM)
    return TreeRows(TREE_ROWS.frame(columns, geometry=lines, crs=UTM), spacing_m, cut)


def straight_beds(rows: TreeRows, *, tree_bed_m: float = 1.0, bed_m: float = 1.0, path_m: float = 0.5) -> Beds:
    """One tree bed on each row and one vegetable bed on each side of it; paths between, as between straight rows."""
    tree, veg, paths = [], [], []
    for row, line in zip(rows.frame["row"], rows.frame.geometry, strict=True):
        (x0, y), (x1, _) = line.coords
        length = x1 - x0
        half = tree_bed_m / 2

        def strip(low: float, high: float, x0: float = x0, x1: float = x1, y: float = y) -> tuple:
            return box(x0, y + low, x1, y + high), LineString([(x0, y + (low + high) / 2), (x1, y + (low + high) / 2)])

        tree.append((f"R{row:03d}-T", row, tree_bed_m, length, *strip(-half, half)))
        for side, sign in (("up", 1), ("down", -1)):
            a, b = half + path_m, half + path_m + bed_m
            low, high = (a, b) if sign > 0 else (-b, -a)
            veg.append((f"R{row:03d}-{side[0].upper()}1", row, bed_m, length, *strip(low, high), side))
            low, high = (half, a) if sign > 0 else (-a, -half)
            paths.append((f"R{row:03d}-{side[0].upper()}P", row, path_m, length, *strip(low, high)))
    return Beds(_strips(TREE_BEDS, tree), _strips(BEDS, veg), _strips(PATHS, paths, axis=False))


def _strips(spec, items, axis: bool = True):
    names, rows, widths, lengths, polygons, axes = (list(v) for v in list(zip(*items, strict=True))[:6])
    columns = {
        spec.columns[0]: names,
        "row": rows,
        "width_m": widths,
        "length_m": lengths,
        "area_m2": [p.area for p in polygons],
    }
    if spec is BEDS:
        sides = [item[6] for item in items]
        columns |= {
            "side": sides,
            "order": [1] * len(items),
            "facing_row": [
                max(r - 1, 0) if s == "up" else (r + 1 if r < max(rows) else 0)
                for r, s in zip(rows, sides, strict=True)
            ],
        }
    frame = spec.frame(columns, geometry=polygons, crs=UTM)
    return frame.assign(axis=gpd.GeoSeries(axes, crs=UTM)) if axis else frame
