"""Row ends that stand in the way: how far each is drawn back so that its neighbours keep to their limits.

Where rows run together one of them ends, and beside its tip its neighbours are as a rule too far apart to be neighbours and too
near to have an open side: on a few metres they break the spacing, and the legal run beyond is lost if it is short. Ended
sooner, the row may give up less than they win.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import cKDTree
from shapely import LineString

from geoagro.arrays import Bools, Floats, Ints
from geoagro.planar.segments import Standing
from geoagro.rows.loops.drawn_back import Rows, Seen, Within, wins_of_ends
from geoagro.rows.quality import NEIGHBOUR_REACH, SPACING_REACH, RowView, holds_spacing
from geoagro.rows.task import Task

MOST_M = 30.0
"""No end is drawn back by more at once."""
WHOLE_M, WHOLE_COSTS = 45.0, 2.0
"""A row up to this long, or so many times what a row costs, may go as a whole."""
GIVEN_UP = 0.5
GIVEN_UP_WITH_BEDS = 1.0
"""A metre of row given up is held to cost as much as so many metres of legal row (our choice): rows are there to be planted,
and beds lie beside them however far the next row is."""
LEAST_WIN_M = 0.5
"""What wins no more than this length of legal row is let be."""
NOTHING_M = 1e-6
APART_M = 40.0
"""Ends that are drawn back at once lie this far apart, so that what each wins is its own."""
STAYS_SPACINGS = 1.5
"""Ends this near to where new rows join those that stay, or to a guide, aren't drawn back."""


@dataclass(frozen=True, eq=False)
class _Ends:
    """Ends that may be drawn back.

    Attributes
    ----------
    row, is_last
        Index of the row, and which end it is: 0 where the row starts, 1 where it ends.
    most_m
        By how much at the most.
    xy
        Place, shape (n, 2).
    """

    row: Ints
    is_last: Ints
    most_m: Floats
    xy: Floats

    def take(self, which: NDArray[np.intp]) -> _Ends:
        """Return some of them."""
        return _Ends(self.row[which], self.is_last[which], self.most_m[which], self.xy[which])


def price_given_up(task: Task) -> float:
    """Tell what a metre of row given up costs, in metres of legal row."""
    return GIVEN_UP if task.window is None else GIVEN_UP_WITH_BEDS


def given_up(view: RowView, rows: Sequence[LineString], task: Task) -> tuple[Floats, Bools]:
    """Tell how much each row should give up at its start and at its end, metres, shape (rows, 2): as much as it is long if all of it.

    Tells beside it which rows go as a whole that would stay if their turns cost nothing.

    Parameters
    ----------
    view, rows
        All rows, those that stay first, and what is seen from them.
    """
    shortest_m = task.rule.min_row_length_m
    gone = np.zeros((len(rows), 2))
    table, within = counted(view, task)
    ends, pointer, seen = _in_the_way(view, _ends(view, task), within[1], task)
    if len(ends.row) == 0:
        return gone, np.zeros(len(rows), dtype=bool)
    prices = (shortest_m, shortest_m, price_given_up(task), task.turning_cost_m)
    won = wins_of_ends((ends.row, ends.is_last, ends.most_m, pointer), seen, table, within, prices)
    some = _apart(won[:, 0], ends.xy)
    gone[ends.row[some], ends.is_last[some]] = won[some, 1]
    for_turns = np.zeros(len(rows), dtype=bool)
    whole = won[some, 1] >= view.samples.row_length[ends.row[some]] - NOTHING_M
    for_turns[ends.row[some]] = whole & (won[some, 0] <= task.turning_cost_m)
    return gone, for_turns


def counted(view: RowView, task: Task) -> tuple[Rows, Within]:
    """Lay out what is seen as legal runs are counted from it: the rows' samples, and which of them hold which limits."""
    samples = view.samples
    count = np.bincount(samples.row, minlength=len(samples.row_length)).astype(np.int64)
    own = ~(view.grade > task.rule.max_grade_pct / 100)
    sides = np.stack([holds_of(side.distance, task) for side in (view.up, view.down)])
    return (np.cumsum(count) - count, count, samples.weight), (own, sides)


def holds_of(distance: Floats, task: Task) -> Bools:
    """Tell at which distances a neighbour holds the task's spacing, or there is none."""
    return holds_spacing(distance, spacing_m=task.rule.spacing_m, tolerance=task.rule.spacing_tolerance)


def _ends(view: RowView, task: Task) -> _Ends:
    samples = view.samples
    length = samples.row_length
    may = ~samples.is_ring & (np.arange(len(length)) >= len(task.around.kept))
    row = np.repeat(np.flatnonzero(may), 2).astype(np.int64)
    is_last = np.arange(len(row), dtype=np.int64) % 2
    xy = samples.xy[np.searchsorted(samples.row, row + is_last) - is_last]
    whole_m = max(WHOLE_M, WHOLE_COSTS * task.turning_cost_m)
    most_m = np.where(length <= whole_m, length, np.minimum(MOST_M, length - task.rule.min_row_length_m))[row]
    return _Ends(row, is_last, most_m, xy).take(np.flatnonzero(~stays(xy, task)))


def stays(xy: Floats, task: Task) -> Bools:
    """Tell which places are held: beside rows that stay or on a guide."""
    held = [*task.guides, *([] if task.around.edge is None else [task.around.edge])]
    near_m, places = STAYS_SPACINGS * task.rule.spacing_m, shapely.points(xy)
    beside = np.zeros(len(xy), dtype=bool)
    for line in held:
        beside |= shapely.dwithin(line, places, near_m)
    return beside


def _in_the_way(view: RowView, ends: _Ends, sides: NDArray[np.bool_], task: Task) -> tuple[_Ends, Ints, Seen]:
    """Choose the ends that may win, and find what sees their rows near the tips; between, where each end's part of that begins.

    An end may win where one that sees its row breaks the spacing with it and wouldn't without it, and as far back as that;
    or where its row may go as a whole.
    """
    end, sample, side, at = _near_tips(view, ends, task)
    broken, seen_ok = ~sides[side, sample], np.zeros(len(end), dtype=bool)

    def look_behind(which: Bools) -> None:
        seen_ok[which] = holds_of(_behind(view, sample[which], side[which], task), task)

    look_behind(broken)
    whole = ends.most_m >= view.samples.row_length[ends.row]
    far_m = np.where(whole, ends.most_m, 0.0)
    cured = broken & seen_ok
    np.maximum.at(far_m, end[cured], at[cured] + task.step_m)
    ends = replace(ends, most_m=np.minimum(ends.most_m, far_m))
    in_reach = at < ends.most_m[end]
    look_behind(in_reach & ~broken)
    kept = np.flatnonzero(in_reach)
    order = kept[np.lexsort([sample[kept], side[kept], at[kept], end[kept]])]
    some = np.flatnonzero(ends.most_m > 0)
    pointer = np.append(np.searchsorted(end[order], some), len(order)).astype(np.int64)
    return ends.take(some), pointer, (sample[order], side[order], at[order], seen_ok[order])


def _near_tips(view: RowView, ends: _Ends, task: Task) -> tuple[Ints, Ints, Ints, Floats]:
    """End, sample, side and distance from the tip of all that sees a row near one of its ends."""
    number = np.full((len(view.samples.row_length), 2), -1, dtype=np.int64)
    number[ends.row, ends.is_last] = np.arange(len(ends.row))
    found: list[tuple[Ints, Ints, Ints, Floats]] = []
    for side, hits in enumerate((view.up, view.down)):
        sample = np.flatnonzero(hits.distance <= NEIGHBOUR_REACH * task.rule.spacing_m)
        row, station = hits.line[sample], hits.station[sample]
        for last, at in enumerate((station, view.samples.row_length[row] - station)):
            end = number[row, last]
            near = (end >= 0) & (at < ends.most_m[end])
            found.append((end[near], sample[near], np.full(int(near.sum()), side), at[near]))
    end, sample, side_of, far = (np.concatenate(part) for part in zip(*found, strict=True))
    return end, sample, side_of, far


def _behind(view: RowView, sample: Ints, side: Ints, task: Task) -> Floats:
    """Tell how far each sample would see to a side if the row that it sees there weren't there, metres."""
    samples, left = view.samples, side == 0
    near_m = np.where(left, view.up.distance[sample], view.down.distance[sample])
    row = np.where(left, view.up.line[sample], view.down.line[sample])
    way = np.where(left, 1.0, -1.0)[:, None] * np.column_stack([-samples.ty[sample], samples.tx[sample]])
    # the ray goes on from the row that is taken away, which as a whole it no longer sees
    there = Standing(row, np.zeros(len(row)), samples.row_length[row], np.zeros(len(row), dtype=bool), np.inf)
    reach_m = SPACING_REACH * task.rule.spacing_m
    from_there = samples.xy[sample] + near_m[:, None] * way
    return near_m + view.segments.first_hit(from_there, way, 0.0, reach_m, standing=there).distance


def _apart(win_m: Floats, xy: Floats) -> NDArray[np.intp]:
    """Choose the ends that win most, away from one another."""
    order = np.argsort(-np.round(win_m, 6), kind="stable")
    order = order[win_m[order] > LEAST_WIN_M]
    if len(order) == 0:
        return order
    taken = np.zeros(len(order), dtype=bool)
    for k, near in enumerate(cKDTree(xy[order]).query_ball_point(xy[order], APART_M)):
        taken[k] = not taken[near].any()
    return order[taken]
