"""How fast a recipe is placed and analysed, and how time grows; beside it the same points by plain numpy.

Run: python scripts/bench_plants.py [hectares ...]
"""

import sys
import time
import tracemalloc

import geopandas as gpd
import numpy as np
import shapely
from pyproj import CRS

from geoagro.plants.analysis import analyse_recipe
from geoagro.plants.placement import place_plants
from geoagro.values.beds import BEDS, PATHS, TREE_BEDS, Beds
from geoagro.values.grid import Grid
from geoagro.values.recipe import Crop, Planting
from geoagro.values.terrain import Terrain

UTM = CRS.from_epsg(32633)
STEP_M, ROW_M, LENGTH_M = 0.3, 4.5, 300.0
SIZES = {"canopy_width_m": 0.5, "root_reach_m": 0.3, "full_size_weeks": 8.0, "root_opening_deg": 120.0}
CROP = {
    "c": Crop(spacing_m=STEP_M, stratum="low", harvest_weeks=(16, 24), **SIZES),
    "t": Crop(spacing_m=3.0, stratum="high", harvest_weeks=(150, 500), **SIZES),
}
PLANTINGS = [
    Planting(crop="c", bed="vegetable", lines=3, stagger=True, direction="uphill"),
    Planting(crop="t", bed="tree"),
]
AUTO = [PLANTINGS[0].model_copy(update={"direction": "auto"}), PLANTINGS[1]]


def wavy_axes(hectares: float) -> np.ndarray:
    """Row axes 300 m long that bend as contours do, a vertex every 2 m."""
    n = max(1, round(hectares * 1e4 / LENGTH_M / ROW_M))
    x = np.arange(0, LENGTH_M + 1, 2.0)
    y = np.arange(n)[:, None] * ROW_M + 8 * np.sin(x / 40)
    xy = np.stack([np.broadcast_to(x + 5e5, y.shape), y + 5e6], axis=-1).reshape(-1, 2)
    return shapely.linestrings(xy, indices=np.repeat(np.arange(n), len(x)))


def beds_along(axes: np.ndarray) -> Beds:
    """Lay a tree bed on each axis and a vegetable bed on each side."""
    n = len(axes)
    up, down = (shapely.offset_curve(axes, d) for d in (1.5, -1.5))
    row = np.arange(1, n + 1)
    tree = _strips(TREE_BEDS, axes, row, [f"R{k:03d}-T" for k in row], {})
    names = [f"R{k:03d}-{s}1" for s in "UD" for k in row]
    more = {"side": ["up"] * n + ["down"] * n, "order": [1] * 2 * n, "facing_row": [1] * 2 * n}
    veg = _strips(BEDS, np.concatenate([up, down]), np.tile(row, 2), names, more)
    return Beds(tree, veg, PATHS.empty(UTM))


def _strips(spec, axes, row, names, more):
    area = shapely.buffer(axes, 0.5, cap_style="flat")
    columns = {"bed": names, "row": row, "width_m": np.ones(len(axes))}
    columns |= {"length_m": shapely.length(axes), "area_m2": shapely.area(area)} | more
    return spec.frame(columns, geometry=area, crs=UTM).assign(axis=gpd.GeoSeries(axes, crs=UTM))


def terrain_under(beds: Beds) -> Terrain:
    """Put a tilted plane under the beds."""
    west, south, east, north = beds.beds.total_bounds
    shape = (int((north - south) / 2) + 10, int((east - west) / 2) + 10)
    grid = Grid(np.zeros(shape), west - 5, north + 5, 2.0, UTM)
    heights = grid.with_values(np.repeat(0.1 * grid.y[:, None], shape[1], axis=1))
    return Terrain(heights, grid.with_values(np.full(shape, 180.0)), heights, heights, 0.0, "a plane")


def plain(count: int) -> float:
    """Seconds that numpy alone needs for as many points on straight lines, geometry included."""
    began = time.perf_counter()
    per_line = round(LENGTH_M / STEP_M)
    lines = -(-count // per_line)
    x = np.tile(STEP_M * (np.arange(per_line) + 0.5), lines)[:count]
    y = np.repeat(np.arange(lines) * 0.33, per_line)[:count]
    shapely.points(x, y)
    return time.perf_counter() - began


def main() -> None:
    print("hectares     plants  place s  plants/s  peak MB  numpy s  times numpy  with auto s  analysis s")
    for hectares in [float(a) for a in sys.argv[1:]] or [1.0, 10.0, 50.0]:
        beds = beds_along(wavy_axes(hectares))
        ground = terrain_under(beds)
        began = time.perf_counter()
        plants = place_plants(beds, ground, CROP, PLANTINGS)
        seconds = time.perf_counter() - began
        began = time.perf_counter()
        analyse_recipe(plants, beds, CROP, PLANTINGS)
        analysis = time.perf_counter() - began
        count = len(plants.frame)
        del plants
        began = time.perf_counter()
        place_plants(beds, ground, CROP, AUTO)
        auto = time.perf_counter() - began
        peak = peak_mb(beds, ground)
        base = plain(count)
        print(
            f"{hectares:8.1f}  {count:9d}  {seconds:7.2f}  {count / seconds:8.0f}  {peak:7.0f}  {base:7.3f}  "
            f"{seconds / base:11.1f}  {auto:11.2f}  {analysis:10.2f}"
        )


def peak_mb(beds: Beds, ground: Terrain) -> float:
    """Peak memory of placing, megabytes, as Python counts it."""
    tracemalloc.start()
    place_plants(beds, ground, CROP, PLANTINGS)
    peak = tracemalloc.get_traced_memory()[1] / 1e6
    tracemalloc.stop()
    return peak


if __name__ == "__main__":
    main()
