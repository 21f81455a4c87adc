"""Nudge finished rows until they hold what they are judged by: spacing to the real neighbours and grade over 10 m.

Every node may move along its row's normal. What is out of bounds pulls with a weight that falls off with the size of
the violation, so that a place which can't be helped is given up instead of bending its surroundings.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from geoagro.arrays import Floats, Ints
from geoagro.planar.dents import DEEP_M, dent_depths
from geoagro.planar.polylines import Polylines
from geoagro.planar.segments import Hits
from geoagro.rows.chains import Chains, chains_of
from geoagro.rows.fall import KEPT_SHARE, Fall
from geoagro.rows.guides import shift_to_guides
from geoagro.rows.least_squares import LeastSquares
from geoagro.rows.loops.pulls import bends, gaps, grades, stiffness, want_gaps, want_grades
from geoagro.rows.quality import BEND_WINDOW_M, CHORD_M, OWN_GAP, SHORT_CHORD_LIMITS, SHORT_CHORD_M
from geoagro.rows.sight import SIDES, follow, look
from geoagro.rows.slopes import Slopes
from geoagro.values.rows import RowWindow

SPACING_MARGIN = 0.03
NEED_MARGIN_M = 0.01
GRADE_MARGIN = 0.2
BEND_MARGIN = 0.15
WAVE_MARGIN = 0.1
"""Aim this far inside a limit: a share of the spacing, metres above what beds need, a share of the grade limit, of the
largest curvature, of what a short chord may be steep."""
GIVE_UP_SPACING = 0.2
GIVE_UP_GRADE = 0.1
GIVE_UP_BEND = 0.3
"""Violations at which a pull has lost half its weight: in tolerances, grade limits, largest curvatures."""
SHORT_M = 8.0
GIVE_UP_SHORT = 0.5
GIVE_UP_SHORT_GAP = 0.35
"""A stretch shorter than this isn't given up so soon. Where it is too steep, a cut there costs two row ends; where its spacing
is off, it takes the legal run beside it along if that is short. Not where beds are asked for: they fit a wide gap too, and
the bends that close it cost more of them."""
SPACING_WEIGHT = 1.0
GRADE_WEIGHT = 8.0
TURN_WEIGHT = 0.3
EVEN_WEIGHT = 0.005
SMOOTH_WEIGHT = 0.1
STAY_WEIGHT = 0.005
STEP_SHARE = 0.25
"""No node moves by more than this share of the spacing in one round."""
OUTSIDE_WEIGHT = 0.2
REACH = 1.5
"""Rows farther off than this many spacings are no neighbours to be pulled toward."""
PREFER_WEIGHT = 0.5
GIVE_UP_PREFER = 0.15
"""Pull toward the preferred grade, and how far beyond it (in limits) the pull has lost half its weight."""
FALL_MARGIN = 0.3
FALL_WEIGHT = 0.5
GIVE_UP_FALL = 0.3
"""The same for a wanted fall, in shares of it: how far inside of what keeps it rows aim, how firmly they are pulled, and the violation
at which that has lost half. Firmer pulls drag rows off their spacing, weaker ones let them fall as they like."""
DENT_M, DENT_WEIGHT, GIVE_UP_DENT = 0.1, 0.5, 0.2
"""Low points are pulled up to this depth, less than is counted; deep ones soon less, as rows pay for them in spacing."""
RISE_M, RISE_WEIGHT, GIVE_UP_RISE = 0.02, 0.3, 1.0
"""Where water would have to rise by more than the first on the way that a row should fall, it is pulled down, and the low place
before it up; what rises by twice as much is pulled on half as firmly."""
GUIDE_WEIGHT = 100.0
FIXED_WEIGHT = 1e4
"""So much that no round moves a row that stays."""
FRESH_ROUNDS = 6
"""Neighbours are looked for afresh in every so many rounds, and where nodes come closer or go apart; between they are followed."""
SOLVE_STEPS = 20
"""A round's shifts needn't be exact: the next round starts from where the rows really are. A fixed number of steps,
not a fixed error, so that rounding (the field moved elsewhere) can't make the difference of a whole step. More rounds of
fewer steps win more than the other way round."""


@dataclass(frozen=True)
class Wishes:
    """What rows are nudged toward.

    Attributes
    ----------
    spacing_m
        Distance between rows.
    tolerance, max_grade
        Share of the spacing that rows may drift off, and ratio that they may rise or fall.
    preferred_grade
        Ratio; grades beyond it are pulled a little, where nothing else is at stake.
    min_radius_m
        Tightest bend; 0 for any.
    fall
        Wanted fall along rows; None for level rows.
    guides
        Lines that rows near them must run on.
    window
        What the beds between rows ask of the distance; None where nothing is asked.
    kept
        Rows that aren't moved; the others keep their distance from them.
    lift_dents
        Whether low points along rows are pulled up to their passes.
    movable
        Where rows may move; None for everywhere.
    fair
        Whether short chords are pulled on too.
    firm
        How many times the usual violation is pulled on before it is given up.
    """

    spacing_m: float
    tolerance: float
    max_grade: float
    preferred_grade: float
    min_radius_m: float
    fall: Fall | None = None
    guides: Sequence[LineString] = ()
    window: RowWindow | None = None
    kept: Sequence[LineString] = ()
    lift_dents: bool = False
    movable: BaseGeometry | None = None
    fair: bool = False
    firm: float = 1.0


def relax_rows(
    lines: Sequence[LineString], slopes: Slopes, area: Polygon, wishes: Wishes, *, steps_m: Sequence[float]
) -> list[LineString]:
    """Move rows sideways toward legal spacing and grade, one round per entry of `steps_m` (node distance, metres).

    Parameters
    ----------
    lines
        Rows, reaching beyond `area` where they can, so that its edge is no end.
    slopes
        The surface that grades are judged on.
    area
        Ground that counts; what lies outside pulls little.
    """
    shapely.prepare(area)
    spacing_m = wishes.spacing_m
    most = STEP_SHARE * spacing_m
    stay = len(wishes.kept)
    kept = Polylines.read(wishes.kept) if stay else None
    rows = [*wishes.kept, *lines]
    reach_m = REACH * spacing_m
    chains, shift = chains_of(rows, steps_m[0]), np.zeros(0)
    for number, step_m in enumerate(steps_m):
        before_m = steps_m[max(number - 1, 0)]
        if number % FRESH_ROUNDS == 0 or step_m != before_m:
            if number:
                chains = chains.shifted(shift, kept=kept, step_m=step_m, curved=step_m < before_m)
            seen = look(chains, reach_m=reach_m, own_gap_m=OWN_GAP * spacing_m)
            # a node moves little between two fresh looks, so the edge of what counts stays where it was
            inside = shapely.contains_xy(area, chains.xy[:, 0], chains.xy[:, 1])
            importance = np.where(inside, 1.0, OUTSIDE_WEIGHT)
            fixed = _fixed(chains, wishes)
        else:
            before, chains = chains, chains.shifted(shift, kept=kept)
            seen = follow(chains, before, seen, reach_m=reach_m)
        shift = np.clip(_wanted_shift(chains, seen, (importance, fixed), slopes, wishes), -most, most)
    return chains.moved(shift)[stay:]


def _wanted_shift(
    chains: Chains, seen: tuple[Hits, Hits], counted: tuple[Floats, Ints], slopes: Slopes, wishes: Wishes
) -> Floats:
    """How far each node should move along its normal, metres; `counted` is how much each counts, and which ones stay."""
    importance, fixed = counted
    spacing_m = wishes.spacing_m
    most = STEP_SHARE * spacing_m
    system = LeastSquares(chains.unknown, chains.row)
    _pull_spacing(system, chains, seen, importance, wishes)
    _pull_grade(system, chains, importance, slopes, wishes)
    if wishes.fair:
        _pull_waves(system, chains, importance, slopes, wishes)
    if wishes.fall is not None:
        _pull_rises(system, chains, importance, slopes, wishes.fall)
    if wishes.lift_dents:
        _pull_dents(system, chains, importance, slopes)
    if wishes.min_radius_m > 0:
        _pull_bends(system, chains, importance, wishes.min_radius_m)
    _stay_smooth(system, chains)
    caught, across = shift_to_guides(chains.xy, chains.normal, wishes.guides, spacing_m)
    system.add([caught], [1 / spacing_m], across / spacing_m, GUIDE_WEIGHT)
    every = np.arange(len(chains.row))
    system.add([fixed], [1 / most], 0.0, FIXED_WEIGHT)
    system.add([every], [1 / most], 0.0, STAY_WEIGHT)
    return system.solved(SOLVE_STEPS)


def _fixed(chains: Chains, wishes: Wishes) -> Ints:
    """Nodes that aren't moved."""
    still = chains.row < len(wishes.kept)
    if wishes.movable is not None:
        shapely.prepare(wishes.movable)
        still |= ~shapely.contains_xy(wishes.movable, chains.xy[:, 0], chains.xy[:, 1])
    return np.flatnonzero(still)


def _pull_spacing(
    system: LeastSquares, chains: Chains, seen: tuple[Hits, Hits], importance: Floats, wishes: Wishes
) -> None:
    """Distance to the row met by the normal on each side, linear in the shifts of the node and of the two nodes met."""
    d, x = wishes.spacing_m, wishes.tolerance
    low, high = d * (1 - x + SPACING_MARGIN), d * (1 + x - SPACING_MARGIN)
    aim, give_up_short = d, GIVE_UP_SHORT_GAP
    if wishes.window is not None:
        low, aim = max(low, min(wishes.window.need_m + NEED_MARGIN_M, d)), wishes.window.aim_m
        give_up_short = GIVE_UP_SPACING
    firmness = SPACING_WEIGHT, wishes.firm * give_up_short, wishes.firm * GIVE_UP_SPACING, EVEN_WEIGHT
    for side, hits in zip(SIDES, seen, strict=True):
        asked = np.nonzero(np.isfinite(hits.distance))[0]
        met = (hits.distance, hits.line, hits.station)
        block = gaps(chains.nodes, system.unknown, met, (importance, asked), (side, 1 / (x * d)))
        want_gaps(block, (asked, chains.row, chains.step, SHORT_M), (low, high, aim, x * d), firmness)
        system.add_block(block)


def _pull_grade(system: LeastSquares, chains: Chains, importance: Floats, slopes: Slopes, wishes: Wishes) -> None:
    """Height difference over the chord around each node, linear in the shifts of the chord's two ends."""
    limit, count = wishes.max_grade, len(chains.row)
    if wishes.fall is None:
        most = wishes.preferred_grade / limit
        wished = np.full(count, -most), np.full(count, most), PREFER_WEIGHT, GIVE_UP_PREFER
        held_on = wishes.firm * GIVE_UP_GRADE
        bounds = np.full(count, -1.0), np.full(count, 1.0), GRADE_MARGIN, GRADE_WEIGHT, GIVE_UP_SHORT, held_on
    else:
        tangent = np.column_stack([chains.normal[:, 1], -chains.normal[:, 0]])
        aim = wishes.fall.aim(chains.xy, tangent)
        limit = wishes.fall.grade
        low, high = (edge / limit for edge in wishes.fall.near(aim, wishes.max_grade, KEPT_SHARE))
        wished = low, high, 0.0, 1.0
        held_on = wishes.firm * GIVE_UP_FALL
        bounds = low, high, FALL_MARGIN, FALL_WEIGHT, GIVE_UP_SHORT, held_on
    half = np.maximum(1, np.round(CHORD_M / 2 / chains.step).astype(np.int64))
    ground = (*slopes.read(chains.xy, chains.normal), limit)
    block = grades(chains.nodes, system.unknown, (chains.row, half), ground, importance)
    want_grades(block, (chains.row, chains.step, SHORT_M), wished, bounds)
    system.add_block(block)


def _pull_dents(system: LeastSquares, chains: Chains, importance: Floats, slopes: Slopes) -> None:
    """Height of nodes that would stand under water, up to what a dent may be deep, linear in their own shift."""
    z, rise = slopes.read(chains.xy, chains.normal)
    under = np.concatenate([dent_depths(z[a : a + n], DENT_M) for a, n in zip(chains.first, chains.count, strict=True)])
    i = np.nonzero(under > DENT_M)[0]
    off = (under[i] - DENT_M) / DEEP_M
    weight = DENT_WEIGHT * importance[i] / (1 + (off / GIVE_UP_DENT) ** 2)
    system.add([i], [rise[i] / DEEP_M], off, weight)


def _pull_rises(system: LeastSquares, chains: Chains, importance: Floats, slopes: Slopes, fall: Fall) -> None:
    """Height of nodes that water would have to rise to, over the lowest before, linear in the shifts of both."""
    z, rise = slopes.read(chains.xy, chains.normal)
    tangent = np.column_stack([chains.normal[:, 1], -chains.normal[:, 0]])
    bounds = np.append(chains.first, len(z)).astype(np.int64)
    station = (np.arange(len(z)) - chains.first[chains.row]) * chains.step[chains.row]
    told, lowest = fall.rises((chains.xy, tangent, station, z), bounds, chains.is_ring, RISE_M)
    i = np.flatnonzero(told)
    low = lowest[i]
    off = (z[i] - z[low] - RISE_M) / RISE_M
    weight = RISE_WEIGHT * importance[i] / (1 + (off / GIVE_UP_RISE) ** 2)
    system.add([i, low], [-rise[i] / RISE_M, rise[low] / RISE_M], off, weight)


def _pull_waves(system: LeastSquares, chains: Chains, importance: Floats, slopes: Slopes, wishes: Wishes) -> None:
    """Height difference over the short chord around each node, where that is steeper than a short chord may be.

    Its ends lie between nodes: linear in the shifts of the two nodes beside each.
    """
    half = SHORT_CHORD_M / 2 / chains.step[chains.row]
    place, last = np.arange(len(chains.row)) - chains.first[chains.row], chains.count[chains.row] - 1
    ends = np.maximum(place - half, 0.0), np.minimum(place + half, last)
    run = (ends[1] - ends[0]) * chains.step[chains.row] * SHORT_CHORD_LIMITS * wishes.max_grade
    heights, columns, factors = [], [], []
    for sign, end in zip((-1, 1), ends, strict=True):
        before = np.minimum(end.astype(np.intp), last - 1)
        part = end - before
        i = chains.first[chains.row] + before
        xy, normal = ((1 - part)[:, None] * v[i] + part[:, None] * v[i + 1] for v in (chains.xy, chains.normal))
        z, rise = slopes.read(xy, normal)
        heights.append(z)
        columns += [i, i + 1]
        factors += [sign * (1 - part) * rise / run, sign * part * rise / run]
    grade = (heights[1] - heights[0]) / run
    most = 1 - WAVE_MARGIN
    off = np.clip(grade, -most, most) - grade
    out = np.nonzero(off)[0]
    weight = GRADE_WEIGHT * importance[out] / (1 + (off[out] / GIVE_UP_SHORT) ** 2)
    system.add([c[out] for c in columns], [f[out] for f in factors], off[out], weight)


def _pull_bends(system: LeastSquares, chains: Chains, importance: Floats, radius_m: float) -> None:
    """Curvature over the bending window, linear in the shifts of its middle and its two ends."""
    half = np.maximum(1, np.round(BEND_WINDOW_M / 2 / chains.step).astype(np.int64))
    firmness = (float(radius_m), 1 - BEND_MARGIN, GIVE_UP_BEND, TURN_WEIGHT)
    along = (chains.row, chains.is_ring, half)
    system.add_block(bends(chains.nodes, system.unknown, along, importance, firmness))


def _stay_smooth(system: LeastSquares, chains: Chains) -> None:
    """Shifts bend little, and the rows' own curvature changes gently from node to node."""
    along = (chains.before, system.unknown[chains.after], chains.is_inner)
    scales = (4 / chains.step**2, 4 / chains.step**3)
    for block in stiffness(chains.nodes, along, chains.row, scales, (SMOOTH_WEIGHT, SMOOTH_WEIGHT / 2)):
        system.add_block(block)
