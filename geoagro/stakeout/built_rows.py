"""Rows as built: through surveyed stakes or from traces, how far off, how far apart, and which are missing."""

from __future__ import annotations

from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray
from shapely import LineString, STRtree
from shapely.geometry.base import BaseGeometry

from geoagro.arrays import Floats, Ints, Shapes
from geoagro.stakeout.matching import Pairs
from geoagro.stakeout.records.as_built import MARKS_ASBUILT, ROWS_ASBUILT, ROWS_FOUND
from geoagro.values.rows import TreeRows

_STEP_M = 1.0
_FOUND, _PART = 0.9, 0.05
_NEAR_END_M = 1.0  # a trace begun or ended this near to a row's end covers it (our own choice)


def marks_as_built(marks: gpd.GeoDataFrame, points: gpd.GeoDataFrame, pairs: Pairs) -> pd.DataFrame:
    """Build layer MARKS_ASBUILT: every stake of the design, with its offset along and across the row where found."""
    n = len(marks)
    designed = marks[["x", "y"]].to_numpy()
    built, found = designed.copy(), np.zeros(n, dtype=bool)
    seen = points[["x", "y"]].to_numpy()[pairs.survey]
    measured = np.zeros(n, dtype=bool)
    measured[pairs.design] = np.isfinite(seen).all(axis=1)
    built[measured] = seen[np.isfinite(seen).all(axis=1)]
    found[pairs.design] = True
    by, name = np.full(n, "", dtype=object), np.full(n, "", dtype=object)
    by[pairs.design], name[pairs.design] = pairs.by, points["name"].to_numpy()[pairs.survey]
    off = np.where(measured[:, None], built - designed, np.nan)
    ahead = np.radians(marks["bearing_deg"].to_numpy())
    sin, cos = np.sin(ahead), np.cos(ahead)
    return MARKS_ASBUILT.frame(
        {
            "stake": marks["stake"],
            "row": marks["row"],
            "found": found,
            "matched_by": by,
            "survey_name": name,
            "x": built[:, 0],
            "y": built[:, 1],
            "design_x": designed[:, 0],
            "design_y": designed[:, 1],
            "away_m": np.hypot(off[:, 0], off[:, 1]),
            "along_m": off[:, 0] * sin + off[:, 1] * cos,
            "across_m": off[:, 1] * sin - off[:, 0] * cos,
        },
        geometry=shapely.points(built),
        crs=marks.crs,
    )


def lines_through_stakes(marks_built: pd.DataFrame) -> dict[int, LineString]:
    """Row number -> line through its stakes whose place was measured, for rows with two or more."""
    seen = marks_built[marks_built["away_m"].notna()]
    return {
        int(mine["row"].iloc[0]): LineString(mine[["x", "y"]].to_numpy())
        for _, mine in seen.groupby("row", sort=True)
        if len(mine) >= 2
    }


def lines_from_traces(rows: TreeRows, traces: gpd.GeoDataFrame) -> tuple[dict[int, LineString], list[int]]:
    """Row number -> its trace (joined end to end where there are several), and numbers of traces beside no row.

    A trace belongs to the row that at least half of it lies nearest to, within half a row spacing.
    """
    lines, numbers = rows.frame.geometry.to_numpy(), rows.frame["row"].to_numpy()
    tree = STRtree(lines)
    parts: dict[int, list[BaseGeometry]] = {}
    unmatched = []
    for number, trace in zip(traces["trace"], traces.geometry, strict=True):
        points = _spread(trace)
        _, near = tree.query_nearest(points, max_distance=rows.spacing_m / 2, all_matches=False)
        votes = np.bincount(near, minlength=len(lines))
        if votes.max() < 0.5 * len(points):
            unmatched.append(int(number))
        else:
            parts.setdefault(int(numbers[votes.argmax()]), []).append(trace)
    index = {int(number): line for number, line in zip(numbers, lines, strict=True)}
    return {row: _along(index[row], pieces) for row, pieces in sorted(parts.items())}, unmatched


def _along(row: LineString, pieces: list[BaseGeometry]) -> LineString:
    """Join pieces in the order and direction of the row."""
    turned = []
    for piece in pieces:
        first, last = (shapely.line_locate_point(row, shapely.get_point(piece, k)) for k in (0, -1))
        turned.append((min(first, last), piece if first <= last else shapely.reverse(piece)))
    xy = np.vstack([shapely.get_coordinates(piece) for _, piece in sorted(turned, key=lambda item: item[0])])
    return LineString(xy)


def rows_as_built(rows: TreeRows, built: dict[int, LineString], source: str) -> gpd.GeoDataFrame:
    """Build layer ROWS_ASBUILT from lines by row number."""
    if not built:
        return ROWS_ASBUILT.empty(rows.frame.crs)
    designed = {int(n): line for n, line in zip(rows.frame["row"], rows.frame.geometry, strict=True)}
    numbers = np.array(list(built))
    lines = np.array(list(built.values()), dtype=object)
    plans = np.array([designed[int(n)] for n in numbers], dtype=object)
    points, owner = _spread_all(lines)
    across = shapely.distance(points, plans[owner])
    spacing, error, of_row = _spacings(lines, plans, points, owner, rows.spacing_m)
    columns: dict[str, Any] = {
        "row": numbers,
        "source": [source] * len(numbers),
        "length_m": shapely.length(lines),
        "across_p50_m": _quantiles(across, owner, len(lines), 0.50),
        "across_p95_m": _quantiles(across, owner, len(lines), 0.95),
        "error_p95_m": _quantiles(np.abs(error), of_row, len(lines), 0.95),
    }
    columns |= {f"spacing_p{q:02d}_m": _quantiles(spacing, of_row, len(lines), q / 100) for q in (5, 50, 95)}
    return ROWS_ASBUILT.frame(columns, geometry=lines, crs=rows.frame.crs)


def _spacings(
    lines: Shapes, plans: Shapes, points: Shapes, owner: Ints, spacing_m: float
) -> tuple[Floats, Floats, Ints]:
    """Distance of points on built rows to the next built row after it, less that of the plans there, and whose."""
    at, other = STRtree(lines).query(points, predicate="dwithin", distance=1.6 * spacing_m)
    after = other > owner[at]
    at, other = at[after], other[after]
    away = shapely.distance(points[at], lines[other])
    order = np.lexsort((away, at))
    first = np.append(True, np.diff(at[order]) > 0) if len(order) else np.empty(0, dtype=bool)
    at, other, away = at[order][first], other[order][first], away[order][first]
    planned = plans[owner[at]]
    beside = shapely.line_interpolate_point(planned, shapely.line_locate_point(planned, points[at]))
    return away, away - shapely.distance(beside, plans[other]), owner[at]


def staked_rows(rows: TreeRows, marks_built: Any) -> Any:
    """Build table ROWS_FOUND from stakes: each row between the outer stakes found, by where the design has them.

    Designed stations, since stakes as surveyed scatter, and what lies beyond a row's end counts for nothing: areas
    would shrink with the receiver's error.
    """
    seen = marks_built[marks_built["found"]]
    lines = dict(zip(rows.frame["row"].astype(int), rows.frame.geometry, strict=True))
    at = shapely.line_locate_point(
        np.array([lines[int(row)] for row in seen["row"]], dtype=object),
        shapely.points(seen["design_x"], seen["design_y"]),
    )
    return _found(rows, {int(str(row)): float(np.ptp(at[k])) for row, k in seen.groupby("row").indices.items()})


def traced_rows(rows: TreeRows, built: dict[int, Any]) -> Any:
    """Build table ROWS_FOUND from traces: between their ends, and to the row's end where a trace ends near it.

    Near is within 1 m and twice the trace's own scatter across the row.
    """
    covered = {}
    for number, line in zip(rows.frame["row"].astype(int), rows.frame.geometry, strict=True):
        if number not in built:
            continue
        trace = built[number]
        ends = np.sort(shapely.line_locate_point(np.array(line, dtype=object), shapely.get_point(trace, [0, -1])))
        near = _NEAR_END_M + 2 * _scatter(trace, line)
        start = 0.0 if ends[0] <= near else ends[0]
        covered[number] = float((line.length if ends[1] >= line.length - near else ends[1]) - start)
    return _found(rows, covered)


def _scatter(trace: Any, line: Any) -> float:
    """Estimate how a trace scatters across its row, from one corner to the next: a row off its place adds nothing."""
    away = shapely.distance(shapely.points(shapely.get_coordinates(trace)), line)
    return float(np.median(np.abs(np.diff(away)))) * 1.4826 / np.sqrt(2) if len(away) > 2 else 0.0


def _found(rows: TreeRows, covered: dict[int, float]) -> Any:
    length = shapely.length(rows.frame.geometry.to_numpy())
    found = np.array([covered.get(int(number), 0.0) for number in rows.frame["row"]])
    return ROWS_FOUND.frame(
        {"row": rows.frame["row"], "state": row_state(found / length), "length_m": length, "found_m": found}
    )


def row_state(share: Floats, *, found: float = _FOUND) -> NDArray[np.str_]:
    """Name the state of rows of which a share was found; `found` is the least share that counts as whole."""
    return np.select([share >= found, share >= _PART], ["found", "partial"], "missing")


def _spread(line: BaseGeometry) -> Shapes:
    count = max(int(line.length / _STEP_M), 1)
    middles = (np.arange(count) + 0.5) / count
    return shapely.line_interpolate_point(np.array([line], dtype=object), middles, normalized=True)


def _spread_all(lines: Shapes) -> tuple[Shapes, Ints]:
    parts = [_spread(line) for line in lines]
    return np.concatenate(parts), np.repeat(np.arange(len(lines)), [len(p) for p in parts])


def _quantiles(values: Floats, owner: Ints, count: int, share: float) -> Floats:
    """Quantile of the values of each owner; NaN where it has none."""
    out = np.full(count, np.nan)
    for k in np.unique(owner):
        out[k] = np.quantile(values[owner == k], share)
    return out
