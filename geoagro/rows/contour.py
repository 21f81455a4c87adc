"""Rows that are on contour and equally spaced at once, as far as the ground lets them."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from shapely import LineString, MultiPolygon

from geoagro.arrays import Floats
from geoagro.planar.dents import DEEP_M
from geoagro.rows.by_hand.kept import away_from
from geoagro.rows.candidates import (
    ENOUGH,
    Candidate,
    cut_or_eased,
    cut_to_limits,
    legal,
    mended,
    nudged,
    straight_if_as_good,
    straight_of,
    weighed,
    with_best_ends,
)
from geoagro.rows.clipping import clipped
from geoagro.rows.fall import inside, row_limits, wanted_fall, wanted_uphill
from geoagro.rows.guides import pin_guides
from geoagro.rows.joining import join_facing
from geoagro.rows.lattice import Lattice, build_lattice
from geoagro.rows.level_lines import level_lines
from geoagro.rows.quality import JUDGE_STEP_M
from geoagro.rows.row_field import centred, legal_field, level_start, poisson_start
from geoagro.rows.stitching.anew import mended_in_places
from geoagro.rows.stitching.fairing import fair_worth, faired
from geoagro.rows.stitching.stitch import stitched
from geoagro.rows.task import NOTHING, Around, Task
from geoagro.values.design import RowRule
from geoagro.values.grid import Grid
from geoagro.values.progress import Progress, silent
from geoagro.values.rows import Lines, RowWindow
from geoagro.values.site import Finding
from geoagro.values.words import Sentence

CELL_SHARES = (0.8, 1.0)
"""Distance between nodes of the row field, in spacings: fine on small fields, coarse on large ones."""
FINE_NODES = 60_000
"""The row field is coarsened where it would have more nodes than this."""
FIELD_TOLERANCE_SHARE = 0.9
FIELD_GRADE_SHARE = 0.85
"""The row field aims a little inside the limits."""
BENDS_M = (6.0, 2.0, 12.0, 4.0, 20.0, 1.0, 8.0, 3.0)
"""How stiff the row field starts; the fit that follows finds another valley from each. The first ones are looked at as a rule."""
PHASES = (0.0, 0.5)
EDGE_M = 0.05


@dataclass(frozen=True)
class Care:
    """How long it is looked for rows.

    Attributes
    ----------
    starts, mends
        Row fields that are tried, and how often rows are mended at the most (for as long as it gains).
    stitches
        Rounds in which the best set is mended by patches of the others (for as long as it gains; with many, of its variants too).
    in_places
        Whether it is mended in small places afterwards, for as long as that gains.
    """

    starts: int
    mends: int
    stitches: int
    in_places: bool = False


LARGE, HUGE = Care(1, 2, 2), Care(1, 1, 0)
"""Beyond LARGE_HA one start is looked at, so that 100 ha take seconds, and beyond HUGE_HA nothing is put together:
every set that is kept for that takes a few megabytes a hectare."""
LARGE_HA, HUGE_HA = 40.0, 250.0
QUICK, USUAL, THOROUGH = Care(1, 1, 0), Care(2, 5, 2), Care(len(BENDS_M), 16, 1000, in_places=True)
USUAL_SHARE = 0.05
"""Share of a thorough search that a usual one is, about."""
ROUND_SHARE, TURN_SHARE = 0.008, 0.004
"""Nobody knows how many rounds and turns will gain: each is told as this share of what is left."""
LIFTS = 3
"""Where low points are avoided, so many times the best set so far is nudged out of its dents, and mended."""
HARDLY = 0.015
HARDLY_RUNS = 2
"""Sets nearer in worth than this share of the ground, or (on a small field) than so many of the shortest rows, are told apart by
finer samples: those of the search can't."""
FINALISTS, MOST_FINALISTS = 2, 6
"""So many sets are joined and looked at again before one is taken; up to the second where they differ by HARDLY_RUNS."""
LAST_SWEEPS_ON = 10
"""So many times ends run on at last; on a large field once, as each time takes as long as cutting all rows."""
LOW_POINT_FINALISTS = 3
"""The same, where the set with fewest low points for its worth is looked for."""
STILL_BETTER = Finding(
    "note",
    "rows.thorough",
    Sentence(
        "rows were still getting better when the search ended; thorough: true goes on for as long as it "
        "gains, in about fifty times the time"
    ),
)
PATIENCE = 2
"""So many times in a row mending may gain nothing before it is given up; the sets put together gain more then."""
DONORS = 6
"""So many sets, the ones worth most, are put together as a rule; all of them where rows are looked for thoroughly."""


def contour_rows(
    plantable: MultiPolygon,
    smooth: Grid,
    judged: Grid,
    rule: RowRule,
    *,
    guides: Sequence[LineString] = (),
    outlet: Any | None = None,
    window: RowWindow | None = None,
    around: Around = NOTHING,
    longest_way_m: float | None = None,
    progress: Progress = silent,
) -> Lines:
    """Lay candidate sets of rows and keep the one that is worth most: legal ground, less what its row ends cost.

    Each candidate starts from another row field, is made legal where it can be (`legal_field`), nudged on real row
    geometry (`nudged`), cut where a hard limit still breaks (`cut_to_limits`) and mended (`mended`). What is best of each is
    put together (`stitched`), for as long as it gains where the rule asks for it. Straight rows at the best bearing compete
    too, so that gentle ground isn't given bends for millimetres of height.

    Parameters
    ----------
    plantable, smooth, judged, rule, guides
        See `Task`.
    outlet
        Point or line that rows fall toward, where the rule asks for it.
    around
        Rows that stay as they are; the others are laid around them, and only those are returned.
    window
        What the beds between rows ask of the rows' distance.
    longest_way_m
        Longest way of water one way along a row, minded where the rule says that low points are avoided.
    """
    fall = wanted_fall(rule, smooth, outlet)
    task = Task(plantable, smooth, judged, rule, tuple(guides), fall, window, around, longest_way_m)
    straight = None if task.pinned or task.fall is not None else straight_of(task)
    if straight is not None and straight.most_share >= ENOUGH and not rule.avoid_low_points:
        # bending rows could win nothing that is worth it
        return _joined(cut_to_limits(straight.rows, task), task).settled(rule.spacing_m)
    care = care_of(task)
    found, gains = _searched(task, care, progress)
    if care.stitches:
        found = [replace(one, best=faired(one.best, one.task)) for one in found]
    bent, tried = found[-1].best, found[-1].tried
    best = bent if straight is None else straight_if_as_good(bent, straight, task)
    if rule.avoid_low_points and best.held.kept:
        laid = _with_fewer_low_points(best, tried, found[-1].task)
    else:
        # straight rows need be no better than bent ones to be taken, so none of these competes with them again
        laid = _finished(found if best is bent else [_Found(best, [], task)], task)
    progress("rows", 1.0)
    return replace(laid, findings=(*laid.findings, STILL_BETTER)) if gains and rule.thorough is not True else laid


@dataclass(frozen=True, eq=False)
class _Found:
    """What a search found: the set worth most, all that were tried, and the task as it was looked for."""

    best: Candidate
    tried: list[Candidate]
    task: Task


def _searched(task: Task, care: Care, progress: Progress) -> tuple[list[_Found], bool]:
    """Lay and mend sets and put them together; tells beside what was found whether it was still getting better.

    What a usual search finds is among what a thorough one puts together, and is found beside: it takes little time, and by itself
    the longer search may follow another start and end with less. The longer one tells sets apart on samples as fine as the judge's:
    the more sets it tries, the more it would take what is only lucky on coarse ones.
    """
    before: list[_Found] = []
    earlier: list[Candidate] = []
    if care is THOROUGH:
        before, _ = _searched(task, USUAL, _part_of(progress, 0.0, USUAL_SHARE))
        progress = _part_of(progress, USUAL_SHARE, 1.0)
        task = _finely(task)
        every = {id(one): one for found in before for one in (*found.tried, found.best)}.values()
        earlier = [_as_judged(one, task) for one in every]
    looked, put_together = _shares(care)
    best, tried = _looked_for(task, care, _part_of(progress, 0.0, looked))
    tried = [*earlier, *tried]
    best = max((best, *earlier), key=_worth)
    best, gains = _put_together(best, tried, task, care, _part_of(progress, looked, put_together))
    if care.in_places:
        best = mended_in_places(best, task, _going_on(_part_of(progress, put_together, 1.0), TURN_SHARE))
    return [*before, _Found(best, tried, task)], gains


def _part_of(progress: Progress, first: float, last: float) -> Progress:
    """Tell of work that is a part of the whole, between two shares of it."""
    return lambda what, share: progress(what, first + (last - first) * share)


def _going_on(progress: Progress, share: float) -> Callable[[int], None]:
    """Tell of steps of which nobody knows how many there will be: each takes a share of what is left."""
    return lambda number: progress("rows", 1 - (1 - share) ** number)


def _looked_for(task: Task, care: Care, progress: Progress) -> tuple[Candidate, list[Candidate]]:
    """Lay starts and mend them: the set worth most, and all of them."""
    starts = care.starts + bool(task.around.earlier)
    steps = starts + care.mends
    found: list[Candidate] = []
    for draft in _drafts(task, BENDS_M[: care.starts]):
        progress("rows", (len(found) + 0.5) / steps)
        found.append(cut_to_limits(nudged(draft, task), task))
    best, tried = max(found, key=_worth), list(found)
    for number, better in enumerate(_mends(found, tried, task, care)):
        best = better
        progress("rows", (starts + number) / steps)
    return best, tried


def _shares(care: Care) -> tuple[float, float]:
    """Shares of the work (about, on the open fields) at which starts are laid and mended, and the best of them put together."""
    if care.in_places:
        return 0.1, 0.6
    return (0.8 if care.stitches else 1.0), 1.0


def _put_together(
    best: Candidate, tried: list[Candidate], task: Task, care: Care, progress: Progress
) -> tuple[Candidate, bool]:
    """Mend the best set by patches of the others; tells beside it whether that still gained at the end."""
    if not care.stitches or best.is_enough or not best.held.kept:
        return best, False
    donors = [one for one in sorted(tried, key=_worth, reverse=True) if one.held.kept]
    donors = donors if task.rule.thorough is True else donors[:DONORS]
    return stitched(best, donors, task, care.stitches, _going_on(progress, ROUND_SHARE))


def _with_fewer_low_points(plain: Candidate, tried: list[Candidate], task: Task) -> Lines:
    """Of all sets that were tried, and those nudged out of dents, the one worth most less the price of its low points.

    Parameters
    ----------
    plain
        The set that is worth most where low points have no price: it competes too, and what avoiding them costs is told.
    """
    tried = [plain, *tried]
    lifting = replace(task, lift_dents=True)
    for _ in range(LIFTS):
        lifted = cut_or_eased(nudged(max(tried, key=_preferred).rows, lifting), task)
        tried += [lifted, mended(lifted, lifting)]
    finalists = (plain, *sorted(tried, key=_preferred, reverse=True)[:LOW_POINT_FINALISTS])
    without, *others = [_joined(_as_judged(one, task), task) for one in finalists]
    best = max((without, *others), key=_preferred)
    laid = best.settled(task.rule.spacing_m)
    return laid if best is without else replace(laid, findings=(_price_told(best, without),))


def _price_told(best: Candidate, without: Candidate) -> Finding:
    text = Sentence(
        "{low_points} inner low points of {deep_m:g} m or deeper and {share:.3f} of the ground within "
        "limits; without rows.avoid_low_points the best set had {others} and {other_share:.3f}",
        low_points=best.low_points,
        deep_m=DEEP_M,
        share=best.share,
        others=without.low_points,
        other_share=without.share,
    )
    return Finding("note", "rows.avoid_low_points", text)


def _finished(found: list[_Found], task: Task) -> Lines:
    """Join and draw back the sets worth most on samples as fine as the judge's, and give the best of them.

    The search's samples are coarse: what they tell apart by less than HARDLY may be the other way round. On a large field such
    luck evens out, so the best set is the best.
    """
    if task.hectares > LARGE_HA:
        return _joined(found[-1].best, task).settled(task.rule.spacing_m)
    finalists = {id(one.held): one for those in found for one in _finalists(those, task)}.values()
    joined = [_joined(one, task) for one in finalists]
    return max(joined, key=lambda one: fair_worth(one, task)).settled(task.rule.spacing_m)


def _finalists(found: _Found, task: Task) -> list[Candidate]:
    """Choose the sets worth most on samples as fine as the judge's, more of them on a small field, where one more run tells much."""
    best, runs = found.best, HARDLY_RUNS * task.rule.min_row_length_m * task.rule.spacing_m / task.plantable.area
    least = best.worth - max(HARDLY, runs)
    near = [one for one in found.tried if one is not best and one.worth > least and one.held.kept]
    finely = sorted(
        (_as_judged(one, task) for one in (best, *near)), key=lambda one: fair_worth(one, task), reverse=True
    )
    least = fair_worth(finely[0], task) - runs
    return [one for k, one in enumerate(finely[:MOST_FINALISTS]) if k < FINALISTS or fair_worth(one, task) > least]


def _as_judged(found: Candidate, task: Task) -> Candidate:
    """Return the same set, measured on samples as fine as the judge's (on a large field, as the search's)."""
    return replace(weighed(found.rows, found.held, _finely(task)), past=found.past)


def _finely(task: Task) -> Task:
    """Tell sets apart on samples as fine as the judge's: of a large field they would take gigabytes, and tell no more."""
    return replace(task, step_m=JUDGE_STEP_M) if task.hectares <= LARGE_HA else task


def _joined(found: Candidate, task: Task) -> Candidate:
    """Join facing ends, then draw ends back and on. Where one was, others may face each other, and so on.

    Each turn but the first has a row less.
    """
    task, turns = _finely(task), 0
    while True:
        rows = join_facing(found.held.kept, task)
        if len(rows) != len(found.held.kept):
            found = weighed(found.rows, Lines(rows, []), task).after(found)
        elif turns:
            return found
        better = with_best_ends(found, task, sweeps=LAST_SWEEPS_ON if task.hectares <= LARGE_HA else 1)
        if better is found:
            return found
        found, turns = better, turns + 1


def care_of(task: Task) -> Care:
    """Read from the rule how long to look; where it leaves that open, the same up to LARGE_HA."""
    if task.rule.thorough == "auto":
        return USUAL if task.hectares <= LARGE_HA else LARGE if task.hectares <= HUGE_HA else HUGE
    return THOROUGH if task.rule.thorough else QUICK


def _mends(starts: list[Candidate], tried: list[Candidate], task: Task, care: Care) -> Iterator[Candidate]:
    """Mend again and again, as long as there is something to gain; yields the best set so far.

    Only mending tells what becomes of a start, so each is mended once, then the set that is worth most at the time. All
    that is mended is put into `tried`.
    """
    best, latest, idle = max(starts, key=_worth), list(starts), 0
    for number in range(care.mends):
        if best.is_enough or idle == PATIENCE:
            return
        first = number < len(starts)
        k = number if first else max(range(len(latest)), key=lambda k: latest[k].worth)
        latest[k] = mended(latest[k], task)
        tried.append(latest[k])
        idle = 0 if first or latest[k].worth > best.worth else idle + 1
        best = max(best, latest[k], key=_worth)
        yield best


def _worth(candidate: Candidate) -> float:
    return candidate.worth


def _preferred(candidate: Candidate) -> float:
    return candidate.preferred


def _drafts(task: Task, bends_m: tuple[float, ...]) -> Iterator[list[LineString]]:
    """Level lines of one row field after another, reaching past the plantable ground."""
    d = task.rule.spacing_m
    domain = task.plantable.buffer(2 * d)
    share = np.clip(np.sqrt(domain.area / FINE_NODES) / d, *CELL_SHARES)
    lattice = build_lattice(domain, task.smooth, float(share) * d)
    limits = inside(row_limits(task.rule, lattice, task.fall), FIELD_TOLERANCE_SHARE, FIELD_GRADE_SHARE)
    start = poisson_start(lattice, wanted_uphill(lattice, task.fall))
    for bend_m in bends_m:
        phi = level_start(
            lattice, start, limits, bend_m=bend_m, pinned=pin_guides(lattice, start, task.pinned, task.aim_m)
        )
        phi = legal_field(lattice, phi, limits, pinned=pin_guides(lattice, phi, task.pinned, task.aim_m))
        phi = phi if task.pinned else centred(lattice, phi)
        yield _rows_of(lattice, phi, task, choose=len(bends_m) > 1)
    if task.around.earlier:
        yield list(task.around.earlier)


def _rows_of(lattice: Lattice, phi: Floats, task: Task, *, choose: bool) -> list[LineString]:
    """Return the level lines, among a few shifts by a part of the spacing, that is legal on most length.

    Guides have whole multiples of the spacing, so with them there is no choice; on a large field no shift matters.
    """
    d = task.rule.spacing_m

    def share(phase: float) -> float:
        return legal(clipped(level_lines(lattice, phi, task.aim_m, phase), inner, task.rule.min_row_length_m), task)

    # a row on the very edge is there or not by a rounding
    inner = task.plantable.buffer(-EDGE_M)
    best = 0.0 if task.pinned or not choose else max(PHASES, key=share)
    lines = clipped(level_lines(lattice, phi, task.aim_m, best), task.plantable.buffer(1.5 * d), 0.5 * d)
    lines = away_from(lines, task.around.kept, 0.5 * d, 0.5 * d)
    # a ring too short to be a row would only push the rows around it, and could shrink to a point
    return [line for line in lines if not (line.is_closed and line.length < task.rule.min_row_length_m)]
