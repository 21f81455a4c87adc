"""How good a set of rows is, computed from the rows, the plantable ground and the heights alone.

Nothing here knows how the rows were made. Heights are judged on a surface smoothed less (Terrain.judged) than
the one that rows are laid on.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from shapely import LineString

from geoagro.arrays import Bools, Floats, Ints
from geoagro.planar.bending import circle_radius
from geoagro.planar.ragged import places
from geoagro.planar.segments import Hits, Segments, nowhere, segments_of
from geoagro.rows.loops.ground import heights_at
from geoagro.rows.loops.places import points_on
from geoagro.rows.sampling import RowSamples, cast, cast_both, nearest_other, sample_rows
from geoagro.values.grid import Grid

JUDGE_STEP_M = 0.5
"""Finished rows are judged this finely: every 2 m, the same rows seem up to 0.02 more legal, and choosing by that rewards luck."""
SEARCH_STEP_M = 1.0
"""Sets of rows are told apart on samples this far apart; no figure that is reported comes from these."""
CHORD_M = 10.0
SHORT_CHORD_M, SHORT_CHORD_LIMITS = 6.0, 1.5
"""Waves about as long as the chord of the limit hide from it; over 6 m they show, and half as much again may pass."""
BEND_WINDOW_M = 5.0
STRAIGHT_M = 2e6
NEIGHBOUR_REACH = 1.6
SPACING_REACH = 2.5
OWN_GAP = 3.0
ROUNDING = 1e-6
"""A spacing off by no more than this share holds."""


@dataclass(frozen=True, eq=False)
class RowView:
    """Everything measured at each sample of each row.

    Attributes
    ----------
    samples
        Where.
    up, down
        Neighbour on the left (upslope) and right (downslope) within 2.5 spacings.
    nearest
        Distance to the nearest other row, infinite beyond what counts as near (the spacing), metres.
    rise
        Ratio, over the chord of CHORD_M along the row centred at the sample and cut at the row's ends, above 0 where the row
        rises in its own direction; NaN where heights are unknown.
    segments
        The rows' straight pieces.
    rows
        The rows themselves.
    """

    samples: RowSamples
    up: Hits
    down: Hits
    nearest: Floats
    rise: Floats
    segments: Segments
    rows: Sequence[LineString]

    @property
    def grade(self) -> Floats:
        """How steep rows are, whichever way they run: |rise|."""
        return np.abs(self.rise)


def view_rows(
    rows: Sequence[LineString],
    heights: Grid | None,
    spacing_m: float,
    *,
    near_m: float | None = None,
    step_m: float = JUDGE_STEP_M,
) -> RowView:
    """Measure neighbours and grades at samples at most `step_m` apart; `heights` is the judging surface.

    Rows beyond `near_m` aren't near (the spacing, if left out): the smaller, the faster. With 0 nothing is looked for: rows
    that were cut to the limits have nothing near them.
    """
    samples = sample_rows(rows, step_m)
    segments = segments_of(rows)
    own = OWN_GAP * spacing_m
    left, right = cast_both(samples, segments, reach_m=SPACING_REACH * spacing_m, own_gap_m=own)
    within_m = spacing_m if near_m is None else near_m
    nearest = np.full(len(samples), np.inf)
    if within_m > 0:
        nearest = nearest_other(samples, segments, within_m=within_m, own_gap_m=own)
    return RowView(samples, left, right, nearest, chord_rise(rows, samples, heights), segments, rows)


def view_again(
    rows: Sequence[LineString],
    before: RowView,
    fresh: Sequence[LineString],
    heights: Grid | None,
    *,
    spacing_m: float,
    step_m: float,
) -> RowView:
    """Measure rows of which most are those of `before` (the same objects), as `view_rows` does where nothing is near.

    Only rows that are new are looked at anew, those that saw one that is gone, and those near `fresh`: all that is drawn where
    no row was.
    """
    samples, segments = sample_rows(rows, step_m), segments_of(rows)
    source, number = _kept_samples(before, rows, samples)
    if not (source >= 0).any():
        return view_rows(rows, heights, spacing_m, near_m=0.0, step_m=step_m)
    reach_m = SPACING_REACH * spacing_m
    anew = source < 0
    if len(fresh):
        anew |= np.isfinite(segments_of(fresh).nearest(samples.xy, reach_m, standing=nowhere(len(samples))))

    def to(side: int, seen: Hits) -> Hits:
        line = number[seen.line[source]]
        some = np.flatnonzero(anew | ((line < 0) & (seen.line[source] >= 0)))
        hits = Hits(seen.distance[source], line, seen.station[source])
        met = cast(samples.take(some), segments, side=side, reach_m=reach_m, own_gap_m=OWN_GAP * spacing_m)
        hits.distance[some], hits.line[some], hits.station[some] = met.distance, met.line, met.station
        return hits

    rise, nearest = chord_rise(rows, samples, heights), np.full(len(samples), np.inf)
    return RowView(samples, to(1, before.up), to(-1, before.down), nearest, rise, segments, rows)


def _kept_samples(before: RowView, rows: Sequence[LineString], samples: RowSamples) -> tuple[Ints, Ints]:
    """Tell which sample of `before` each sample of `rows` is (-1: none), and which row each of its rows is (-1: none; the last: no row)."""
    place = {id(row): k for k, row in enumerate(rows)}
    number = np.array([*(place.get(id(row), -1) for row in before.rows), -1], dtype=np.int64)
    count, count_before = (np.bincount(of.row, minlength=len(of.row_length)) for of in (samples, before.samples))
    kept = np.flatnonzero(number[:-1] >= 0)
    kept = kept[count_before[kept] == count[number[kept]]]  # as many where they are sampled as finely
    source = np.full(len(samples), -1, dtype=np.int64)
    ends, ends_before = np.cumsum(count), np.cumsum(count_before)
    size = count_before[kept]
    source[np.repeat((ends - count)[number[kept]], size) + places(size)] = np.repeat(
        (ends_before - count_before)[kept], size
    ) + places(size)
    return source, number


def chord_grade(
    rows: Sequence[LineString], samples: RowSamples, heights: Grid | None, *, chord_m: float = CHORD_M
) -> Floats:
    """|dz| over the 10 m (or `chord_m`) of row around each sample, over that length (both cut at the row's ends)."""
    return np.abs(chord_rise(rows, samples, heights, chord_m=chord_m))


def chord_rise(
    rows: Sequence[LineString], samples: RowSamples, heights: Grid | None, *, chord_m: float = CHORD_M
) -> Floats:
    """Grade over the same 10 m with its sign: above 0 where the row rises in its own direction."""
    if heights is None or len(samples) == 0:
        return np.full(len(samples), np.nan)
    a, b, run = samples.window(chord_m / 2)
    lines = samples.lines_of(rows)
    za, zb = (heights_at(heights, points_on(lines, samples.row, at)) for at in (a, b))
    rise: Floats = (zb - za) / np.maximum(run, 1e-9)
    return rise


def window_radius(rows: Sequence[LineString], samples: RowSamples) -> Floats:
    """Radius (metres) of the circle through three points of the row, half a window before, at and after each sample.

    Infinite where straighter than a circle of STRAIGHT_M; the window is BEND_WINDOW_M along the row and is shifted inward
    at the row's ends.
    """
    lines = samples.lines_of(rows)
    places = lines.bend_stations(samples.row, samples.station, BEND_WINDOW_M)
    radius = circle_radius(*(points_on(lines, samples.row, at) for at in places))
    return np.where(radius < STRAIGHT_M, radius, np.inf)


def legal_samples(view: RowView, *, spacing_m: float, tolerance: float, max_grade: float) -> Bools:
    """Tell which samples hold every limit at once: spacing to each neighbour found, nothing nearer, and grade."""
    ok = ~(view.grade > max_grade)
    ok &= view.nearest >= (1 - tolerance) * spacing_m - 1e-6
    for side in (view.up, view.down):
        ok &= holds_spacing(side.distance, spacing_m=spacing_m, tolerance=tolerance)
    return ok


def holds_spacing(distance: Floats, *, spacing_m: float, tolerance: float) -> Bools:
    """Tell at which distances a neighbour holds the spacing; beyond NEIGHBOUR_REACH spacings there is none, the side is open."""
    ok: Bools = distance > NEIGHBOUR_REACH * spacing_m
    return ok | (np.abs(distance / spacing_m - 1) <= tolerance + ROUNDING)


def legal_share(
    view: RowView, area_m2: float, *, spacing_m: float, tolerance: float, max_grade: float, min_run_m: float
) -> float:
    """Length of row in legal runs of at least `min_run_m`, times the spacing, over the plantable area."""
    ok = legal_samples(view, spacing_m=spacing_m, tolerance=tolerance, max_grade=max_grade)
    return float(run_length(ok, view.samples, min_run_m) * spacing_m / area_m2)


def run_length(ok: Bools, samples: RowSamples, min_run_m: float) -> float:
    """Total length of unbroken runs of `ok` samples of one row that are at least `min_run_m` long."""
    return float(samples.weight[in_runs(ok, samples, min_run_m)].sum())


def in_runs(ok: Bools, samples: RowSamples, min_run_m: float) -> Any:
    """Tell which samples belong to unbroken runs of `ok` samples of one row that are at least `min_run_m` long."""
    starts = np.ones(len(ok), dtype=bool)
    starts[1:] = (samples.row[1:] != samples.row[:-1]) | (ok[1:] != ok[:-1])
    run = np.cumsum(starts) - 1
    length = np.bincount(run, weights=samples.weight)
    return ok & (length[run] >= min_run_m - 1e-6)
