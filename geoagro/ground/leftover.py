"""Ground that carries neither bed nor path, each part with its reason."""

from __future__ import annotations

from collections.abc import Sequence

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from shapely import LineString, MultiPolygon
from shapely.geometry.base import BaseGeometry

from geoagro.arrays import Floats, Ints, Shapes
from geoagro.planar.cutting import (
    SLIVER_M2,
    cut_at_lines,
    on_grid,
    parts_of,
    subtract,
    union_of,
    within,
    without,
)
from geoagro.values.beds import Beds
from geoagro.values.ground import UNPLANTED, Ground
from geoagro.values.reasons import LEFTOVER

_TILE_M = 60.0
_SMALLEST_M2 = 1e-4


def leftover_ground(
    ground: Ground,
    beds: Beds,
    cut: gpd.GeoDataFrame,
    *,
    spacing_m: float,
    skipped: tuple[Shapes, Sequence[str]] | None = None,
) -> gpd.GeoDataFrame:
    """Everything that is not tree bed, vegetable bed or path.

    Parameters
    ----------
    ground
        The field split into plantable and unplanted.
    beds
        Strips laid on the plantable ground.
    cut
        Frame with `reason` and line geometry: pieces of row that a limit forbade.
    spacing_m
        Row spacing, metres: ground within half of it from a cut piece is left for that piece's reason.
    skipped
        Polygons of beds that the design leaves out, and the reason of each.

    Returns
    -------
    Layer UNPLANTED in the field's CRS: `ground.unplanted`, then what the rows left, by reason ("row_margin"
    where nothing was cut). With the strips it adds up to the field.
    """
    layers = [f.geometry.to_numpy() for f in (beds.tree_beds, beds.beds, beds.paths)]
    shapes, reasons = skipped or (np.array([], dtype=object), ())
    left = _left(ground, np.concatenate([*layers, shapes]), cut, spacing_m, are_apart=True)
    if not len(shapes):
        return without_slivers(left)
    columns = {"reason": list(reasons), "area_m2": shapely.area(shapes)}
    more = UNPLANTED.frame(columns, geometry=shapes, crs=ground.unplanted.crs)
    return without_slivers(pd.concat([left, more], ignore_index=True) if len(left) else more)


def without_slivers(unplanted: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """Layer UNPLANTED without features under 0.1 m2: each joins the nearest one of its reason, or of any, as a part of it."""
    small = (unplanted["area_m2"] < SLIVER_M2).to_numpy()
    if not small.any() or small.all():
        return unplanted
    shapes, reason = unplanted.geometry.to_numpy(), unplanted["reason"].to_numpy()
    joins: dict[int, list[BaseGeometry]] = {}
    for code in dict.fromkeys(reason[small]):
        slivers = np.flatnonzero(small & (reason == code))
        whole = np.flatnonzero(~small & (reason == code))
        whole = whole if len(whole) else np.flatnonzero(~small)
        nearest = shapely.STRtree(shapes[whole]).query_nearest(shapes[slivers], all_matches=False)
        for sliver, near in zip(slivers[nearest[0]], whole[nearest[1]], strict=True):
            joins.setdefault(int(near), []).append(shapes[sliver])
    shapes = shapes.copy()
    for near, joining in joins.items():
        shapes[near] = _with_parts(shapes[near], joining)
    kept = unplanted["reason"].to_numpy()[~small]
    columns = {"reason": kept, "area_m2": shapely.area(shapes[~small])}
    return UNPLANTED.frame(columns, geometry=shapes[~small], crs=unplanted.crs)


def _with_parts(shape: BaseGeometry, slivers: Sequence[BaseGeometry]) -> BaseGeometry:
    """One shape of all; where they touch, one polygon."""
    return union_of(np.array([shape, *slivers], dtype=object))


def ground_without_rows(
    ground: Ground,
    rows: Sequence[LineString],
    cut: gpd.GeoDataFrame,
    *,
    spacing_m: float,
    tolerance: float,
    own_spacing_m: Floats | None = None,
) -> gpd.GeoDataFrame:
    """Everything that no row serves, as layer UNPLANTED: what beds would find before they are laid.

    A row serves the ground square to it as far as half the widest distance to a neighbour, which is the spacing
    and its tolerance (a share); `own_spacing_m` gives each row another spacing. Reasons as in `leftover_ground`.
    """
    reach = (1 + tolerance) * (spacing_m if own_spacing_m is None else own_spacing_m) / 2
    served = on_grid(shapely.buffer(np.array(rows, dtype=object), reach, cap_style="flat"))
    return without_slivers(_left(ground, served, cut, spacing_m, are_apart=False))


def _left(
    ground: Ground, strips: Shapes, cut: gpd.GeoDataFrame, spacing_m: float, *, are_apart: bool
) -> gpd.GeoDataFrame:
    """Ground without strips by reason; `are_apart` says that no two of the strips lie over each other."""
    crs = ground.unplanted.crs
    bare = _bare(ground.plantable, strips, are_apart=are_apart)
    rest, _ = parts_of(shapely.get_parts(shapely.union_all(bare)), _SMALLEST_M2)
    shapes, reasons = _by_reason(rest, cut, spacing_m / 2)
    columns = {"reason": reasons, "area_m2": shapely.area(shapes)}
    mine = UNPLANTED.frame(columns, geometry=shapes, crs=crs)
    if len(ground.unplanted) == 0:
        return mine
    return pd.concat([ground.unplanted, mine], ignore_index=True) if len(mine) else ground.unplanted


def _bare(plantable: MultiPolygon, strips: Shapes, *, are_apart: bool) -> Shapes:
    """Plantable ground less all strips, tile by tile."""
    west, south, east, north = plantable.bounds
    x, y = (np.linspace(a, b, max(2, int(np.ceil((b - a) / _TILE_M)) + 1)) for a, b in ((west, east), (south, north)))
    tiles, number = _tiles(plantable, x, y)
    cut, column, row = cut_at_lines(strips, x, y)
    tile = number[row, column]
    some = (tile >= 0) & (shapely.area(cut) > 0)
    cut, tile = cut[some], tile[some]
    if are_apart:  # where they make up a tile, nothing is left of it
        gone_m2 = np.bincount(tile, weights=shapely.area(cut), minlength=len(tiles))
        left = np.abs(shapely.area(tiles) - gone_m2) > _SMALLEST_M2 / 2
        some = left[tile]
        tiles, cut, tile = tiles[left], cut[some], (np.cumsum(left) - 1)[tile[some]]
    return subtract(tiles, (tile, np.arange(len(tile))), cut, apart=are_apart)


def _tiles(area: MultiPolygon, x: Floats, y: Floats) -> tuple[Shapes, Ints]:
    """Ground in each tile between lines at x and y, and its number by row and column; -1 where there is none."""
    x0, y0 = np.meshgrid(x[:-1], y[:-1])
    x1, y1 = np.meshgrid(x[1:], y[1:])
    boxes = on_grid(shapely.box(x0.ravel(), y0.ravel(), x1.ravel(), y1.ravel()))
    shapely.prepare(area)
    here = np.asarray(shapely.intersects(area, boxes))
    number = np.where(here, np.cumsum(here) - 1, -1).reshape(x0.shape).astype(np.int64)
    boxes = boxes[here]
    edge = ~shapely.covers(area, boxes)
    boxes[edge] = within(boxes[edge], area)
    return boxes, number


def _by_reason(rest: Shapes, cut: gpd.GeoDataFrame, reach_m: float) -> tuple[Shapes, list[str]]:
    """Give the ground near cut pieces their reason, in alphabetical order, and the others row_margin."""
    shapes: list[BaseGeometry] = []
    reasons: list[str] = []
    for reason in sorted(set(cut["reason"])):
        lines = cut.geometry[cut["reason"] == reason].to_numpy()
        near = on_grid(shapely.buffer(lines, reach_m))
        pairs = shapely.STRtree(near).query(rest, predicate="intersects")
        away = subtract(rest, (pairs[0], pairs[1]), near)
        hit = np.unique(pairs[0])
        taken, _ = parts_of(without(rest[hit], away[hit]), _SMALLEST_M2)
        shapes.extend(taken)
        reasons.extend([reason] * len(taken))
        rest, _ = parts_of(away, _SMALLEST_M2)
    shapes.extend(rest)
    return np.array(shapes, dtype=object), reasons + [LEFTOVER] * len(rest)
