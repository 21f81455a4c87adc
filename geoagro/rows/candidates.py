"""Candidate sets of rows: nudged, cut, mended, and told apart by what they are worth."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.spatial import cKDTree
from shapely import LineString, MultiPolygon
from shapely.geometry.base import BaseGeometry

from geoagro.arrays import Floats
from geoagro.planar.cutting import parts_of
from geoagro.planar.cutting import within as cut_to
from geoagro.planar.dents import deep_dents, heights_along, longest_ways
from geoagro.planar.polylines import Polylines, stretch
from geoagro.rows.bends import EASED, ease_bends
from geoagro.rows.by_hand.kept import away_from, joints_at, zone_around
from geoagro.rows.drawn_back import given_up, price_given_up
from geoagro.rows.drawn_on import Longer, longer
from geoagro.rows.earlier_cuts import with_earlier_cuts
from geoagro.rows.finishing import Alone, finish_rows
from geoagro.rows.mending import KEEP_OFF, MORE_IN_HOLES, fill_holes, run_on
from geoagro.rows.quality import (
    CHORD_M,
    RowView,
    chord_grade,
    in_runs,
    legal_share,
    view_again,
    view_rows,
)
from geoagro.rows.relaxation import FRESH_ROUNDS, Wishes, relax_rows
from geoagro.rows.sampling import sample_rows
from geoagro.rows.straight import best_bearing, straight_rows
from geoagro.rows.task import Task, legal_runs, worth_m
from geoagro.values.rows import Lines

NODES_TO_HALF_CHORD = (1, 2, 3)
"""Half the chord that grades are judged on is so many node distances: rows are nudged with few nodes first, which bring long
waves into place in few steps, then with more, and so in turn."""
ROUNDS = 2 * len(NODES_TO_HALF_CHORD) * FRESH_ROUNDS
"""Twice through all node distances. Once wins less; three times, or all rounds with most nodes, win no more."""
EASED_NEAR_M = 8.0
"""How far around a bend it is looked whether easing it makes rows illegal."""
FIRM = 3.0
"""Rows crowded into a hole only find room if what is out of bounds isn't given up so soon."""
LOW_POINT_COST_M = 15.0
"""Where low points are avoided, an inner one costs as much as this length of legal row: about two row ends, as a row that
ends there has (our choice). A row whose longest way of water is half too long costs half of it, and so on."""
ENOUGH = 0.99
"""With this share of the ground legal there is nothing to mend."""
SWEEPS = 4
"""So many times ends are drawn back at the most."""
SWEEPS_ON = 2
"""So many times they run on, as long as rows are looked for: each time those that win most, away from one another."""
SPECK_M = 0.01
_SPECK_M2 = 1e-4
STRAIGHT_WORTH = 0.01
"""Straight rows are taken where bending them wouldn't win more than this share of the ground, less what row ends cost."""


AWAY = 1.001
"""Rows keep this much more than the least distance from rows that stay, for rounding."""


@dataclass(frozen=True)
class Candidate:
    """Rows before and after the hard limits.

    Attributes
    ----------
    rows, held
        Before and after the cuts.
    view
        What is measured on the rows that are left.
    share
        Share of the ground on which what is left is legal.
    missed
        What of that isn't counted, because rows miss a wanted fall there (see `worth_m`).
    worth
        The share less what isn't counted of it, and the cost of every row.
    low_points
        Inner low points of the rows; counted where they are avoided, else 0.
    price
        Share of the ground that low points and long ways of water are held to be worth; 0 where they aren't avoided.
    past
        What was cut from the sets that this one comes from, the latest first.
    """

    rows: list[LineString]
    held: Lines
    view: RowView
    share: float
    missed: float
    worth: float
    low_points: int = 0
    price: float = 0.0
    past: tuple[list[tuple[str, LineString]], ...] = ()

    @property
    def is_enough(self) -> bool:
        """Whether there is nothing left to mend."""
        return self.share - self.missed >= ENOUGH

    @property
    def preferred(self) -> float:
        """What the set is worth less the price of its low points."""
        return self.worth - self.price

    def after(self, before: Candidate, *more: list[tuple[str, LineString]]) -> Candidate:
        """Return the same set, known to come from another one (and from pieces of `more`), whose cuts may still explain empty ground."""
        return replace(self, past=(*self.past, before.held.cut, *more, *before.past))

    def settled(self, spacing_m: float) -> Lines:
        """Tell what is left, and what was cut here or earlier and no row has taken up since."""
        # a set that gave patches more than once comes more than once; the first time settles what of its cuts is left
        past = list({id(cut): cut for cut in self.past}.values())
        return with_earlier_cuts(self.held, past, spacing_m=spacing_m)


def cut_to_limits(
    rows: list[LineString],
    task: Task,
    legal_rows: Sequence[LineString] = (),
    alone: Alone | None = None,
) -> Candidate:
    """Hold the hard limits by cutting; those of `legal_rows` that are still there are known to hold them among themselves.

    `alone` carries what is known of single rows from one call to the next, on the same task.
    """
    held = _held(rows, task, legal_rows, alone)
    return weighed(rows, held, task)


def _held(
    rows: list[LineString], task: Task, legal_rows: Sequence[LineString] = (), alone: Alone | None = None
) -> Lines:
    rule = task.rule
    return finish_rows(
        away_from(rows, task.around.kept, task.nearest_m * AWAY),
        task.plantable,
        task.judged,
        spacing_m=rule.spacing_m,
        tolerance=rule.spacing_tolerance,
        max_grade=rule.max_grade_pct / 100,
        min_radius_m=rule.min_turn_radius_m,
        min_length_m=rule.min_row_length_m,
        fall=task.fall,
        legal_rows=legal_rows,
        alone=alone,
    )


def weighed(rows: list[LineString], held: Lines, task: Task) -> Candidate:
    """Tell what rows that hold the limits are worth; `rows` are those before the cuts."""
    return _weighed(rows, held, _view(held.kept, task, 0.0), task)


def _changed(found: Candidate, rows: list[LineString], made: Longer | None, task: Task) -> Candidate:
    """Tell what is left of a set when some of its rows are shorter, or (as `made`) longer, and what that is worth."""
    sound, fresh = ([], []) if made is None else (made.new, made.ways)
    held = _held(rows, task, [*found.held.kept, *sound])
    drawn = [*task.around.kept, *held.kept]
    view = view_again(drawn, found.view, fresh, task.judged, spacing_m=task.rule.spacing_m, step_m=task.step_m)
    return _weighed(rows, held, view, task)


def _weighed(rows: list[LineString], held: Lines, view: RowView, task: Task) -> Candidate:
    rule = task.rule
    share = _share(view, task)
    joints = joints_at(task.around.edge, task.around.kept, held.kept, rule.spacing_m)
    per_m = rule.spacing_m / task.plantable.area
    cost = task.turning_cost_m * (len(held.kept) - joints) * per_m
    missed = 0.0
    if task.fall is not None:
        missed = float((view.samples.weight - worth_m(view, task))[legal_runs(view, task)].sum()) * per_m
    return Candidate(rows, held, view, share, missed, share - cost - missed, *_priced(held.kept, task))


def _priced(rows: list[LineString], task: Task) -> tuple[int, float]:
    """Inner low points of rows, and their price with that of ways that are too long, as a share of the ground."""
    if not task.rule.avoid_low_points or not rows:
        return 0, 0.0
    heights = heights_along(Polylines.read(rows), task.judged.sample)
    low = deep_dents(heights)
    too_long = 0.0
    if task.longest_way_m is not None:
        too_long = float(np.maximum(longest_ways(heights) / task.longest_way_m - 1, 0).sum())
    return low, LOW_POINT_COST_M * (low + too_long) * task.rule.spacing_m / task.plantable.area


def legal(rows: list[LineString], task: Task) -> float:
    """Legal share of the ground (see `legal_share`) at the task's own limits."""
    return _share(_view(rows, task, task.nearest_m), task)


def _view(rows: list[LineString], task: Task, near_m: float) -> RowView:
    drawn = [*task.around.kept, *rows]
    return view_rows(drawn, task.judged, task.rule.spacing_m, near_m=near_m, step_m=task.step_m)


def _share(view: RowView, task: Task) -> float:
    rule = task.rule
    return legal_share(
        view,
        task.plantable.area,
        spacing_m=rule.spacing_m,
        tolerance=rule.spacing_tolerance,
        max_grade=rule.max_grade_pct / 100,
        min_run_m=rule.min_row_length_m,
    )


def nudged(
    rows: list[LineString],
    task: Task,
    rounds: int = ROUNDS,
    *,
    movable: BaseGeometry | None = None,
    firm: float = 1.0,
    finest: bool = False,
) -> list[LineString]:
    """Nudge rows toward the task's limits, everywhere or where they may be moved; `firm` as in `Wishes`.

    All rounds have most nodes where `finest` asks for it, and within a zone: what is mended there is short.
    """
    rule = task.rule
    wishes = Wishes(
        rule.spacing_m,
        rule.spacing_tolerance,
        rule.max_grade_pct / 100,
        rule.preferred_grade_pct / 100,
        rule.min_turn_radius_m,
        task.fall,
        task.guides,
        task.window,
        task.around.kept,
        task.lift_dents,
        movable,
        task.fair,
        firm,
    )
    area = task.plantable.buffer(0.3 * rule.spacing_m)
    steps_m = node_steps(rounds, turns=movable is None and not finest)
    return relax_rows(rows, task.judged_slopes, area, wishes, steps_m=steps_m)


def node_steps(rounds: int, *, turns: bool = True) -> list[float]:
    """Distance of nodes in each round of nudging, metres: the last rounds have most nodes, those before them fewer, in turn.

    Without `turns` all rounds have most.

    >>> node_steps(12)[::3]
    [2.5, 2.5, 1.6666666666666667, 1.6666666666666667]
    """
    finest_first = NODES_TO_HALF_CHORD[::-1] if turns else NODES_TO_HALF_CHORD[-1:]
    left = range(rounds - 1, -1, -1)
    return [CHORD_M / 2 / finest_first[k // FRESH_ROUNDS % len(finest_first)] for k in left]


def mended(
    found: Candidate,
    task: Task,
    rounds: int = ROUNDS,
    *,
    keep_off: float = KEEP_OFF,
    firm_rounds: int = 0,
    finest: bool = False,
) -> Candidate:
    """Use the ground that cuts left: let rows run on, join and fill holes, then nudge, cut and ease again.

    What was cut before and stays empty stays cut. Rows that run on keep `keep_off` spacings from others; `firm_rounds` of nudging
    go before, FIRM as firm; `finest` as in `nudged`.
    """
    if not found.held.kept:
        return found
    rows = run_on_and_filled(found.held.kept, task, keep_off)
    if firm_rounds:
        rows = nudged(rows, task, firm_rounds, firm=FIRM, finest=finest)
    better = with_best_ends(cut_or_eased(nudged(rows, task, rounds, finest=finest), task), task)
    return better.after(found)


def run_on_and_filled(
    rows: list[LineString], task: Task, keep_off: float = KEEP_OFF, *, within: BaseGeometry | None = None
) -> list[LineString]:
    """Let rows run on, join ends that face each other and give holes rows of their own, everywhere or `within` a zone.

    Rows run on past the field's edge too, so that the edge is no end while they are nudged. They keep `keep_off` spacings from others.
    """
    rule, ground = task.rule, task.smooth_slopes
    room: BaseGeometry = task.plantable.buffer(1.5 * rule.spacing_m)
    holes = task.plantable
    if within is not None:
        room = room.intersection(within)
        holes = MultiPolygon(list(parts_of(cut_to(np.array([holes]), within), _SPECK_M2)[0]))
    if task.around.kept:
        room = room.difference(zone_around(task.around.kept, [room], keep_off * rule.spacing_m))
    drawn = run_on(
        rows,
        ground,
        room,
        spacing_m=rule.spacing_m,
        max_grade=rule.max_grade_pct / 100,
        radius_m=rule.min_turn_radius_m * EASED,
        fall=task.fall,
        keep_off=keep_off,
    )
    if holes.is_empty:
        return drawn
    fresh = fill_holes(
        [*task.around.kept, *drawn],
        ground,
        holes,
        spacing_m=rule.spacing_m,
        min_length_m=max(rule.min_row_length_m, task.turning_cost_m),  # a shorter one can't be worth its turns
        fall=task.fall,
        keep_off=keep_off + MORE_IN_HOLES,
    )
    return [*drawn, *fresh]


def cut_or_eased(rows: list[LineString], task: Task, legal_rows: Sequence[LineString] = ()) -> Candidate:
    """Hold the hard limits; ease bends that are too tight instead of cutting them, where that costs less.

    A cut costs the row's piece between its two new ends (which must be the least distance apart) and two row ends; easing
    a bend costs what is illegal around it afterwards.
    """
    rule = task.rule
    bends = ease_bends(rows, rule.min_turn_radius_m * EASED) if rule.min_turn_radius_m > 0 else None
    if bends is None or len(bends.centres) == 0:
        return cut_to_limits(rows, task, legal_rows)
    alone = Alone()
    every = cut_to_limits(bends.rows(np.ones(len(bends.centres), dtype=bool)), task, legal_rows, alone)
    cut_m = (1 - rule.spacing_tolerance) * rule.spacing_m
    worth = _illegal_near(every, bends.centres, task) <= task.turning_cost_m + cut_m
    return every if worth.all() else cut_to_limits(bends.rows(worth), task, legal_rows, alone)


def with_best_ends(found: Candidate, task: Task, *, sweeps: int = SWEEPS_ON) -> Candidate:
    """Draw back ends that are in their neighbours' way, and let those run on that win by it, `sweeps` times at the most."""
    return drawn_on(drawn_back(found, task), task, sweeps)


def drawn_back(found: Candidate, task: Task) -> Candidate:
    """Draw ends back that are in their neighbours' way (see `given_up`), those that win most first, for as long as it gains.

    What a row gives up is cut for the spacing's sake, or as a whole because it isn't worth its turns.
    """
    for _ in range(SWEEPS if found.held.kept else 0):
        if found.is_enough:
            break
        rows, fixed = found.held.kept, len(task.around.kept)
        gone, for_turns = (part[fixed:] for part in given_up(found.view, [*task.around.kept, *rows], task))
        if not gone.any():
            break
        left = [_shorter(row, start_m, end_m) for row, (start_m, end_m) in zip(rows, gone, strict=True)]
        shorter = _changed(found, [row for row in left if row is not None], None, task)
        why = ["turning_cost" if turns else "spacing_limit" for turns in for_turns]
        pieces = [
            (reason, piece) for reason, row, (a, b) in zip(why, rows, gone, strict=True) for piece in _tips(row, a, b)
        ]
        better = replace(shorter, held=Lines(shorter.held.kept, shorter.held.cut + pieces)).after(found)
        if _with_length(better, task) <= _with_length(found, task):
            break
        found = better
    return found


def drawn_on(found: Candidate, task: Task, sweeps: int) -> Candidate:
    """Let ends run on where that wins (see `longer`), those that win most first, for as long as it gains."""
    since = None
    for _ in range(sweeps if found.held.kept else 0):
        if found.is_enough:
            break
        rows, fixed = found.held.kept, len(task.around.kept)
        made = longer(found.view, [*task.around.kept, *rows], task, since=since)
        if made is None and since is not None:
            since = None  # what was won elsewhere may help ends farther off
            continue
        if made is None:
            break
        better = _changed(found, made.rows[fixed:], made, task).after(found)
        if _with_length(better, task) <= _with_length(found, task):
            break
        found, since = better, made.ways
    return found


def _shorter(row: LineString, start_m: float, end_m: float) -> LineString | None:
    """Return a row without what it gives up; None where nothing is left."""
    if start_m + end_m >= row.length - SPECK_M:
        return None
    return row if start_m + end_m == 0 else stretch(row, start_m, row.length - end_m)


def _tips(row: LineString, start_m: float, end_m: float) -> list[LineString]:
    """Return what a row gives up."""
    if start_m + end_m >= row.length - SPECK_M:
        return [row]
    parts = ((0.0, start_m), (row.length - end_m, row.length))
    return [stretch(row, a, b) for (a, b), gone in zip(parts, (start_m, end_m), strict=True) if gone > 0]


def _with_length(found: Candidate, task: Task) -> float:
    """Tell what a set is worth, its length counted as `given_up` does."""
    length_m = float(found.view.samples.weight.sum())
    return found.worth + price_given_up(task) * length_m * task.rule.spacing_m / task.plantable.area


def _illegal_near(found: Candidate, centres: Floats, task: Task) -> Floats:
    """Metres of row within EASED_NEAR_M of each centre that break a limit, or are left too short by what does."""
    samples = found.view.samples
    length = samples.weight * ~legal_runs(found.view, task)
    near = cKDTree(np.column_stack([samples.x, samples.y])).query_ball_point(centres, EASED_NEAR_M)
    return np.array([length[k].sum() for k in near])


@dataclass(frozen=True)
class Straight:
    """Straight rows at the bearing that plants most, before the cuts.

    Attributes
    ----------
    rows
        All of them.
    most_share, most_worth
        Share of the ground on which they aren't too steep, and that less the cost of rows: cuts add nothing to either.
    """

    rows: list[LineString]
    most_share: float
    most_worth: float


def straight_of(task: Task) -> Straight:
    """Lay straight rows; they are a spacing apart, so they are legal where they aren't too steep."""
    rule = task.rule
    bearing = best_bearing(task.plantable, spacing_m=rule.spacing_m, min_length_m=rule.min_row_length_m)
    rows = straight_rows(
        task.plantable, spacing_m=rule.spacing_m, min_length_m=rule.min_row_length_m, bearing_deg=bearing
    ).kept
    samples = sample_rows(rows, task.step_m)
    level = chord_grade(rows, samples, task.judged) <= rule.max_grade_pct / 100
    runs = in_runs(level, samples, rule.min_row_length_m)
    share = rule.spacing_m / task.plantable.area
    planted_m = float(samples.weight[runs].sum())
    return Straight(
        rows, planted_m * share, (planted_m - task.turning_cost_m * len(np.unique(samples.row[runs]))) * share
    )


def straight_if_as_good(best: Candidate, straight: Straight, task: Task) -> Candidate:
    """Straight rows, unless bent ones are worth more than them by STRAIGHT_WORTH.

    Row ends count: two hundred bent rows that hold a little more of the ground than a hundred and fifty straight ones lose.
    """
    if straight.most_worth + STRAIGHT_WORTH < best.worth:
        return best
    laid = cut_to_limits(straight.rows, task)
    return laid if laid.worth + STRAIGHT_WORTH >= best.worth else best
