"""Use the ground that cuts left: rows run on from their ends, ends that face each other are joined, holes get rows.

What is drawn here follows the contour and keeps its distance to other rows, no more: nudging makes it fit, and the
hard limits cut what doesn't.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import contourpy
import numpy as np
import scipy.sparse as sp
import shapely
from scipy.ndimage import distance_transform_edt, find_objects, label
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree
from shapely import LineString, MultiPolygon
from shapely.geometry.base import BaseGeometry

from geoagro.arrays import Bools, Floats, Ints, Shapes
from geoagro.planar.segments import Standing, segments_of
from geoagro.planar.vectors import dot
from geoagro.rows.chains import chains_of
from geoagro.rows.clipping import clipped
from geoagro.rows.fall import Fall
from geoagro.rows.row_ends import Ends, ends_of
from geoagro.rows.slopes import Slopes

STEP_M = 1.0
RUN_ON_M = 40
"""A row runs on by this much at the most; what is longer is for a row of its own."""
KEEP_OFF = 0.7
"""A row that runs on stays this many spacings away from other rows, as a rule: less than rows must, as nudging makes room."""
MORE_IN_HOLES = 0.1
"""Rows drawn in a hole stay so many spacings more away, so that not one too many is crowded in."""
JOIN_REACH = 1.5
"""Ends up to this many spacings apart are joined, if they face each other."""
AHEAD = 0.8
FACING = -0.75
"""Cosines: between a row's heading and the way to the other end, and between the two headings."""
LONGEST_SHARE = 0.9
"""In a hole, a row this much of the longest one there is as good, and the one nearest to other rows wastes least."""
LEVELS_A_SPACING = 8
LEAST_RISE_M = 0.01
"""Contours looked at for a hole: so many per spacing on the typical slope, and no nearer in height than this."""


def run_on(
    rows: Sequence[LineString],
    ground: Slopes,
    area: BaseGeometry,
    *,
    spacing_m: float,
    max_grade: float,
    radius_m: float,
    fall: Fall | None = None,
    keep_off: float = KEEP_OFF,
) -> list[LineString]:
    """Let rows run on from their open ends along the contour (or at the wanted fall), and join ends that face each other.

    On ground gentler than `max_grade` (ratio) a row may keep its heading; the gentler, the more it does. It turns no
    tighter than `radius_m`, and stops at the edge of `area` and `keep_off` spacings from another row. Ends outside of `area` stay.
    """
    ends = ends_of(rows)
    if len(ends.row) == 0:
        return list(rows)
    shapely.prepare(area)
    course = _Course(ground, max_grade, STEP_M / max(radius_m, STEP_M), fall)
    walk = _Walk(rows, ends, course, area, (spacing_m, keep_off * spacing_m))
    for _ in range(int(RUN_ON_M / STEP_M)):
        if not walk.step():
            break
    return walk.joined(walk.rows())


@dataclass(frozen=True)
class _Course:
    """Where a row that runs on turns to; `most_turn` (radians) is what a step may turn."""

    ground: Slopes
    max_grade: float
    most_turn: float
    fall: Fall | None

    def turned(self, xy: Floats, heading: Floats) -> Floats:
        """Heading after turning toward the wanted grade, by no more than a step may."""
        gradient = self.ground.gradient(xy)
        slope = np.maximum(np.hypot(*gradient.T), 1e-12)
        uphill = gradient / slope[:, None]
        level = np.column_stack([-uphill[:, 1], uphill[:, 0]])
        level *= np.where(dot(level, heading) < 0, -1.0, 1.0)[:, None]
        grade = np.zeros(len(xy)) if self.fall is None else self.fall.aim(xy, level)
        rise = np.clip(grade / slope, -1.0, 1.0)[:, None]
        held = np.minimum(1.0, slope / self.max_grade)[:, None]
        want = held * (np.sqrt(1 - rise**2) * level + rise * uphill) + (1 - held) * heading
        left = heading[:, 0] * want[:, 1] - heading[:, 1] * want[:, 0]
        turn = np.arctan2(left, dot(heading, want)).clip(-self.most_turn, self.most_turn)
        cos, sin = np.cos(turn), np.sin(turn)
        return np.column_stack([cos * heading[:, 0] - sin * heading[:, 1], sin * heading[:, 0] + cos * heading[:, 1]])


class _Walk:
    """Heads that start at rows' ends and go on step by step."""

    def __init__(
        self,
        rows: Sequence[LineString],
        ends: Ends,
        course: _Course,
        area: BaseGeometry,
        apart_m: tuple[float, float],
    ) -> None:
        """Begin at the ends of rows; `apart_m` is the spacing, and what heads keep from other rows."""
        self._old, self._ends, self._course, self._area = list(rows), ends, course, area
        self._d, self._apart_m = apart_m
        self._segments = segments_of(rows)
        self._tips = cKDTree(ends.xy)
        self._head, self._heading = ends.xy.copy(), ends.heading.copy()
        self._trail = [ends.xy.copy()]
        self._steps = np.zeros(len(ends.row), dtype=np.intp)
        self._partner = np.full(len(ends.row), -1, dtype=np.intp)
        self._live = np.asarray(shapely.contains_xy(area, *ends.xy.T), dtype=bool)

    def step(self) -> bool:
        """Move all live heads by one step; tell whether any is left."""
        i = np.nonzero(self._live)[0]
        if len(i) == 0:
            return False
        heading = self._course.turned(self._head[i], self._heading[i])
        head = self._head[i] + STEP_M * heading
        self._join(i, head, heading)
        free = (self._partner[i] < 0) & shapely.contains_xy(self._area, head[:, 0], head[:, 1])
        free &= ~self._crowded(i, head)
        self._live[i] = free
        go = i[free]
        self._head[go], self._heading[go] = head[free], heading[free]
        self._steps[go] += 1
        self._trail.append(self._head.copy())
        return True

    def _crowded(self, i: Ints, head: Floats) -> Bools:
        """Tell which heads came too near to another row."""
        nothing, row = np.zeros(len(i)), self._ends.row[i]
        standing = Standing(row, nothing, nothing, nothing > 0, np.inf)  # their own row is no other, however far along
        crowded: Bools = np.isfinite(self._segments.nearest(head, self._apart_m, standing=standing))
        return crowded

    def _join(self, i: Ints, head: Floats, heading: Floats) -> None:
        """Give each head the nearest end of another row that faces it, first come, first served."""
        some = np.flatnonzero(self._meets_another(i, head))
        for k, near in zip(some, self._tips.query_ball_point(head[some], JOIN_REACH * self._d), strict=True):
            end = i[k]
            other = np.array(
                [n for n in sorted(np.atleast_1d(near)) if self._ends.row[n] != self._ends.row[end]], dtype=np.intp
            )
            other = other[self._partner[other] < 0]
            if self._partner[end] >= 0 or len(other) == 0:
                continue
            way = self._ends.xy[other] - head[k]
            distance = np.hypot(*way.T)
            fits = (way @ heading[k] > AHEAD * distance) & (self._ends.heading[other] @ heading[k] < FACING)
            if fits.any():
                partner = other[fits][np.argmin(distance[fits])]
                self._partner[end], self._partner[partner] = partner, end
                self._live[partner] = False
                self._steps[partner] = 0

    def _meets_another(self, i: Ints, head: Floats) -> Bools:
        """Tell which heads have the end of another row within reach: few. A row has two ends, so of three one is another's."""
        reach = np.nextafter(JOIN_REACH * self._d, np.inf)
        away, near = self._tips.query(head, k=[1, 2, 3], distance_upper_bound=reach)
        row = self._ends.row[np.minimum(near, len(self._ends.row) - 1)]
        other: Bools = (np.isfinite(away) & (row != self._ends.row[i][:, None])).any(axis=1)
        return other

    def rows(self) -> list[LineString]:
        """Rows with what they ran on by."""
        rows = list(self._old)
        trail = np.stack(self._trail)
        for first in np.nonzero(self._steps[::2] + self._steps[1::2])[0] * 2:
            number = self._ends.row[first]
            start, end = (trail[1 : self._steps[k] + 1, k] for k in (first, first + 1))
            rows[number] = LineString(np.concatenate([start[::-1], shapely.get_coordinates(rows[number]), end]))
        return rows

    def joined(self, rows: list[LineString]) -> list[LineString]:
        """Rows after joining each end with its partner by a straight piece."""
        first = np.nonzero(self._partner > np.arange(len(self._partner)))[0]
        if len(first) == 0:
            return rows
        a, b = self._ends.row[first], self._ends.row[self._partner[first]]
        bridges = [LineString([self._place(k), self._place(self._partner[k])]) for k in first]
        links = sp.coo_matrix((np.ones(len(a)), (a, b)), shape=(len(rows), len(rows)))
        count, part = connected_components(links, directed=False)
        members: list[list[LineString]] = [[] for _ in range(count)]
        for number, row in zip(part, rows, strict=True):
            members[number].append(row)
        for number, bridge in zip(part[a], bridges, strict=True):
            members[number].append(bridge)
        out: list[LineString] = []
        for lines in members:
            out += [lines[0]] if len(lines) == 1 else _merged(lines)
        return out

    def _place(self, end: Any) -> Floats:
        place: Floats = self._trail[self._steps[end]][end]
        return place


def _merged(lines: list[LineString]) -> list[LineString]:
    return list(shapely.get_parts(shapely.line_merge(shapely.multilinestrings(lines))))


def fill_holes(
    rows: Sequence[LineString],
    ground: Slopes,
    plantable: MultiPolygon,
    *,
    spacing_m: float,
    min_length_m: float,
    fall: Fall | None = None,
    keep_off: float = KEEP_OFF + MORE_IN_HOLES,
) -> list[LineString]:
    """Draw rows along the contour (or at the wanted fall) where a hole between rows has room for them.

    The longest come first, close to one another.
    """
    apart = keep_off * spacing_m
    away = _Away.of(rows, plantable)
    free = away.metres >= apart - STEP_M / 2
    shapely.prepare(plantable)
    i, j = np.nonzero(free)
    free[i, j] = shapely.contains_xy(plantable, away.x[j], away.y[i])
    holes, _ = label(free, np.ones((3, 3)))
    typical = float(np.median(np.hypot(ground.east, ground.north)))
    rise = max(typical * spacing_m / LEVELS_A_SPACING, LEAST_RISE_M)
    found: list[LineString] = []
    for number, window in enumerate(find_objects(holes), start=1):
        hole = holes[window] == number
        if hole.sum() * STEP_M >= min_length_m and min(hole.shape) > 1:
            x, y = away.x[window[1]], away.y[window[0]]
            heights = ground.heights(x, y) + (0.0 if fall is None else fall.tilt(x, y))
            lines = _contours(x, y, heights, hole, rise)
            lines = clipped(lines, plantable, min_length_m) if lines else []
            found += _packed(lines, away, apart, min_length_m)
    return found


@dataclass(frozen=True, eq=False)
class _Away:
    """How far points STEP_M apart (all x with all y, y from north to south) are from the nearest row, to half a step."""

    x: Floats
    y: Floats
    metres: Floats

    @classmethod
    def of(cls, rows: Sequence[LineString], area: MultiPolygon) -> _Away:
        west, south, east, north = area.bounds
        x = np.arange(west, east + 2 * STEP_M, STEP_M)
        y = np.arange(north, south - 2 * STEP_M, -STEP_M)
        taken = np.ones((len(y), len(x)), dtype=bool)
        xy = chains_of(rows, STEP_M / 2).xy
        column, row = np.round((xy[:, 0] - west) / STEP_M), np.round((north - xy[:, 1]) / STEP_M)
        on = (column >= 0) & (row >= 0) & (column < len(x)) & (row < len(y))
        taken[row[on].astype(np.intp), column[on].astype(np.intp)] = False
        return cls(x, y, distance_transform_edt(taken) * STEP_M)

    def at(self, points: Shapes) -> Floats:
        """Distance at points of the area."""
        column = np.round((shapely.get_x(points) - self.x[0]) / STEP_M).astype(np.intp)
        row = np.round((self.y[0] - shapely.get_y(points)) / STEP_M).astype(np.intp)
        distance: Floats = self.metres[row, column]
        return distance


def _contours(x: Floats, y: Floats, heights: Floats, hole: Any, rise_m: float) -> list[LineString]:
    """Contours within one hole (heights and mask over all y and x), `rise_m` apart in height."""
    contours = contourpy.contour_generator(x=x, y=y, z=np.ma.masked_array(heights, ~hole), name="serial")
    low, high = heights[hole].min(), heights[hole].max()
    levels = np.arange(np.ceil(low / rise_m), np.floor(high / rise_m) + 1) * rise_m
    return [LineString(np.asarray(line)) for level in levels for line in contours.lines(level) if len(line) > 1]


def _packed(lines: list[LineString], away: _Away, apart_m: float, min_length_m: float) -> list[LineString]:
    """Keep one of the longest lines, the one nearest to a row; cut from the others what comes too near; and so on."""
    kept: list[LineString] = []
    while lines:
        those = np.asarray(lines, dtype=object)
        length = shapely.length(those)
        middle = shapely.line_interpolate_point(those, length / 2)
        off = np.min([away.at(middle), *(shapely.distance(middle, line) for line in kept)], axis=0)
        best = those[np.argmin(np.where(length >= LONGEST_SHARE * length.max(), off, np.inf))]
        kept.append(best)
        near = shapely.dwithin(those, best, apart_m)
        crowded = those[near & (those != best)]
        lines = [*those[~near], *_outside(crowded, shapely.buffer(best, apart_m), min_length_m)]
    return kept


def _outside(lines: Shapes, area: Any, shortest_m: float) -> list[LineString]:
    parts = shapely.get_parts(shapely.difference(lines, area))
    return [part for part in parts if part.geom_type == "LineString" and part.length >= shortest_m]
