"""Narrow channels that rows can't cross: gullies, ditches, sunken ways, as polygons."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from contourpy import FillType, contour_generator
from scipy import ndimage
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from geoagro.arrays import Floats, Shapes
from geoagro.planar.strips import ribbon_length
from geoagro.terrain.incision import FEWEST_CELLS, Incision, incision
from geoagro.values.grid import Grid
from geoagro.values.ground import GULLIES
from geoagro.values.terrain import Terrain

WIDEST_SPACINGS = 3.0
"""What is wider is a valley that rows follow; our own choice."""
SHORTEST_SPACINGS, SHORTEST_WIDTHS = 5.0, 4.0
"""A channel reaches at least so far from end to end; what is shorter is a hollow. Our own choice."""
LEAST_DEPTH_M, OUTLINE_DEPTH_M = 0.3, 0.1
"""Rills up to about 0.3 m are worked over by tillage, deeper channels stay (a usual bound, from memory). The outline is
drawn where the ground lies 0.1 m below the banks."""
NOISE_SDS = 6.0
"""Depths below so many standard deviations of the survey's noise are taken for noise: of some hundred cells under a disc
the highest lies about 3 above the mean, and the lowest as far below."""
SHORT_CHORD_LIMITS = 1.5
"""Times the grade limit: what rows may reach over a few metres, as in the table of quality."""
_LEAST_DEEP = 0.2
"""Share of a channel's ground that is deep enough: with less, a few deep places hang on a long shallow line."""


def gullies(
    terrain: Terrain, boundary: MultiPolygon, *, spacing_m: float, max_grade_pct: float, kept_free: BaseGeometry
) -> gpd.GeoDataFrame:
    """Find channels in the field: layer GULLIES, the deepest first; empty where heights are unknown or cells too wide.

    Looked for on the heights as surveyed. A channel lies `LEAST_DEPTH_M` or more below both banks, clear of the survey's
    noise, is no wider than three row spacings, reaches over five spacings and four widths or more, and its sides are
    steeper than 1.5 times the grade limit. Steps, terraces, slopes and broad valleys have no second bank nearby.
    `kept_free` is ground that is an exclusion already; what of a channel lies there is told, so that the layer stays the
    same once the channels in it have become exclusions.
    """
    widest_m = WIDEST_SPACINGS * spacing_m
    if terrain.heights is None or terrain.heights.cell_m * FEWEST_CELLS > widest_m:
        return GULLIES.empty(terrain.crs)
    found = incision(terrain.heights, widest_m)
    least_m = max(LEAST_DEPTH_M, NOISE_SDS * found.noise_m)
    outlines = _outlines(found.depth, least_m, widest_m)
    cells = _deep_cells(found, outlines, least_m)
    channels = _measured(outlines, cells, found.depth.cell_m)
    steep = SHORT_CHORD_LIMITS * max_grade_pct / 100
    width = channels["width_m"]
    kept = channels[
        (channels["reach_m"] >= np.maximum(SHORTEST_SPACINGS * spacing_m, SHORTEST_WIDTHS * width))
        & (width <= widest_m)
        & (channels["typical_m"] > steep * width / 2)
        & (channels["deep_m2"] >= _LEAST_DEEP * channels["area_m2"])
    ]
    return _layer(kept, cells, boundary, kept_free, terrain)


def ribbons(outlines: Shapes) -> tuple[Floats, Floats]:
    """Length and mean width, metres, of the ribbons that have the outlines' area and perimeter.

    >>> [round(float(v[0]), 3) for v in ribbons(np.array([shapely.box(0, 0, 30, 2)]))]
    [30.0, 2.0]
    """
    length = ribbon_length(outlines)
    return length, shapely.area(outlines) / np.maximum(length, 1e-9)


def _outlines(depth: Grid, least_m: float, widest_m: float) -> Shapes:
    """Ground near what is deep enough, outlined between cell centres; islands narrower than a channel's bank are filled."""
    values = np.nan_to_num(depth.values)
    deep = values >= least_m
    if not deep.any():
        return np.array([], dtype=object)
    # a shallow line may go on for ever: the outline ends where no deep place is near
    near = ndimage.distance_transform_edt(~deep, sampling=depth.cell_m) <= widest_m / 2
    level_m = least_m * OUTLINE_DEPTH_M / LEAST_DEPTH_M
    generator = contour_generator(depth.x, depth.y, np.where(near, values, 0.0), fill_type=FillType.OuterOffset)
    filled: Any = generator.filled(level_m, float(values.max()) + 1.0)
    rings = [[xy[a:b] for a, b in pairwise(offsets)] for xy, offsets in zip(*filled, strict=True)]
    island_m2 = (widest_m / 3) ** 2
    patches = [Polygon(outer, [ring for ring in inner if Polygon(ring).area > island_m2]) for outer, *inner in rings]
    parts = shapely.get_parts(shapely.make_valid(np.array(patches, dtype=object)))
    parts = shapely.simplify(parts[shapely.get_type_id(parts) == shapely.GeometryType.POLYGON], depth.cell_m / 4)
    return np.asarray(parts[shapely.area(parts) > depth.cell_m**2], dtype=object)


def _deep_cells(found: Incision, outlines: Shapes, least_m: float) -> pd.DataFrame:
    """Cells that are deep enough, with the outline that each lies in."""
    row, column = np.nonzero(np.nan_to_num(found.depth.values) >= least_m)
    x, y = found.depth.x[column], found.depth.y[row]
    cell, outline = shapely.STRtree(outlines).query(shapely.points(x, y), predicate="intersects")
    depth, banks = found.depth.values[row, column], found.banks.values[row, column]
    return pd.DataFrame(
        {"outline": outline, "x": x[cell], "y": y[cell], "depth_m": depth[cell], "banks_m": banks[cell]}
    )


def _measured(outlines: Shapes, cells: pd.DataFrame, cell_m: float) -> pd.DataFrame:
    """One line for each outline that holds deep cells, by its number."""
    groups = cells.groupby("outline")
    number = np.unique(cells["outline"].to_numpy())
    held = outlines[number]
    _, width = ribbons(held)
    return pd.DataFrame(
        {
            "outline": held,
            "reach_m": 2 * shapely.minimum_bounding_radius(held),
            "width_m": width,
            "area_m2": shapely.area(held),
            "typical_m": groups["depth_m"].median().to_numpy(),
            "deep_m2": groups.size().to_numpy() * cell_m**2,
            "fall_m": (groups["banks_m"].max() - groups["banks_m"].min()).to_numpy(),
        },
        index=number,
    )


def _layer(
    channels: pd.DataFrame, cells: pd.DataFrame, boundary: MultiPolygon, kept_free: BaseGeometry, terrain: Terrain
) -> gpd.GeoDataFrame:
    """Cut channels to the field; depth and place are those of the deepest place inside."""
    inside = cells[shapely.intersects_xy(boundary, cells["x"], cells["y"])]
    deepest = inside.sort_values("depth_m", kind="stable").groupby("outline").last()
    kept = channels[channels.index.isin(deepest.index)]
    deepest = deepest.loc[kept.index]
    cut = shapely.intersection(np.asarray(kept["outline"], dtype=object), boundary)
    shapes = [_multi(one) for one in cut]
    area = shapely.area(np.array(shapes, dtype=object))
    order = np.lexsort((deepest["x"], -deepest["depth_m"]))
    columns = {
        "depth_m": deepest["depth_m"],
        "width_m": kept["width_m"],
        "length_m": area / kept["width_m"],
        "fall_m": kept["fall_m"],
        "area_m2": area,
        "kept_free_m2": shapely.area(shapely.intersection(np.array(shapes, dtype=object), kept_free)),
        "deepest_x": deepest["x"],
        "deepest_y": deepest["y"],
    }
    return GULLIES.frame(
        {"gully": np.arange(1, len(order) + 1), **{name: np.asarray(v)[order] for name, v in columns.items()}},
        geometry=[shapes[k] for k in order],
        crs=terrain.crs,
    )


def _multi(area: BaseGeometry) -> MultiPolygon:
    return MultiPolygon([part for part in shapely.get_parts(area) if part.geom_type == "Polygon"])
