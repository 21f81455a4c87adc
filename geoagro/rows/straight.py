"""Straight rows at one bearing, and the limits that any drawn row line is cut at."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal, cast

import numpy as np
import shapely
from shapely import LineString, MultiPolygon, Point
from shapely.ops import substring

from geoagro.arrays import Bools, Floats
from geoagro.errors import LayoutError
from geoagro.planar.polylines import Polylines
from geoagro.rows.clipping import CUT_MARGIN, clipped
from geoagro.values.grid import Grid
from geoagro.values.rows import Lines

COARSE_DEG, FINE_DEG = 1.0, 0.1
PHASES = 16
TIE = 0.005
"""Bearings within 0.5 % of the most planted length count as equal."""
CHORD_M = 10.0
STEP_M = 0.5
MOST_PLACES = 4000
SHORTEST_M = 0.01
"""A piece of drawn row shorter than this is a rounding."""


def straight_rows(
    plantable: MultiPolygon,
    *,
    spacing_m: float,
    min_length_m: float,
    bearing_deg: float | Literal["auto"] = "auto",
    surface: Grid | None = None,
    max_grade_pct: float | None = None,
    through: Point | None = None,
) -> Lines:
    """Lay straight rows, `spacing_m` apart, clipped to the plantable ground.

    Parameters
    ----------
    plantable
        Where rows may stand, in the working CRS.
    spacing_m, min_length_m
        Distance between rows (above 0) and shortest piece of row that is kept, metres.
    bearing_deg
        Degrees clockwise from grid north, or "auto": see `best_bearing`. The first row's place is always the
        one (of 16 per spacing) that plants most.
    surface, max_grade_pct
        With both, pieces steeper than this over 10 m are cut (reason grade_limit).
    through
        Point that a row runs through, instead of the place that plants most.

    Returns
    -------
    Lines
        Rows from right to left of the bearing; cut pieces carry short_row, grade_limit or no_elevation.
    """
    _check(spacing_m)
    origin = np.array(plantable.centroid.coords[0])
    edges = _edges(plantable) - origin
    bearing = (
        best_bearing(
            plantable, spacing_m=spacing_m, min_length_m=min_length_m, surface=surface, max_grade_pct=max_grade_pct
        )
        if bearing_deg == "auto"
        else float(bearing_deg)
    )
    along, left = _axes(bearing)
    t = edges @ left
    if through is None:
        first = _first_place(_planted(edges, bearing, spacing_m, min_length_m), t, spacing_m)
    else:
        first = float((shapely.get_coordinates(through)[0] - origin) @ left)
    offsets = np.arange(np.ceil((t.min() - first) / spacing_m), np.floor((t.max() - first) / spacing_m) + 1)
    reach = float(np.abs(edges @ along).max()) + spacing_m
    middle = origin + (first + offsets * spacing_m)[:, None] * left
    ends = np.stack([middle - reach * along, middle + reach * along], axis=1)
    lines = clipped(np.asarray(shapely.linestrings(ends), dtype=object), plantable, SHORTEST_M)
    return limited(lines, spacing_m=spacing_m, min_length_m=min_length_m, surface=surface, max_grade_pct=max_grade_pct)


def main_bearing(lines: Sequence[LineString]) -> float:
    """Bearing (degrees, 0 to 180) that lines run at in the mean of their length, both ways alike."""
    xy, owner = shapely.get_coordinates(np.asarray(lines, dtype=object), return_index=True)
    step = np.diff(xy, axis=0)[owner[1:] == owner[:-1]]
    length = np.hypot(*step.T)
    twice = 2 * np.arctan2(step[:, 0], step[:, 1])  # opposite ways fall together
    return float(np.degrees(np.arctan2((length * np.sin(twice)).sum(), (length * np.cos(twice)).sum())) / 2 % 180)


def _first_place(totals: Floats, t: Floats, spacing_m: float) -> float:
    """Place of a row that plants most; among equals the one that keeps the widest margin on both sides."""
    place = np.arange(PHASES) * spacing_m / PHASES
    margin = np.minimum(np.mod(place - t.min(), spacing_m), np.mod(t.max() - place, spacing_m))
    best = totals >= totals.max() * (1 - 1e-6)
    return float(place[np.lexsort((-np.round(margin, 6), ~best))[0]])


def best_bearing(
    plantable: MultiPolygon,
    *,
    spacing_m: float,
    min_length_m: float,
    surface: Grid | None = None,
    max_grade_pct: float | None = None,
) -> float:
    """Return the bearing (degrees, 0 to 180) at which straight rows plant most length.

    With a surface and a limit, length counts times the share of the ground where the bearing holds the grade.

    Length is the mean over 16 places of the first row: at a single place one row more or less, which fits
    by luck on any bearing, would outweigh what short pieces cost. Among bearings within 0.5 % of the best
    the one nearest to the field's longest side is taken: fewer, longer rows. Every degree and every side of the field is tried, then tenths of a degree around the eight best.
    """
    edges = _edges(plantable) - np.array(plantable.centroid.coords[0])
    sides = _side_bearings(plantable, spacing_m)

    slopes = None if surface is None or max_grade_pct is None else _slopes(plantable, surface)
    # at a bearing just below the limit rows would be cut all along, since cuts keep a margin
    limit = CUT_MARGIN**2 * (max_grade_pct or 0) / 100

    def most(bearings: Floats) -> Floats:
        length = np.array([_planted(edges, float(b), spacing_m, min_length_m).mean() for b in bearings])
        return length if slopes is None else length * _share_that_holds(slopes, bearings, limit)

    coarse = np.unique(np.round(np.concatenate([np.arange(0, 180, COARSE_DEG), sides]), 6))
    length = most(coarse)
    best = coarse[np.argsort(-length, kind="stable")[:8]]
    near = (best[:, None] + np.arange(-COARSE_DEG, COARSE_DEG + FINE_DEG / 2, FINE_DEG)[None, :]).ravel()
    fine = np.unique(np.round(near % 180, 6))
    bearings, lengths = np.r_[coarse, fine], np.r_[length, most(fine)]
    equal = lengths >= (1 - TIE) * lengths.max()
    turn = np.abs((bearings - sides[0] + 90) % 180 - 90)
    order = np.lexsort((bearings, -lengths, np.round(turn, 6)))
    return float(bearings[order[equal[order]][0]])


def limited(
    lines: list[LineString],
    *,
    spacing_m: float,
    min_length_m: float,
    surface: Grid | None = None,
    max_grade_pct: float | None = None,
) -> Lines:
    """Cut lines where they are too steep, then drop pieces that are too short; all cut pieces keep a reason.

    A cut is at least one spacing long, so that the two ends it makes stand no nearer than two rows do.
    """
    cut: list[tuple[str, LineString]] = []
    if surface is not None and max_grade_pct is not None:
        lines, cut = _within_grade(lines, surface, max_grade_pct / 100, spacing_m)
    kept = [line for line in lines if line.length >= min_length_m]
    short = [("short_row", line) for line in lines if line.length < min_length_m]
    return Lines(kept, cut + short)


def runs(mask: Bools) -> list[tuple[int, int]]:
    """Return start and end (exclusive) of each run of True.

    >>> runs(np.array([True, False, True, True]))
    [(0, 1), (2, 4)]
    """
    change = np.flatnonzero(np.diff(np.r_[False, mask, False].astype(np.int8)))
    return [(int(a), int(b)) for a, b in zip(change[::2], change[1::2], strict=True)]


def widened(mask: Bools, cells: int) -> Bools:
    """Widen each run of True evenly until it is `cells` long.

    >>> widened(np.array([False, False, True, False, False]), 3).tolist()
    [False, True, True, True, False]
    """
    out = mask.copy()
    for a, b in runs(mask):
        lack = max(cells - (b - a), 0)
        out[max(a - (lack + 1) // 2, 0) : b + lack // 2] = True
    return out


def _within_grade(
    lines: list[LineString], surface: Grid, limit: float, gap_m: float
) -> tuple[list[LineString], list[tuple[str, LineString]]]:
    kept: list[LineString] = []
    cut: list[tuple[str, LineString]] = []
    for line in lines:
        edge, good, blind = _judged(line, surface, limit, gap_m)
        kept += [cast(LineString, substring(line, edge[a], edge[b])) for a, b in runs(good)]
        cut += [("grade_limit", cast(LineString, substring(line, edge[a], edge[b]))) for a, b in runs(~good & ~blind)]
        cut += [("no_elevation", cast(LineString, substring(line, edge[a], edge[b]))) for a, b in runs(blind)]
    return kept, cut


def _judged(line: LineString, surface: Grid, limit: float, gap_m: float) -> tuple[Floats, Bools, Bools]:
    """Divide a line into steps of about half a metre: their edges, whether the grade holds, whether heights are unknown.

    Each edge is judged over the 10 m chord centred on it, cut at the ends of its stretch; a step holds if both of
    its edges do. Cutting makes new ends, so it repeats until no chord is too steep.
    """
    n = max(int(np.ceil(line.length / STEP_M)), 1)
    edge = np.linspace(0.0, line.length, n + 1)
    # heights at the edges of the steps, so that chords end on the row's own ends
    z = surface.sample(*Polylines.read([line]).at(np.zeros(n + 1, dtype=np.int64), edge).T)
    blind = np.isnan(z[:-1]) | np.isnan(z[1:])
    good = ~blind
    half = max(round(CHORD_M / 2 / edge[1]), 1)
    while True:
        bad = np.zeros(n, dtype=bool)
        for a, b in runs(good):
            low = np.maximum(np.arange(a, b + 1) - half, a)
            high = np.minimum(np.arange(a, b + 1) + half, b)
            steep = np.abs(z[high] - z[low]) > CUT_MARGIN * limit * (edge[high] - edge[low])
            bad[a:b] = steep[:-1] | steep[1:]
        if not bad.any():
            return edge, good, blind
        good &= ~widened(~good & ~blind | bad, int(np.ceil(gap_m / edge[1])))


def _slopes(plantable: MultiPolygon, surface: Grid) -> Floats:
    """Rise per metre to east and north over CHORD_M at a lattice of places in the ground, shape (n, 2)."""
    west, south, east, north = plantable.bounds
    step = max(np.sqrt((east - west) * (north - south) / MOST_PLACES), surface.cell_m)
    x, y = (
        v.ravel() for v in np.meshgrid(np.arange(west + step / 2, east, step), np.arange(south + step / 2, north, step))
    )
    inside = shapely.contains_xy(plantable, x, y)
    x, y, half = x[inside], y[inside], CHORD_M / 2
    rise = np.column_stack(
        [
            surface.sample(x + half, y) - surface.sample(x - half, y),
            surface.sample(x, y + half) - surface.sample(x, y - half),
        ]
    )
    slopes: Floats = rise[np.isfinite(rise).all(axis=1)] / CHORD_M
    return slopes


def _share_that_holds(slopes: Floats, bearings_deg: Floats, limit: float) -> Floats:
    """Share of places where a row at each bearing is no steeper than the limit; 1 where no slope is known."""
    if len(slopes) == 0:
        return np.ones(len(bearings_deg))
    along = np.stack([np.sin(np.radians(bearings_deg)), np.cos(np.radians(bearings_deg))])
    share: Floats = (np.abs(slopes @ along) <= limit).mean(axis=0)
    return share


def _check(spacing_m: float) -> None:
    if not spacing_m > 0:
        raise LayoutError(f"Row spacing is {spacing_m:g} m; it must be above 0. Set rows.spacing_m.")


def _axes(bearing_deg: float) -> tuple[Floats, Floats]:
    """Return unit vectors along a bearing and to its left."""
    a = np.radians(bearing_deg)
    return np.array([np.sin(a), np.cos(a)]), np.array([-np.cos(a), np.sin(a)])


def _edges(area: MultiPolygon) -> Floats:
    """Start and end of every edge of every ring, shape (n, 2, 2)."""
    rings = shapely.get_rings(shapely.get_parts(area))
    xy, ring = shapely.get_coordinates(rings, return_index=True)
    same = ring[1:] == ring[:-1]
    out: Floats = np.stack([xy[:-1][same], xy[1:][same]], axis=1)
    return out


def _side_bearings(area: MultiPolygon, spacing_m: float) -> Floats:
    """Bearings of the outline's sides, longest first; wiggles below a quarter of the spacing ignored."""
    outline = MultiPolygon([shapely.Polygon(p.exterior) for p in area.geoms])
    edges = _edges(MultiPolygon(list(shapely.get_parts(outline.simplify(spacing_m / 4)))))
    step = edges[:, 1] - edges[:, 0]
    bearing = np.degrees(np.arctan2(step[:, 0], step[:, 1])) % 180
    out: Floats = bearing[np.argsort(-np.hypot(*step.T), kind="stable")][:12]
    return out


def _planted(edges: Floats, bearing_deg: float, spacing_m: float, min_length_m: float) -> Floats:
    """Planted length for each of 16 places of the first row: all rows' crossings with all edges at once."""
    along, left = _axes(bearing_deg)
    s, t = edges @ along, edges @ left / (spacing_m / PHASES)
    # a row at a vertex meets the edge that starts there and not the one that ends there
    first, last = np.ceil(t.min(axis=1)), np.ceil(t.max(axis=1)) - 1
    count = np.maximum(last - first + 1, 0).astype(int)
    edge = np.repeat(np.arange(len(edges)), count)
    row = first[edge] + np.arange(len(edge)) - np.repeat(np.cumsum(count) - count, count)
    place = s[edge, 0] + (row - t[edge, 0]) / (t[edge, 1] - t[edge, 0]) * (s[edge, 1] - s[edge, 0])
    order = np.lexsort((place, row))
    place, row = place[order], row[order]
    length = place[1::2] - place[::2]
    phase = np.mod(row[::2], PHASES).astype(int)
    planted = np.where(length >= min_length_m, length, 0.0)
    total: Floats = np.bincount(phase, weights=planted, minlength=PHASES).astype(float)
    return total
