"""Rows parallel to drawn lines."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, cast

import numpy as np
import shapely
from shapely import LineString, MultiPolygon, Polygon, box
from shapely.ops import split, substring

from geoagro.arrays import Floats
from geoagro.errors import LayoutError
from geoagro.planar.bending import circle_radius
from geoagro.planar.polylines import Polylines
from geoagro.rows.clipping import clipped
from geoagro.rows.straight import SHORTEST_M, limited, runs, widened
from geoagro.values.grid import Grid
from geoagro.values.rows import Lines

ARC_ERROR_M = 0.01
SIMPLE_M = 0.02
RADIUS_MARGIN = 1.1
"""Rows are rounded a little wider than asked, so that vertices 2 cm off still hold the radius."""
WINDOW_M = 5.0
NEAREST = 0.91
"""Cut a little wider than 0.9 of the spacing, since the polygon of a round zone lies inside it."""


def parallel_rows(
    plantable: MultiPolygon,
    guides: Sequence[LineString],
    *,
    spacing_m: float,
    min_length_m: float,
    min_turn_radius_m: float = 0.0,
    spacing_tolerance_pct: float = 10.0,
    offset_m: float = 0.0,
    surface: Grid | None = None,
    max_grade_pct: float | None = None,
) -> Lines:
    """Lay rows at whole multiples of the spacing from a guide line (or the nearest of several).

    Each row is a level line of the exact distance to the guide, taken from the guide itself, never from the
    row before. The guide is prolonged at both ends in its own direction until it has passed the field; a
    guide that is a closed ring gets rows inside and outside. Corners are rounded to the turn radius on both
    sides (opening and closing with a disc). Where that would move a row farther off than the tolerance
    allows (corners sharper than about 50 degrees at 10 %) the row is cut, reason turn_radius.

    Parameters
    ----------
    plantable
        Where rows may stand, in the working CRS.
    guides
        Lines in the same CRS; ground belongs to the nearest of them. Rows that still come nearer to one
        another than 0.91 of the spacing (where two guides meet) are cut, the shorter first, reason spacing_limit.
    spacing_m, min_length_m, min_turn_radius_m
        Metres; spacing above 0.
    spacing_tolerance_pct
        Percent of the spacing.
    offset_m
        Distance of the first row to the left of the guide (inside a ring); 0 puts a row on it.
    surface, max_grade_pct
        With both, pieces steeper than this over 10 m are cut (reason grade_limit).

    Raises
    ------
    LayoutError
        Without a guide, or where a prolonged guide crosses itself.
    """
    if not spacing_m > 0:
        raise LayoutError(f"Row spacing is {spacing_m:g} m; it must be above 0. Set rows.spacing_m.")
    if not guides:
        raise LayoutError("Rows parallel to a guide need a guide line. Give inputs.guides, or another rows.method.")
    kept: list[LineString] = []
    cut: list[tuple[str, LineString]] = []
    turn = _Turn(min_turn_radius_m, spacing_tolerance_pct / 100, spacing_m)
    for number, guide in enumerate(guides):
        others = [other for k, other in enumerate(guides) if k != number]
        for area, levels in _sides(plantable, guide, spacing_m, offset_m):
            for level in levels:
                exact = _level_line(area, level, 0.0)
                lines = clipped(
                    _level_line(area, level, turn.rounded_m) if turn.radius_m else exact, plantable, SHORTEST_M
                )
                lines = [piece for line in lines for piece in _own_ground(line, guide, others)]
                good, sharp = turn.held(lines, exact)
                kept += good
                cut += [("turn_radius", line) for line in sharp]
    kept, close = _apart(kept, NEAREST * spacing_m)
    cut += [("spacing_limit", line) for line in close]
    rows = limited(kept, spacing_m=spacing_m, min_length_m=min_length_m, surface=surface, max_grade_pct=max_grade_pct)
    return Lines(rows.kept, cut + rows.cut)


def _sides(plantable: MultiPolygon, guide: LineString, spacing_m: float, offset_m: float) -> list[tuple[Any, Floats]]:
    """Each side of the guide with the distances of its rows from it."""
    far = shapely.get_coordinates(plantable)
    distance = float(shapely.distance(shapely.points(far), guide).max()) + spacing_m
    first, second = _halves(guide, plantable, distance, spacing_m)
    steps = np.arange(0, distance, spacing_m)
    # the row on the guide itself is drawn once
    left, right = steps + offset_m, steps + (spacing_m - offset_m)
    return [(first, left[left <= distance]), (second, right[right <= distance])]


def _halves(guide: LineString, plantable: MultiPolygon, distance: float, spacing_m: float) -> tuple[Any, Any]:
    """Ground left and right of the guide (inside and outside a ring), wider than the field by the rows' reach."""
    margin = 2 * distance + 10 * spacing_m
    west, south, east, north = shapely.union_all([plantable, guide]).bounds
    frame = box(west - margin, south - margin, east + margin, north + margin)
    if guide.is_closed:
        ring = Polygon(guide)
        if not ring.is_valid:
            raise LayoutError("A closed guide line crosses itself. Draw it as a simple ring under inputs.guides.")
        return ring, frame.difference(ring)
    reach = 2 * float(np.hypot(frame.bounds[2] - frame.bounds[0], frame.bounds[3] - frame.bounds[1]))
    parts: list[Any] = []
    for hull in (None, plantable.convex_hull):
        line = _prolonged(guide, reach, hull, spacing_m)
        parts = list(split(frame, line).geoms) if line.is_simple else []
        if len(parts) == 2:
            break
    else:
        x, y = guide.coords[0]
        raise LayoutError(
            f"The guide line that starts at {x:.1f} {y:.1f} crosses itself when its ends are prolonged to the field's edge. "
            "Draw it longer or less curved at its ends, or as several guides, under inputs.guides."
        )
    if not parts[0].contains(_left_of_middle(guide)):
        parts.reverse()
    return parts[0], parts[1]


def _left_of_middle(guide: LineString) -> Any:
    """Return a point 1 mm to the left of the middle of the guide."""
    half = guide.length / 2
    a, b = (np.array(guide.interpolate(half + k).coords[0]) for k in (-0.001, 0.001))
    along = (b - a) / np.hypot(*(b - a))
    return shapely.Point((a + b) / 2 + 0.001 * np.array([-along[1], along[0]]))


def _prolonged(guide: LineString, reach: float, hull: Any, spacing_m: float) -> LineString:
    """Prolong both ends in the mean direction of their last few metres.

    With the field's `hull` the ends turn straight away from the field once they have left it by two
    spacings; two such lines never meet, wherever they were heading.
    """
    xy = shapely.get_coordinates(guide)
    length = min(2 * spacing_m, guide.length / 2)
    start = _beyond(xy[0], guide.interpolate(length), reach, hull, 2 * spacing_m)
    finish = _beyond(xy[-1], guide.interpolate(guide.length - length), reach, hull, 2 * spacing_m)
    return LineString(np.vstack([start[::-1], xy, finish]))


def _beyond(end: Floats, inner: Any, reach: float, hull: Any, margin_m: float) -> Floats:
    """Points that prolong a line past its end, nearest first."""
    direction = end - np.array(inner.coords[0])
    far = end + reach * direction / np.hypot(*direction)
    if hull is None:
        return np.array([far])
    passage = LineString([end, far]).intersection(hull.buffer(margin_m))
    left = end if passage.is_empty else np.array(passage.coords[-1])
    away = left - np.array(shapely.shortest_line(hull, shapely.Point(left)).coords[0])
    turned = left + reach * away / np.hypot(*away)
    return np.array([turned]) if passage.is_empty else np.array([left, turned])


def _level_line(area: Any, level: float, radius: float) -> Any:
    """Outline of the ground at least `level` from the guide, its corners rounded to `radius` both ways."""
    angle = np.arccos(1 - min(ARC_ERROR_M / max(level + 2 * radius, ARC_ERROR_M), 1.0))
    segments = int(np.clip(np.ceil(np.pi / 4 / angle), 16, 256))
    shrunk = area.buffer(-(level + radius), quad_segs=segments)
    if radius > 0:
        shrunk = shrunk.buffer(2 * radius, quad_segs=segments).buffer(-radius, quad_segs=segments)
    return shrunk.boundary.simplify(SIMPLE_M)


def _own_ground(line: LineString, guide: LineString, others: list[LineString]) -> list[LineString]:
    """Pieces of a line that lie nearer to their own guide than to any other."""
    if not others:
        return [line]
    middle = np.asarray(shapely.points(_metre_by_metre(line)[2]), dtype=object)
    rival = shapely.distance(middle[:, None], np.array(others, dtype=object)[None, :]).min(axis=1)
    own = shapely.distance(middle, guide) <= rival
    return _stretches(line, own)


def _stretches(line: LineString, keep: Any) -> list[LineString]:
    """Pieces of a line made of equal steps, where `keep` holds."""
    step = line.length / len(keep)
    return [cast(LineString, substring(line, a * step, b * step)) for a, b in runs(keep)]


@dataclass(frozen=True)
class _Turn:
    """The turn radius and how far rounding may move a row."""

    radius_m: float
    tolerance: float
    spacing_m: float

    @property
    def rounded_m(self) -> float:
        return self.radius_m * RADIUS_MARGIN

    def held(self, lines: list[LineString], exact: Any) -> tuple[list[LineString], list[LineString]]:
        """Pieces that hold the turn radius and keep to the exact level line, and pieces that don't."""
        if self.radius_m == 0:
            return lines, []
        good: list[LineString] = []
        sharp: list[LineString] = []
        shapely.prepare(exact)
        for line in lines:
            whole, s, place = _metre_by_metre(line)
            off = ~shapely.dwithin(exact, shapely.points(place), self.tolerance * self.rounded_m + SIMPLE_M)
            bad = off | (_radius(whole, s) < self.radius_m)
            bad = widened(bad, int(np.ceil(self.spacing_m / line.length * len(s))))
            good += _stretches(line, ~bad)
            sharp += _stretches(line, bad)
        return good, sharp


def _metre_by_metre(line: LineString) -> tuple[Polylines, Floats, Floats]:
    """Return the middles of equal parts of a line, at most a metre long: the line, their stations and their places."""
    whole = Polylines.read([line])
    number, station, _ = whole.middles(1.0)
    return whole, station, whole.at(number, station)


def _radius(line: Polylines, s: Floats) -> Floats:
    """Radius of the circle through the points 2.5 m before, at and after each place."""
    first = np.zeros(len(s), dtype=np.int64)
    return circle_radius(*(line.at(first, s + k) for k in (-WINDOW_M / 2, 0.0, WINDOW_M / 2)))


def _apart(lines: list[LineString], nearest_m: float) -> tuple[list[LineString], list[LineString]]:
    """Cut rows where they come nearer than `nearest_m` to a longer one."""
    ordered = sorted(lines, key=lambda line: (-round(line.length, 3), line.bounds))
    here, there = shapely.STRtree(ordered).query(ordered, predicate="dwithin", distance=nearest_m)
    kept: list[list[LineString]] = [[line] for line in ordered]
    close: list[LineString] = []
    for i in np.unique(here[there < here]):
        longer = [piece for j in there[(here == i) & (there < i)] for piece in kept[j]]
        zone = shapely.union_all([piece.buffer(nearest_m, quad_segs=16) for piece in longer])
        kept[i] = clipped(ordered[i].difference(zone), ordered[i].envelope.buffer(1.0), SHORTEST_M)
        close += clipped(ordered[i], zone, SHORTEST_M)
    return [piece for pieces in kept for piece in pieces], close
