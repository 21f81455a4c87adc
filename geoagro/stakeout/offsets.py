"""Marking without a receiver: tape from row to row, offsets from a baseline, height differences to check."""

from __future__ import annotations

from typing import Literal

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from scipy.spatial.distance import pdist, squareform
from shapely import STRtree

from geoagro.arrays import Floats, Ints, Shapes
from geoagro.stakeout.records.stakes import BASELINE_OFFSETS, LEVELS, TAPE_OFFSETS, Baseline
from geoagro.values.rows import TreeRows
from geoagro.values.terrain import Terrain

_REACH = 1.6  # spacings; a row farther away than this isn't taped to
_TURNS = {"up": -90.0, "down": 90.0}  # the upslope side is on the left


def tape_offsets(rows: TreeRows, marks: gpd.GeoDataFrame, terrain: Terrain | None) -> pd.DataFrame:
    """Build table TAPE_OFFSETS: from each mark at right angles to its row to the next row on either side."""
    lines = rows.frame.geometry.to_numpy()
    numbers = rows.frame["row"].to_numpy()
    own = np.searchsorted(numbers, marks["row"].to_numpy())
    parts = [_one_side(lines, marks, own, side, reach_m=_REACH * rows.spacing_m) for side in _TURNS]
    table = pd.concat(parts).sort_values(["at", "side"], ascending=[True, False], kind="stable", ignore_index=True)
    at, to = table["at"].to_numpy(), table["to"].to_numpy()
    x, y, z = marks["x"].to_numpy()[at], marks["y"].to_numpy()[at], marks["z"].to_numpy()[at]
    level = np.hypot(table["x"] - x, table["y"] - y)
    heights = None if terrain is None else terrain.heights
    rise = np.full(len(table), np.nan) if heights is None else heights.sample(table["x"], table["y"]) - z
    station = shapely.line_locate_point(lines[to], shapely.points(table["x"], table["y"]))
    near = _nearest_mark(marks, numbers[to], station)
    return TAPE_OFFSETS.frame(
        {
            "stake": marks["stake"].to_numpy()[at],
            "row": marks["row"].to_numpy()[at],
            "to_row": numbers[to],
            "side": table["side"].to_numpy(),
            "level_m": level,
            "ground_m": np.hypot(level, rise),
            "rise_m": rise,
            "to_station_m": station,
            "near_stake": marks["stake"].to_numpy()[near],
            "from_near_stake_m": station - marks["station_m"].to_numpy()[near],
        }
    )


def _one_side(lines: Shapes, marks: gpd.GeoDataFrame, own: Ints, side: str, *, reach_m: float) -> pd.DataFrame:
    """Where a tape at right angles first meets another row."""
    start = marks[["x", "y"]].to_numpy()
    direction = np.radians(marks["bearing_deg"].to_numpy() + _TURNS[side])
    end = start + reach_m * np.column_stack([np.sin(direction), np.cos(direction)])
    tapes = np.asarray(shapely.linestrings(np.stack([start, end], axis=1)), dtype=object)
    at, to = STRtree(lines).query(tapes, predicate="intersects")
    at, to = at[to != own[at]], to[to != own[at]]
    crossings = np.asarray(shapely.intersection(tapes[at], lines[to]), dtype=object)
    met = shapely.get_coordinates(shapely.shortest_line(shapely.points(start[at]), crossings)).reshape(-1, 2, 2)[:, 1]
    table = pd.DataFrame({"at": at, "to": to, "x": met[:, 0], "y": met[:, 1], "side": side})
    away = np.hypot(*(met - start[at]).T)
    return table.assign(away=away).sort_values(["at", "away"], kind="stable").drop_duplicates("at")


def _nearest_mark(marks: gpd.GeoDataFrame, row: Ints, station: Floats) -> Ints:
    """Position of the mark of `row` whose station is nearest, for each pair."""
    # rows are spread out along one axis, so that one search serves all of them
    longest = float(max(marks["station_m"].max(), station.max() if len(station) else 0.0)) + 1.0
    axis = marks["row"].to_numpy() * 3 * longest + marks["station_m"].to_numpy()
    wanted = row * 3 * longest + station
    after = np.clip(np.searchsorted(axis, wanted), 1, len(axis) - 1)
    return np.where(wanted - axis[after - 1] <= axis[after] - wanted, after - 1, after)


def choose_baseline(
    marks: gpd.GeoDataFrame, wanted: Literal["auto"] | tuple[tuple[float, float], tuple[float, float]]
) -> Baseline:
    """Take the user's two points, or the two row ends that lie farthest apart."""
    if wanted != "auto":
        return Baseline(wanted[0], wanted[1], "A", "B")
    ends = marks[marks["kind"].isin(["row_end", "exclusion_edge"])]
    xy = ends[["x", "y"]].to_numpy()
    hull = shapely.get_coordinates(shapely.convex_hull(shapely.multipoints(xy)))
    apart = squareform(pdist(hull))
    a, b = (hull[k] for k in np.unravel_index(int(apart.argmax()), apart.shape))
    names = [str(ends["stake"].iloc[int(np.hypot(*(xy - peg).T).argmin())]) for peg in (a, b)]
    return Baseline((float(a[0]), float(a[1])), (float(b[0]), float(b[1])), *names)


def baseline_offsets(marks: gpd.GeoDataFrame, baseline: Baseline) -> pd.DataFrame:
    """Build table BASELINE_OFFSETS: along the line from A to B and at right angles to it."""
    a, b = np.asarray(baseline.a), np.asarray(baseline.b)
    unit = (b - a) / np.hypot(*(b - a))
    from_a = marks[["x", "y"]].to_numpy() - a
    left = unit[0] * from_a[:, 1] - unit[1] * from_a[:, 0]
    return BASELINE_OFFSETS.frame(
        {
            "stake": marks["stake"],
            "row": marks["row"],
            "baseline_m": from_a @ unit,
            "offset_m": np.abs(left),
            "side": np.where(left >= 0, "left", "right"),
            "from_a_m": np.hypot(*from_a.T),
            "from_b_m": np.hypot(*(marks[["x", "y"]].to_numpy() - b).T),
        }
    )


def level_checks(marks: gpd.GeoDataFrame, *, a_frame_m: float) -> pd.DataFrame:
    """Build table LEVELS: expected rise from each mark to the next of its row."""
    row, name, z = (marks[key].to_numpy() for key in ("row", "stake", "z"))
    pair = np.flatnonzero(row[1:] == row[:-1])
    distance = marks["tape_m"].to_numpy()[pair + 1]
    rise = z[pair + 1] - z[pair]
    return LEVELS.frame(
        {
            "row": row[pair],
            "from_stake": name[pair],
            "to_stake": name[pair + 1],
            "distance_m": distance,
            "rise_m": rise,
            "grade_pct": 100 * rise / distance,
            "a_frame_mm": 1000 * a_frame_m * rise / distance,
        }
    )
