"""Curved rows with beds, built by hand, for tests of marking and surveying."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import shapely
from builders import EAST, NORTH, UTM, plane
from shapely import LineString, MultiPolygon, Polygon, box

from geoagro.stakeout.marks import lay_marks
from geoagro.stakeout.places import needed_places
from geoagro.values.beds import BEDS, PATHS, TREE_BEDS, Beds
from geoagro.values.rows import TREE_ROWS, TreeRows
from geoagro.values.site import Exclusion
from geoagro.values.stakeout import StakeRule

__all__ = [
    "EAST",
    "NORTH",
    "NO_BEDS",
    "UTM",
    "StakeRule",
    "arc_rows",
    "beds_of",
    "lattice",
    "marks_along",
    "plane",
    "pond",
    "rows_from",
]

NO_BEDS = Beds(TREE_BEDS.empty(), BEDS.empty(), PATHS.empty())


def rows_from(lines: list[LineString], *, spacing_m: float = 4.5) -> TreeRows:
    """Number lines as rows; measures that marking doesn't read are left at zero."""
    n = len(lines)
    texts = {"up_rows": ["" if k == 0 else str(k) for k in range(n)]}
    texts["down_rows"] = ["" if k == n - 1 else str(k + 2) for k in range(n)]
    texts["name"] = [""] * n
    columns = {name: texts.get(name, np.zeros(n)) for name in TREE_ROWS.columns}
    columns |= {"row": np.arange(1, n + 1), "length_m": shapely.length(np.array(lines))}
    cut = gpd.GeoDataFrame({"reason": []}, geometry=gpd.GeoSeries([], crs=UTM), crs=UTM)
    return TreeRows(TREE_ROWS.frame(columns, geometry=lines, crs=UTM), spacing_m, cut)


def arc_rows(count: int = 6, *, spacing_m: float = 4.5, radius_m: float = 60.0, angle_deg: float = 90.0) -> TreeRows:
    """Concentric arcs on a hill to the north; the inner, upper row is row 1 and all run west to east."""
    lines = []
    for k in range(count):
        radius = radius_m + k * spacing_m
        angle = np.deg2rad(
            270 - angle_deg / 2 + np.linspace(0, angle_deg, round(radius * np.deg2rad(angle_deg) * 2) + 1)
        )
        lines.append(
            LineString(np.column_stack([EAST + 50 + radius * np.cos(angle), NORTH + 100 + radius * np.sin(angle)]))
        )
    return rows_from(lines, spacing_m=spacing_m)


def beds_of(rows: TreeRows, *, start_m: float = 0.0, end_m: float = 0.0) -> Beds:
    """A tree bed on each row, and one vegetable bed below it that begins and ends short of the row."""
    tree, below = [], []
    for line in rows.frame.geometry:
        tree.append(line.buffer(0.5, cap_style="flat"))
        part = shapely.ops.substring(line, start_m, line.length - end_m)
        below.append(part.buffer(-1.5, cap_style="flat", single_sided=True).difference(line.buffer(0.5)))
    n = len(tree)
    number = rows.frame["row"].to_numpy()
    strip = {"row": number, "width_m": np.ones(n), "length_m": shapely.length(rows.frame.geometry.to_numpy())}
    names = [f"R{k:03d}" for k in number]
    trees = strip | {"bed": [f"{name}-T" for name in names], "area_m2": [p.area for p in tree]}
    beds = strip | {
        "bed": [f"{name}-D1" for name in names],
        "area_m2": [p.area for p in below],
        "side": ["down"] * n,
        "order": np.ones(n),
        "facing_row": np.zeros(n),
    }
    return Beds(
        TREE_BEDS.frame(trees, geometry=tree, crs=UTM),
        BEDS.frame(beds, geometry=below, crs=UTM),
        PATHS.empty(UTM),
    )


def pond(x: float, y: float, size_m: float = 10.0) -> Exclusion:
    """A square pond with its south-west corner at (EAST + x, NORTH + y)."""
    area: Polygon = box(EAST + x, NORTH + y, EAST + x + size_m, NORTH + y + size_m)
    return Exclusion("pond", "exclusion", MultiPolygon([area]), 0.0)


def marks_along(rows: TreeRows, *, beds: Beds = NO_BEDS, exclusions=(), terrain=None, earlier=None, **rule):
    """Layer MARKS of rows, by default without beds, exclusions and heights."""
    chosen = StakeRule(**rule)
    return lay_marks(rows, needed_places(rows, beds, exclusions, chosen), terrain, chosen, earlier=earlier)


def lattice(nx=5, ny=4, step=10.0) -> np.ndarray:
    """Points on a lattice from 0, 0 on, row by row."""
    x, y = np.meshgrid(np.arange(nx) * step, np.arange(ny) * step)
    return np.column_stack([x.ravel(), y.ravel()])
