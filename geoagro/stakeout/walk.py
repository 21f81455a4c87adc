"""The walk over all marks: order, distance, time, and its parts for days and crews."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

import geopandas as gpd
import numpy as np
from shapely import LineString
from shapely.geometry.base import BaseGeometry

from geoagro.arrays import Floats, Ints
from geoagro.stakeout.order import Order, back_and_forth, best_order, between, lower_bound, one_way
from geoagro.stakeout.records.stakes import WALK
from geoagro.stakeout.ways import Ways
from geoagro.values.stakeout import MARKS, StakeRule


@dataclass(frozen=True, eq=False)
class Walk:
    """A planned walk.

    Attributes
    ----------
    marks
        Layer MARKS with `walk` and `part` filled in.
    parts
        Layer WALK.
    along_rows_m
        Length of all rows by tape; walked in any case.
    between_m
        Walked between rows in this order, by rows back and forth in number order, by rows one way in
        number order, and a bound that no order can go below.
    """

    marks: gpd.GeoDataFrame
    parts: gpd.GeoDataFrame
    along_rows_m: float
    between_m: dict[str, float]


def plan_walk(
    marks: gpd.GeoDataFrame, free: BaseGeometry, rule: StakeRule, *, repeated: Mapping[str, int] = MappingProxyType({})
) -> Walk:
    """Plan the walk over layer MARKS (ordered by row and station) on `free` ground.

    `repeated` says how often a row (as written on its stakes) is set, where that isn't once; each time takes as long.
    `rule.walk_from` "auto" begins at the row end that lies farthest to the south-west.
    """
    first, last = _row_bounds(marks)
    xy = marks[["x", "y"]].to_numpy()
    start = _start(xy[np.concatenate([first, last])], rule.walk_from)
    places = np.vstack([np.stack([xy[first], xy[last]], axis=1).reshape(-1, 2), start])
    ways = Ways(places, free)
    order = best_order(len(first), ways.length)
    marked = last - first + 1
    along = np.add.reduceat(np.nan_to_num(marks["tape_m"].to_numpy()), first)
    times = np.array([repeated.get(str(label), 1) for label in marks["label"].iloc[first]])
    parts = _parts(order, ways, along * times, marked * times, rule)
    part = np.repeat(np.arange(1, len(parts) + 1), parts)
    return Walk(
        marks=_numbered(marks, order, first, marked, part),
        parts=_part_lines(marks, order, ways, part, rule, more=_hours(along, marked, rule) * (times - 1)),
        along_rows_m=float(along.sum()),
        between_m={
            "planned": between(order, ways.length),
            "back_and_forth": between(back_and_forth(len(first), ways.length), ways.length),
            "one_way": between(one_way(len(first)), ways.length),
            "bound": lower_bound(len(first), ways.length),
        },
    )


def _row_bounds(marks: gpd.GeoDataFrame) -> tuple[Ints, Ints]:
    """Index of the first and the last mark of each row."""
    row = marks["row"].to_numpy()
    first = np.flatnonzero(np.append(True, row[1:] != row[:-1]))
    return first, np.append(first[1:], len(row)) - 1


def _start(ends: Floats, wanted: Literal["auto"] | tuple[float, float]) -> Floats:
    if wanted != "auto":
        return np.asarray(wanted, dtype=float)
    return np.asarray(ends[np.argmin(ends.sum(axis=1))])


def _parts(order: Order, ways: Ways, along: Floats, marked: Ints, rule: StakeRule) -> Ints:
    """Rows in each part: as few days as the crews' hours allow, all parts about equally long."""
    metres_per_hour = rule.walking_kmh * 1000.0
    own = _hours(along, marked, rule)[order.rows]
    places = order.places()
    enter, leave = places[1::2], places[2::2]
    reach = ways.length[-1, enter] / metres_per_hour
    step = np.append(0.0, ways.length[leave[:-1], enter[1:]] / metres_per_hour)
    longest = max(rule.marking_hours_per_day, float((own + reach).max()))
    days = -(-len(_filled(own, step, reach, longest)) // rule.marking_crews)
    count = min(days * rule.marking_crews, len(own))
    low, high = float((own + reach).max()), longest
    if len(_filled(own, step, reach, high)) > count:
        high = float(own.sum() + step.sum() + reach.max())
    for _ in range(40):
        middle = (low + high) / 2
        low, high = (low, middle) if len(_filled(own, step, reach, middle)) <= count else (middle, high)
    return np.array(_filled(own, step, reach, high), dtype=np.int64)


def _hours(along_m: Floats, marked: Ints, rule: StakeRule) -> Floats:
    """Hours to walk along rows and set their stakes once."""
    return np.asarray(along_m / (rule.walking_kmh * 1000.0) + marked * rule.minutes_per_stake / 60.0)


def _filled(own: Floats, step: Floats, reach: Floats, hours: float) -> list[int]:
    """Rows per part when each part takes as many rows in order as fit into `hours`."""
    parts, used = [0], 0.0
    for k in range(len(own)):
        more = own[k] + (step[k] if parts[-1] else reach[k])
        if parts[-1] and used + more > hours + 1e-9:
            parts.append(0)
            used, more = 0.0, own[k] + reach[k]
        parts[-1] += 1
        used += more
    return parts


def _numbered(marks: gpd.GeoDataFrame, order: Order, first: Ints, marked: Ints, part: Ints) -> gpd.GeoDataFrame:
    walk = np.zeros(len(marks), dtype=np.int64)
    parts = np.zeros(len(marks), dtype=np.int64)
    done = 0
    for row, turned, its_part in zip(order.rows, order.turned, part, strict=True):
        at = first[row] + np.arange(marked[row])
        walk[at[::-1] if turned else at] = done + 1 + np.arange(marked[row])
        parts[at] = its_part
        done += marked[row]
    out = marks.assign(walk=walk, day_trip=parts)
    MARKS.check(out)
    return out


def _part_lines(
    marks: gpd.GeoDataFrame, order: Order, ways: Ways, part: Ints, rule: StakeRule, *, more: Floats
) -> gpd.GeoDataFrame:
    """Build layer WALK: one line per part, from the start round the corners over all its marks.

    `more` is what each row takes in hours beyond setting it once.
    """
    xy = marks[["x", "y"]].to_numpy()
    first, last = _row_bounds(marks)
    rows: list[tuple[int, int, int, int, float, float]] = []
    lines = []
    for number in np.unique(part):
        mine = np.flatnonzero(part == number)
        points, here, count = [], -1, 0
        for k in mine:
            row, turned = int(order.rows[k]), int(order.turned[k])
            points += [ways.way(here, 2 * row + turned), _stretch(xy, first[row], last[row], bool(turned))]
            here = 2 * row + 1 - turned
            count += int(last[row] - first[row] + 1)
        line = LineString(_without_repeats(np.vstack(points)))
        hours = line.length / (rule.walking_kmh * 1000.0) + count * rule.minutes_per_stake / 60.0
        hours += float(more[order.rows[mine]].sum())
        crew, day = int((number - 1) % rule.marking_crews) + 1, int((number - 1) // rule.marking_crews) + 1
        rows.append((int(number), crew, day, count, line.length, hours))
        lines.append(line)
    columns = {name: [row[k] for row in rows] for k, name in enumerate(WALK.columns)}
    return WALK.frame(columns, geometry=lines, crs=marks.crs)


def _stretch(xy: Floats, first: int, last: int, turned: bool) -> Floats:
    points = xy[first : last + 1]
    return points[::-1] if turned else points


def _without_repeats(points: Floats) -> Floats:
    keep = np.append(True, np.hypot(*np.diff(points, axis=0).T) > 1e-6)
    return np.asarray(points[keep])
