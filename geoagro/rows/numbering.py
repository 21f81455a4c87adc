"""Turn loose lines into numbered rows that know their neighbours."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import scipy.sparse as sp
import shapely
from pyproj import CRS
from scipy.sparse.csgraph import breadth_first_order, connected_components, minimum_spanning_tree
from scipy.sparse.linalg import spsolve
from shapely import LineString

from geoagro.arrays import Bools, Floats, Ints
from geoagro.planar.polylines import Polylines
from geoagro.rows.quality import NEIGHBOUR_REACH, SEARCH_STEP_M, RowView, view_rows, window_radius
from geoagro.rows.sampling import sample_rows
from geoagro.values.grid import Grid
from geoagro.values.rows import TREE_ROWS, Lines, TreeRows

LEAST_SHARED_M = 6.0
"""Rows that face each other along less than this aren't called neighbours."""
LEVEL_SLOPE = 0.002
"""Ground flatter than this across a row has no upslope side; noise must not turn rows against each other."""


def number_rows(lines: Lines, *, heights: Grid | None, spacing_m: float, crs: CRS | None) -> TreeRows:
    """Orient rows with the upslope side on the left, number them from the top, and measure each.

    Parameters
    ----------
    heights
        The surface that rows are judged on (Terrain.judged); without heights and on level ground "up" is the left
        of rows that run west to east (south to north where they run straight north).
    """
    rows = _upslope_left(lines.kept, heights)
    order = _order(rows, view_rows(rows, None, spacing_m, near_m=0.0, step_m=SEARCH_STEP_M), heights, spacing_m)
    rows = [rows[k] for k in order]
    view = view_rows(rows, heights, spacing_m, near_m=0.0)
    frame = TREE_ROWS.frame(_columns(rows, view, heights, spacing_m), geometry=rows, crs=crs)
    reasons = {"reason": np.array([reason for reason, _ in lines.cut], dtype=object)}
    cut = gpd.GeoDataFrame(reasons, geometry=gpd.GeoSeries([line for _, line in lines.cut], crs=crs), crs=crs)
    return TreeRows(frame, spacing_m, cut)


def _upslope_left(lines: Sequence[LineString], heights: Grid | None) -> list[LineString]:
    """Reverse rows whose right side is the higher one; where neither side is, rows that run west."""
    if not lines:
        return []
    rise = _rise_to_left(lines, heights)
    ends = shapely.get_point(np.asarray(lines, dtype=object), [[0], [-1]])
    east = shapely.get_x(ends[1]) - shapely.get_x(ends[0])
    north = shapely.get_y(ends[1]) - shapely.get_y(ends[0])
    runs_west = (east < -1e-9) | ((np.abs(east) <= 1e-9) & (north < 0))
    wrong = np.where(np.abs(rise) < LEVEL_SLOPE, runs_west, rise < 0)
    return [line.reverse() if turn else line for line, turn in zip(lines, wrong, strict=True)]


def _rise_to_left(lines: Sequence[LineString], heights: Grid | None) -> Floats:
    """Mean slope (ratio) across each row, positive where the left side is the higher one; 0 without heights."""
    if heights is None:
        return np.zeros(len(lines))
    samples = sample_rows(lines, 2.0)
    left = heights.sample(samples.x - samples.ty, samples.y + samples.tx)
    right = heights.sample(samples.x + samples.ty, samples.y - samples.tx)
    rise = np.nan_to_num((left - right) / 2.0) * samples.weight
    return np.bincount(samples.row, weights=rise, minlength=len(lines)) / samples.row_length


def _shared_lengths(view: RowView, spacing_m: float) -> Any:
    """Table of (row, other row, side, length along which they face each other)."""
    parts = []
    for side, hits in (("up", view.up), ("down", view.down)):
        found = hits.distance <= NEIGHBOUR_REACH * spacing_m
        parts.append(
            pd.DataFrame(
                {
                    "row": view.samples.row[found],
                    "other": hits.line[found],
                    "side": side,
                    "shared_m": view.samples.weight[found],
                }
            )
        )
    table = pd.concat(parts).groupby(["row", "other", "side"], as_index=False, sort=True)["shared_m"].sum()
    return table[table["row"] != table["other"]]


def _order(rows: Sequence[LineString], view: RowView, heights: Grid | None, spacing_m: float) -> Any:
    """Give each row a place in the stack (one more than the row before it, in the mean square) and sort by it.

    For this, rows are first turned so that neighbours run the same way: numbers then go on across a ridge, where the
    upslope side changes from left to right. Each stack begins at its higher end; parts of the field that don't face
    each other are stacked one after another, highest first.
    """
    count = len(rows)
    if count == 0:
        return np.zeros(0, dtype=np.intp)
    turned = _turned(rows, view, spacing_m)
    table = _shared_lengths(view, spacing_m)
    row, other = (np.asarray(table[name], dtype=np.intp) for name in ("row", "other"))
    other_is_up = np.asarray(table["side"] == "up") ^ turned[row]
    upper, lower = np.where(other_is_up, other, row), np.where(other_is_up, row, other)
    weight = np.asarray(table["shared_m"], dtype=float)
    edge = np.arange(len(upper))
    step = sp.csr_matrix(
        (np.concatenate([np.ones(len(edge)), -np.ones(len(edge))]), (np.tile(edge, 2), np.concatenate([lower, upper]))),
        shape=(len(edge), count),
    )
    normal = step.T @ sp.diags(weight) @ step + 1e-9 * sp.identity(count)
    place = np.atleast_1d(spsolve(normal.tocsc(), step.T @ weight))
    _, block = connected_components(sp.csr_matrix((weight, (upper, lower)), shape=(count, count)), directed=False)
    block_of: Ints = block.astype(np.int64)
    top = _block_tops(rows, block_of, heights)
    place = _from_the_top(place, block_of, _mean_heights(rows, heights))
    middle = shapely.line_interpolate_point(np.asarray(rows, dtype=object), 0.5, normalized=True)
    return np.lexsort((shapely.get_y(middle), shapely.get_x(middle), np.round(place, 3), block, -top[block]))


def _turned(rows: Sequence[LineString], view: RowView, spacing_m: float) -> Bools:
    """Tell which rows to reverse, so that those which face each other along most length run the same way."""
    s, count, lines = view.samples, len(rows), Polylines.read(rows)
    i, j, agree = [], [], []
    for hits in (view.up, view.down):
        found = hits.distance <= NEIGHBOUR_REACH * spacing_m
        other, station = hits.line[found], hits.station[found]
        way = lines.at(other, station + 1.0) - lines.at(other, np.maximum(station - 1.0, 0.0))
        i.append(s.row[found])
        j.append(other)
        agree.append(s.weight[found] * np.sign(way[:, 0] * s.tx[found] + way[:, 1] * s.ty[found]))
    shape = (count, count)
    ends = (np.concatenate([*i, *j]), np.concatenate([*j, *i]))
    both = np.concatenate([*agree, *agree])
    signed = sp.csr_matrix((both, ends), shape=shape)
    shared = sp.csr_matrix((np.abs(both), ends), shape=shape)
    longest = shared.copy()
    longest.data = 1.0 / np.maximum(shared.data, 1e-9)
    tree = minimum_spanning_tree(longest)
    turned = np.zeros(count, dtype=bool)
    seen = np.zeros(count, dtype=bool)
    for root in range(count):
        if seen[root]:
            continue
        order, before = breadth_first_order(tree, root, directed=False)
        seen[order] = True
        for row in order[1:]:
            turned[row] = turned[before[row]] ^ bool(signed[row, before[row]] < 0)
    return turned


def _from_the_top(place: Floats, block: Ints, level: Floats) -> Floats:
    """Count each stack from its higher end; a stack whose heights don't tell keeps its way."""
    known = np.isfinite(level)
    count = int(block.max()) + 1
    size = np.maximum(np.bincount(block[known], minlength=count), 1)

    def away(values: Floats) -> Floats:
        mean = np.bincount(block[known], weights=values[known], minlength=count) / size
        away: Floats = np.where(known, values - mean[block], 0.0)
        return away

    rises = np.bincount(block, weights=away(place) * away(np.nan_to_num(level)), minlength=count) > 1e-9
    return np.where(rises[block], -place, place)


def _block_tops(rows: Sequence[LineString], block: Ints, heights: Grid | None) -> Floats:
    level = _mean_heights(rows, heights)
    if heights is None:
        level = shapely.length(np.asarray(rows, dtype=object))
    top = np.full(int(block.max()) + 1, -np.inf)
    np.maximum.at(top, block, np.nan_to_num(level, nan=-1e9))
    return top


def _mean_heights(rows: Sequence[LineString], heights: Grid | None) -> Floats:
    samples = sample_rows(rows, 2.0)
    if heights is None:
        return np.full(len(rows), np.nan)
    z = heights.sample(samples.x, samples.y)
    known = np.isfinite(z)
    total = np.bincount(samples.row[known], weights=(z * samples.weight)[known], minlength=len(rows))
    length = np.bincount(samples.row[known], weights=samples.weight[known], minlength=len(rows))
    return np.where(length > 0, total / np.maximum(length, 1e-12), np.nan)


def _columns(rows: Sequence[LineString], view: RowView, heights: Grid | None, spacing_m: float) -> dict[str, Any]:
    s = view.samples
    measured = pd.DataFrame(
        {
            "row": s.row,
            "grade": view.grade * 100,
            "up": np.where(np.isfinite(view.up.distance), view.up.distance, np.nan),
            "down": np.where(np.isfinite(view.down.distance), view.down.distance, np.nan),
            "radius": window_radius(rows, s),
        }
    ).groupby("row")
    table = _shared_lengths(view, spacing_m)
    columns: dict[str, Any] = {
        "row": np.arange(1, len(rows) + 1),
        "length_m": s.row_length,
        "elevation_m": _mean_heights(rows, heights),
    }
    for name, share in (("p50", 0.5), ("p95", 0.95), ("max", 1.0)):
        columns[f"grade_{name}_pct"] = _each(measured["grade"].quantile(share), len(rows))
    for side in ("up", "down"):
        for name, share in (("p05", 0.05), ("p50", 0.5), ("p95", 0.95)):
            columns[f"{side}_{name}_m"] = _each(measured[side].quantile(share), len(rows))
    columns["min_radius_m"] = _each(measured["radius"].min(), len(rows))
    for side in ("up", "down"):
        columns[f"{side}_rows"] = _neighbours(table, side, len(rows))
    columns |= {"name": [""] * len(rows), "by_hand": np.zeros(len(rows), dtype=bool)}
    return columns


def _each(values: pd.Series, count: int) -> Floats:
    return np.asarray(values.reindex(np.arange(count)), dtype=float)


def _neighbours(table: Any, side: str, count: int) -> list[str]:
    near = table[(table["side"] == side) & (table["shared_m"] >= LEAST_SHARED_M)]
    found: list[list[int]] = [[] for _ in range(count)]
    for row, other in zip(near["row"], near["other"], strict=True):
        found[row].append(int(other) + 1)
    return [",".join(map(str, sorted(others))) for others in found]
