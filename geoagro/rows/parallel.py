"""Rows parallel to drawn lines."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import shapely
from shapely import LineString, MultiPolygon, Polygon, box
from shapely.ops import split, substring

from geoagro.errors import LayoutError
from geoagro.rows.straight import clipped, limited, runs, widened
from geoagro.values.grid import Floats, Grid
from geoagro.values.rows import Lines

ARC_ERROR_M = 0.01
SIMPLE_M = 0.02
RADIUS_MARGIN = 1.1
"""Rows are rounded a little wider than asked, so that vertices 2 cm off still hold the radius."""
WINDOW_M = 5.0
NEAREST = 0.9


def parallel_rows(
    plantable: MultiPolygon,
    guides: Sequence[LineString],
    *,
    spacing_m: float,
    min_length_m: float,
    min_turn_radius_m: float = 0.0,
    spacing_tolerance: float = 0.10,
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
        Lines in the same CRS; ground belongs to the nearest of them. Rows of two guides that come nearer
        than 0.9 of the spacing are cut, the shorter row first (reason spacing_limit).
    spacing_m, min_length_m, min_turn_radius_m
        Metres; spacing above 0.
    spacing_tolerance
        Share of the spacing.
    offset_m
        Distance of the first row from the guide; 0 puts a row on it.
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
    radius = min_turn_radius_m * RADIUS_MARGIN
    for number, guide in enumerate(guides):
        others = [g for k, g in enumerate(guides) if k != number]
        for area, level in _sides(plantable, guide, spacing_m, offset_m):
            lines = clipped(_level_line(area, level, radius), plantable)
            lines = [piece for line in lines for piece in _own_ground(line, guide, others)]
            if radius == 0:
                kept += lines
                continue
            most_off = spacing_tolerance * radius + SIMPLE_M
            good, sharp = _turning(
                lines, area.boundary, level, radius_m=min_turn_radius_m, most_off_m=most_off, gap_m=spacing_m
            )
            kept += good
            cut += [("turn_radius", line) for line in sharp]
    if len(guides) > 1:
        kept, close = _apart(kept, NEAREST * spacing_m)
        cut += [("spacing_limit", line) for line in close]
    rows = limited(kept, spacing_m=spacing_m, min_length_m=min_length_m, surface=surface, max_grade_pct=max_grade_pct)
    return Lines(rows.kept, cut + rows.cut)


def _sides(plantable: MultiPolygon, guide: LineString, spacing_m: float, offset_m: float) -> list[tuple[Any, float]]:
    """Each side of the guide with the distances of its rows from it."""
    far = shapely.get_coordinates(plantable)
    distance = float(shapely.distance(shapely.points(far), guide).max()) + spacing_m
    first, second = _halves(guide, plantable, distance, spacing_m)
    steps = np.arange(0, distance, spacing_m)
    levels = [(first, d) for d in steps + offset_m]
    # the row on the guide itself is drawn once
    levels += [(second, d) for d in steps + (spacing_m - offset_m)]
    return [(area, float(d)) for area, d in levels if d <= distance]


def _halves(guide: LineString, plantable: MultiPolygon, distance: float, spacing_m: float) -> tuple[Any, Any]:
    """Ground on the two sides of the guide, wider than the field by twice the rows' reach."""
    margin = 2 * distance + 10 * spacing_m
    west, south, east, north = shapely.union_all([plantable, guide]).bounds
    frame = box(west - margin, south - margin, east + margin, north + margin)
    if guide.is_closed:
        ring = Polygon(guide)
        if not ring.is_valid:
            raise LayoutError("A closed guide line crosses itself. Draw it as a simple ring under inputs.guides.")
        return ring, frame.difference(ring)
    reach = 2 * float(np.hypot(frame.bounds[2] - frame.bounds[0], frame.bounds[3] - frame.bounds[1]))
    line = _prolonged(guide, reach, tangent_m=2 * spacing_m)
    parts = list(split(frame, line).geoms) if line.is_simple else []
    if len(parts) != 2:
        x, y = guide.coords[0]
        raise LayoutError(
            f"The guide line that starts at {x:.1f} {y:.1f} crosses itself when its ends are prolonged past the field. "
            "Draw it longer or less curved at its ends, or as several guides, under inputs.guides."
        )
    return parts[0], parts[1]


def _prolonged(guide: LineString, reach: float, *, tangent_m: float) -> LineString:
    """Prolong both ends in the mean direction of their last few metres."""
    length = min(tangent_m, guide.length / 2)
    xy = shapely.get_coordinates(guide)

    def beyond(end: Floats, inner: Any) -> Floats:
        direction = end - np.array(inner.coords[0])
        out: Floats = end + reach * direction / np.hypot(*direction)
        return out

    start = beyond(xy[0], guide.interpolate(length))
    finish = beyond(xy[-1], guide.interpolate(guide.length - length))
    return LineString(np.vstack([start, xy, finish]))


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
    n = max(int(np.ceil(line.length)), 1)
    middle = shapely.line_interpolate_point(line, (np.arange(n) + 0.5) / n, normalized=True)
    rival = shapely.distance(middle[:, None], np.array(others, dtype=object)[None, :]).min(axis=1)
    own = shapely.distance(middle, guide) <= rival
    return _stretches(line, own)


def _stretches(line: LineString, keep: Any) -> list[LineString]:
    """Pieces of a line made of equal steps, where `keep` holds."""
    step = line.length / len(keep)
    return [substring(line, a * step, b * step) for a, b in runs(keep)]


def _turning(
    lines: list[LineString], edge: Any, level: float, *, radius_m: float, most_off_m: float, gap_m: float
) -> tuple[list[LineString], list[LineString]]:
    """Pieces that hold turn radius and distance from the guide, and pieces that don't."""
    good: list[LineString] = []
    sharp: list[LineString] = []
    shapely.prepare(edge)
    for line in lines:
        n = max(int(np.ceil(line.length)), 1)
        s = (np.arange(n) + 0.5) * line.length / n
        off = np.abs(shapely.distance(shapely.line_interpolate_point(line, s), edge) - level)
        bad = (off > most_off_m) | (_radius(line, s) < radius_m)
        bad = widened(bad, int(np.ceil(gap_m / line.length * n)))
        good += _stretches(line, ~bad)
        sharp += _stretches(line, bad)
    return good, sharp


def _radius(line: LineString, s: Floats) -> Floats:
    """Radius of the circle through the points 2.5 m before, at and after each place; inf where straight."""
    a, b, c = (
        shapely.get_coordinates(shapely.line_interpolate_point(line, np.clip(s + k, 0, line.length)))
        for k in (-WINDOW_M / 2, 0, WINDOW_M / 2)
    )
    u, v = b - a, c - b
    cross = np.abs(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0])
    sides = np.hypot(*u.T) * np.hypot(*v.T) * np.hypot(*(c - a).T)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(cross > 1e-12, sides / (2 * cross), np.inf)


def _apart(lines: list[LineString], nearest_m: float) -> tuple[list[LineString], list[LineString]]:
    """Cut rows where they come nearer than `nearest_m` to a longer one."""
    kept: list[LineString] = []
    close: list[LineString] = []
    for line in sorted(lines, key=lambda item: (-item.length, item.bounds)):
        near = [other.buffer(nearest_m, quad_segs=16) for other in kept if other.distance(line) < nearest_m]
        if not near:
            kept.append(line)
            continue
        zone = shapely.union_all(near)
        kept += clipped(np.array([line.difference(zone)]), line.envelope.buffer(1.0))
        close += clipped(np.array([line]), zone)
    return kept, close
