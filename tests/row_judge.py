"""The measures of rows once more, row by row and point by point, from their definitions alone.

Nothing here is shared with the package: plain loops over shapely geometry, slow and easy to check. A sample is the
middle of one of equal parts of at most 2 m; the tangent is the chord from one metre before it to one metre after.
A row is its own neighbour where the way along it (round the ring, if it closes) is longer than three spacings. A ring
has no ends.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from shapely import LineString, Point
from shapely.ops import substring


@dataclass(frozen=True)
class Sample:
    """One judged point of a row."""

    row: int
    station: float
    weight: float
    left: float
    right: float
    nearest: float
    grade: float
    radius: float


def judge(rows: list[LineString], height, spacing: float, step: float = 2.0) -> list[Sample]:
    """Judge every sample of every row; `height` is a function of x and y, or None."""
    out = []
    for number, row in enumerate(rows):
        parts = max(1, math.ceil(row.length / step - 1e-9))
        weight = row.length / parts
        for k in range(parts):
            s = (k + 0.5) * weight
            left, right = (ray(rows, number, s, side, spacing) for side in (1, -1))
            near = nearest(rows, number, s, spacing)
            out.append(Sample(number, s, weight, left, right, near, grade(row, s, height), radius(row, s)))
    return out


def way(row: LineString, a: float, b: float) -> float:
    """Distance along a row between two stations, the shorter way round a ring."""
    straight = abs(a - b)
    return min(straight, row.length - straight) if row.is_closed else straight


def at(row: LineString, s: float) -> Point:
    """Point of a row; beyond its ends the end itself, on a ring the way round."""
    return row.interpolate(s % row.length if row.is_closed else min(max(s, 0.0), row.length))


def ray(rows: list[LineString], number: int, s: float, side: int, spacing: float) -> float:
    """Distance square to the row, up to 2.5 spacings, to the first other row."""
    row = rows[number]
    a, p, b = at(row, s - 1), at(row, s), at(row, s + 1)
    long = a.distance(b)
    nx, ny = -(b.y - a.y) / long * side, (b.x - a.x) / long * side
    beam = LineString([(p.x, p.y), (p.x + 2.5 * spacing * nx, p.y + 2.5 * spacing * ny)])
    best = math.inf
    for other, line in enumerate(rows):
        for point in points_of(beam.intersection(line)):
            if other == number and way(row, s, row.project(point)) <= 3 * spacing:
                continue
            best = min(best, point.distance(p))
    return best


def points_of(shape) -> list[Point]:
    """Points of an intersection, whatever it consists of."""
    if shape.is_empty:
        return []
    return [Point(c) for part in getattr(shape, "geoms", [shape]) for c in part.coords]


def nearest(rows: list[LineString], number: int, s: float, spacing: float) -> float:
    """Distance to the nearest other row, infinite beyond one spacing."""
    row = rows[number]
    point = row.interpolate(s)
    found = [point.distance(line) for other, line in enumerate(rows) if other != number]
    gap = 3 * spacing
    first, last = (s + gap - row.length, s - gap) if row.is_closed else (0.0, s - gap)
    if last > max(first, 0):
        found.append(point.distance(substring(row, max(first, 0.0), last)))
    first, last = s + gap, (row.length + s - gap if row.is_closed else row.length)
    if first < min(last, row.length):
        found.append(point.distance(substring(row, first, min(last, row.length))))
    best = min(found, default=math.inf)
    return best if best <= spacing else math.inf


def grade(row: LineString, s: float, height) -> float:
    """Height difference over the 10 m of row around the sample, cut at its ends, over that length."""
    if height is None:
        return math.nan
    a, b = (s - 5, s + 5) if row.is_closed else (max(s - 5, 0.0), min(s + 5, row.length))
    p, q = at(row, a), at(row, b)
    return abs(height(q.x, q.y) - height(p.x, p.y)) / (b - a)


def radius(row: LineString, s: float) -> float:
    """Radius of the circle through three points 2.5 m apart along the row; the window stays inside the row."""
    half = min(2.5, row.length / 2)
    middle = s if row.is_closed else min(max(s, half), row.length - half)
    a, b, c = (at(row, middle + k * half) for k in (-1, 0, 1))
    sides = a.distance(b) * b.distance(c) * c.distance(a)
    area = abs((b.x - a.x) * (c.y - a.y) - (b.y - a.y) * (c.x - a.x)) / 2
    return sides / (4 * area) if area > 5e-10 else math.inf


def is_legal(sample: Sample, spacing: float, tolerance: float, most_grade: float) -> bool:
    """Every limit at once: neighbours within 1.6 spacings are one spacing off, nothing is nearer, grade holds."""
    for gap in (sample.left, sample.right):
        if gap <= 1.6 * spacing and abs(gap / spacing - 1) > tolerance + 1e-6:
            return False
    return sample.nearest >= (1 - tolerance) * spacing - 1e-6 and not sample.grade > most_grade


def legal_share(samples: list[Sample], area: float, spacing: float, tolerance: float, most_grade: float) -> float:
    """Length in legal runs of 20 m and more, times the spacing, over the area."""
    total, run, row = 0.0, 0.0, -1
    for sample in [*samples, None]:
        legal = sample is not None and is_legal(sample, spacing, tolerance, most_grade)
        if sample is None or not legal or sample.row != row:
            total += run if run >= 20 - 1e-6 else 0.0
            run = 0.0
        if sample is not None:
            row = sample.row
            run += sample.weight if legal else 0.0
    return total * spacing / area
