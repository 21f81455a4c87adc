"""Row ends that may run on: how far each should go, and which way, so that it wins most legal row, its neighbours' counted.

Rows are drawn, nudged, cut and drawn back all at once; when all is done some ends have ground before them that another row
has left.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from scipy.spatial import cKDTree
from shapely import LineString

from geoagro.arrays import Bools, Floats, Ints
from geoagro.planar.near_points import near_points
from geoagro.planar.segments import Standing, nowhere, segments_of
from geoagro.rows.bends import EASED
from geoagro.rows.clipping import CUT_MARGIN
from geoagro.rows.drawn_back import NOTHING_M, counted, holds_of, price_given_up, stays
from geoagro.rows.finishing import VERTEX_ERROR_M, breaks_alone
from geoagro.rows.loops.drawn_on import wins_of_ways
from geoagro.rows.loops.ground import heights_at
from geoagro.rows.loops.places import points_on
from geoagro.rows.quality import BEND_WINDOW_M, CHORD_M, NEIGHBOUR_REACH, OWN_GAP, ROUNDING, SPACING_REACH, RowView
from geoagro.rows.row_ends import Ends, ends_of
from geoagro.rows.task import Task

MOST_M = 12.0
"""No end runs on by more at once."""
STEP_M = 0.5
LEAST_M = 1.0
"""An end before which there is no room for this much stays."""
TURNS = (0.0, 0.04, -0.04, 0.09, -0.09, 0.15, -0.15, 0.25, -0.25)
"""Ways on that are looked at: straight on, and bends of these curvatures (one over the radius in metres)."""
TURN_COST_M = 2.0
"""A turn by one radian must win this length of legal row more than going straight on: no hooks for a metre of row."""
LEAST_WIN_M = 0.5
"""What wins no more than this length of legal row is let be."""
APART_M = 15.0
"""Ends that run on at once lie this far apart, so that what each wins is its own."""
TIP_M = CHORD_M + BEND_WINDOW_M
"""So far from a row's new end its grade and bends may be other than they were."""


@dataclass(frozen=True, eq=False)
class _Ways:
    """Ways on from ends.

    Attributes
    ----------
    end
        Index of the end that each starts from.
    turn
        Its curvature, 1/m.
    places
        The end and places STEP_M apart ahead of it, shape (n, k + 1, 2).
    """

    end: Ints
    turn: Floats
    places: Floats

    @property
    def steps(self) -> int:
        """How many steps each has."""
        return int(self.places.shape[1]) - 1

    def take(self, which: Bools) -> _Ways:
        """Return some of them."""
        return _Ways(self.end[which], self.turn[which], self.places[which])


@dataclass(frozen=True, eq=False)
class Longer:
    """Rows of which some ends ran on.

    Attributes
    ----------
    rows
        All of them.
    new
        Those that ran on: each holds by itself what rows must hold.
    ways
        What they ran on by.
    """

    rows: list[LineString]
    new: list[LineString]
    ways: list[LineString]


def longer(
    view: RowView, rows: Sequence[LineString], task: Task, *, since: Sequence[LineString] | None = None
) -> Longer | None:
    """Let the ends run on that win most by it, away from one another; None where none wins.

    Parameters
    ----------
    view, rows
        All rows, those that stay first, and what is seen from them.
    since
        What rows ran on by the last time, where all ends were looked at: only ends near that are looked at again.
    """
    ends = ends_of(rows)
    mine = (ends.row >= len(task.around.kept)) & ~stays(ends.xy, task)
    if since is not None:
        near_m = MOST_M + NEIGHBOUR_REACH * task.rule.spacing_m
        mine &= np.isfinite(segments_of(since).nearest(ends.xy, near_m, standing=nowhere(len(mine))))
    may = np.flatnonzero(mine)
    ahead_m = np.full(len(may), LEAST_M)
    may = may[_open(view, ends, (may, ahead_m), (ends.xy + LEAST_M * ends.heading)[may], task)]
    ways = _ways(ends, may, task)
    free = _free(view, rows, ends, ways, task)
    ways, free = ways.take(free > 0), free[free > 0]
    if len(free) == 0:
        return None
    won = _won(view, ends, ways, free, task)
    order = _best_first(ways, won, task)
    gone = [ways.places[k, : int(won[k, 1]) + 1] for k in order]
    apart_m = max(task.nearest_m / CUT_MARGIN, task.nearest_m + 2 * VERTEX_ERROR_M)
    some = _apart(ends.xy[ways.end[order]], ends.row[ways.end[order]], gone, apart_m)
    chosen, gone = order[some], [gone[k] for k in some]
    number, at_last = ends.row[ways.end[chosen]], ends.is_last[ways.end[chosen]]
    made = [_extended(rows[row], way, last) for way, row, last in zip(gone, number, at_last, strict=True)]
    inside = _inside([rows[k] for k in number], made, task)
    sound = np.flatnonzero(inside & ~_break_near_tips(made, at_last, task) & shapely.is_simple(made))
    out = list(rows)
    for k in sound:
        out[number[k]] = made[k]
    return Longer(out, [made[k] for k in sound], [LineString(gone[k]) for k in sound]) if len(sound) else None


def _ways(ends: Ends, may: Ints, task: Task) -> _Ways:
    tightest = 1 / max(EASED * task.rule.min_turn_radius_m, STEP_M)
    turns = np.unique(np.clip(TURNS, -tightest, tightest))
    end, turn = np.repeat(may, len(turns)), np.tile(turns, len(may))
    along = np.arange(round(MOST_M / STEP_M) + 1) * STEP_M
    angle = turn[:, None] * along
    # along an arc: sin(a) / turn ahead, (1 - cos(a)) / turn to the left; sinc keeps both for straight ones
    ahead = along * np.sinc(angle / np.pi)
    left = along * np.sin(angle / 2) * np.sinc(angle / 2 / np.pi)
    heading = ends.heading[end]
    normal = np.column_stack([-heading[:, 1], heading[:, 0]])
    return _Ways(
        end, turn, ends.xy[end][:, None] + ahead[..., None] * heading[:, None] + left[..., None] * normal[:, None]
    )


def _open(view: RowView, ends: Ends, at: tuple[Ints, Floats], places: Floats, task: Task) -> Bools:
    """Tell which places are plantable and no other row is too near to; `at` is the end that each lies ahead of, and how far, metres."""
    end, ahead_m = at
    ok: Bools = shapely.contains_xy(task.plantable, places[:, 0], places[:, 1])
    some = np.flatnonzero(ok)
    standing = _standing(view, ends, end[some], ahead_m[some], task)
    ok[some] = np.isinf(view.segments.nearest(places[some], _away_m(task), standing=standing))
    return ok


def _away_m(task: Task) -> float:
    """How far places on a way stay from other rows: between two of them, and where a way loses its corners, it may be nearer."""
    return max(task.nearest_m / CUT_MARGIN, float(np.hypot(task.nearest_m + VERTEX_ERROR_M, STEP_M / 2)))


def _standing(view: RowView, ends: Ends, end: Ints, ahead_m: Floats, task: Task) -> Standing:
    """Stand so far ahead of ends, so that their own row counts from afar only."""
    row = ends.row[end]
    length = view.samples.row_length[row]
    at = np.where(ends.is_last[end], length + ahead_m, -ahead_m)
    return Standing(row, at, length, np.zeros(len(row), dtype=bool), OWN_GAP * task.rule.spacing_m)


def _free(view: RowView, rows: Sequence[LineString], ends: Ends, ways: _Ways, task: Task) -> Ints:
    """How many steps each way may go on the plantable ground, away from other rows and not too steep."""
    steps = ways.steps
    ahead = ways.places[:, 1:].reshape(-1, 2)
    ahead_m = np.tile(np.arange(1, steps + 1) * STEP_M, len(ways.end))
    is_open = _open(view, ends, (np.repeat(ways.end, steps), ahead_m), ahead, task).reshape(-1, steps)
    free = np.logical_and.accumulate(is_open, axis=1) & _level(view, rows, ends, ways, task)
    return np.where(free.any(axis=1), steps - np.argmax(free[:, ::-1], axis=1), 0)


def _level(view: RowView, rows: Sequence[LineString], ends: Ends, ways: _Ways, task: Task) -> Bools:
    """Tell at which steps a row could end without being too steep over any chord: whole ones before, shorter ones at its end."""
    chord = round(CHORD_M / STEP_M)
    length = view.samples.row_length[ends.row[ways.end]][:, None]
    back = np.minimum(np.arange(chord, 0, -1) * STEP_M, length)
    station = np.where(ends.is_last[ways.end][:, None], length - back, back)
    tail = points_on(view.samples.lines_of(rows), np.repeat(ends.row[ways.end], chord), station.ravel())
    xy = np.concatenate([tail.reshape(len(ways.end), chord, 2), ways.places], axis=1)
    z = heights_at(task.judged, np.ascontiguousarray(xy.reshape(-1, 2))).reshape(xy.shape[:2])
    limit = CUT_MARGIN**2 * task.rule.max_grade_pct / 100 * STEP_M
    tip = z[:, chord + 1 :]
    ok = np.ones(tip.shape, dtype=bool)
    for size in range(chord // 2, chord):
        ok &= np.abs(tip - z[:, chord + 1 - size : -size]) <= limit * size
    whole = np.abs(tip - z[:, 1:-chord]) <= limit * chord
    both: Bools = ok & np.logical_and.accumulate(whole, axis=1)
    return both


def _won(view: RowView, ends: Ends, ways: _Ways, free: Ints, task: Task) -> Floats:
    """Tell what each way wins at best, and its steps for that, shape (n, 2)."""
    samples, rule = view.samples, task.rule
    table, within = counted(view, task)
    normal = np.column_stack([-samples.ty, samples.tx])
    far = np.stack([view.up.distance, view.down.distance])
    tolerance, d = rule.spacing_tolerance + ROUNDING, rule.spacing_m
    row, is_last = ends.row[ways.end].astype(np.int64), ends.is_last[ways.end].astype(np.int64)
    return wins_of_ways(
        (row, is_last, free.astype(np.int64), _hold(view, ends, ways, free, task), ways.places),
        (
            (samples.xy, normal, far, samples.row.astype(np.int64)),
            _near(samples.xy, ends, ways, NEIGHBOUR_REACH * d),
            ((1 - tolerance) * d, (1 + tolerance) * d, NEIGHBOUR_REACH * d),
        ),
        table,
        within,
        (rule.min_row_length_m, price_given_up(task), STEP_M),
    )


def _hold(view: RowView, ends: Ends, ways: _Ways, free: Ints, task: Task) -> Bools:
    """Tell at which steps both neighbours hold the spacing, shape (n, steps); only of steps that are free."""
    way, step = np.nonzero(np.arange(ways.steps) < free[:, None])
    begin, until = ways.places[way, step], ways.places[way, step + 1]
    along = (until - begin) / STEP_M
    left = np.column_stack([-along[:, 1], along[:, 0]])
    ahead_m = np.asarray((step + 0.5) * STEP_M, dtype=np.float64)
    standing = _standing(view, ends, ways.end[way], ahead_m, task)
    hold = np.zeros((len(free), ways.steps), dtype=bool)
    reach_m = SPACING_REACH * task.rule.spacing_m
    met = [
        view.segments.first_hit((begin + until) / 2, sign * left, 0.0, reach_m, standing=standing).distance
        for sign in (1, -1)
    ]
    hold[way, step] = holds_of(met[0], task) & holds_of(met[1], task)
    return hold


def _near(xy: Floats, ends: Ends, ways: _Ways, reach_m: float) -> tuple[Ints, Ints, Ints]:
    """Find samples that might see a way from an end: where each way's begin and how many there are, and the samples."""
    end, which = np.unique(ways.end, return_inverse=True)
    begin, samples = near_points(xy, ends.xy[end], MOST_M + reach_m)
    return begin[which], np.diff(begin)[which], samples


def _best_first(ways: _Ways, won: Floats, task: Task) -> Ints:
    """Choose the ways that win, those that win most first, turns paid; of two that win as much, the more level one."""
    tip, goal = (ways.places[np.arange(len(won)), step] for step in (0, won[:, 1].astype(np.intp)))
    rise = np.abs(heights_at(task.judged, goal) - heights_at(task.judged, tip))
    win = np.round(won[:, 0] - TURN_COST_M * np.abs(ways.turn) * STEP_M * won[:, 1], 6)
    order = np.lexsort((np.round(rise, 6), -win))
    best: Ints = order[win[order] > LEAST_WIN_M]
    return best


def _apart(xy: Floats, row: Ints, ways: Sequence[Floats], nearest_m: float) -> Ints:
    """Choose from places, the best first, those that have no better one near, nor on their row, nor one that runs on too near to them."""
    taken = np.zeros(len(xy), dtype=bool)
    if len(xy) == 0:
        return np.flatnonzero(taken)
    which = np.repeat(np.arange(len(ways)), [len(way) for way in ways])
    lines = np.asarray(shapely.linestrings(np.concatenate(ways), indices=which), dtype=object)
    one, other = shapely.STRtree(lines).query(lines, predicate="dwithin", distance=nearest_m)
    crossing = np.split(other[np.argsort(one, kind="stable")], np.cumsum(np.bincount(one, minlength=len(xy)))[:-1])
    for k, near in enumerate(cKDTree(xy).query_ball_point(xy, APART_M)):
        taken[k] = not (taken[near].any() or taken[crossing[k]].any() or taken[:k][row[:k] == row[k]].any())
    return np.flatnonzero(taken)


def _extended(row: LineString, way: Floats, at_last: bool) -> LineString:
    """Lengthen a row by a way from its end (places, the end first), with no more corners than rows have."""
    xy = shapely.get_coordinates(row)
    more = shapely.get_coordinates(shapely.simplify(LineString(way), VERTEX_ERROR_M))[1:]
    return LineString(np.concatenate([xy, more]) if at_last else np.concatenate([more[::-1], xy]))


def _inside(before: list[LineString], after: list[LineString], task: Task) -> Bools:
    """Tell which rows ran on over plantable ground only: between two places that are, a corner or a slit need not be."""
    out_m = [
        shapely.length(shapely.difference(np.asarray(lines, dtype=object), task.plantable)) for lines in (before, after)
    ]
    inside: Bools = out_m[1] <= out_m[0] + NOTHING_M
    return inside


def _break_near_tips(rows: list[LineString], at_last: Bools, task: Task) -> Bools:
    """Tell which rows break a limit, each by itself, near the end that ran on; where water flows along them, anywhere."""
    if not rows:
        return np.zeros(0, dtype=bool)
    rule = task.rule
    limits = {"max_grade": rule.max_grade_pct / 100, "min_radius_m": rule.min_turn_radius_m}
    spacing = {"spacing_m": rule.spacing_m, "tolerance": rule.spacing_tolerance}
    samples, bad = breaks_alone(rows, task.judged, fall=task.fall, **limits, **spacing)
    length = samples.row_length[samples.row]
    off_m = np.where(at_last[samples.row], length - samples.station, samples.station)
    near = off_m < (MOST_M + TIP_M if task.fall is None else np.inf)
    broken: Bools = np.bincount(samples.row[bad & near], minlength=len(rows)) > 0
    return broken
