"""What moved all points of a survey alike: a robust similarity between designed and surveyed places.

Places are taken as complex numbers east + i north, in which a similarity is s = a d + b. The start is the pair of
points whose similarity leaves the least median distance (Rousseeuw 1984, least median of squares), the end an
iteratively reweighted least squares with Tukey's biweight, so that up to nearly half of the pairs may be wrong.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree
from scipy.special import stdtrit

from geoagro.arrays import Floats, Ints
from geoagro.stakeout.matching import by_place
from geoagro.stakeout.records.accuracy import Alignment, Similarity
from geoagro.values.words import Sentence, say

Complexes = NDArray[np.complex128]

LEAST_PAIRS = 6  # fewer say little about a shift, and nothing about a turn (our own choice)
_TUKEY = 4.685  # 95 % efficient for normal errors
_RAYLEIGH_MEDIAN = 1.1774  # median distance of a round normal scatter, in its standard deviation
_TRIES, _JUDGES = 300, 2000
_ROUNDS = 25
_CHANCE = 1e-3  # that a shift, turn or scale is told which isn't there
_WAVES = 2  # slowest waves of the survey, in the order of the file, by which a drift is measured
_SLOWER = 2.0  # variance of a drift at rest over that of its waves, if it goes together over an eighth of the survey
_NEW_SHARE = 0.3  # of a wave, that must be left when what was fitted is taken out, for it to say something new
_WORTH_M, _WORTH_SCATTER = 0.05, 0.2  # what moves points by less, in metres and in their scatter, isn't told
_REACH_M, _BIN_M, _SAMPLE = 20.0, 0.25, 400
_TURNS_DEG = np.arange(-24.0, 24.01, 0.5)
_EXPLAINS = 0.8  # share of the points that must then lie at a designed place
_SEED = 20_240_613
_WINDS = (
    say("north"),
    say("north-east"),
    say("east"),
    say("south-east"),
    say("south"),
    say("south-west"),
    say("west"),
    say("north-west"),
)


@dataclass(frozen=True, eq=False)
class _Fit:
    factor: complex
    shift: complex
    weight: Floats
    sigma: float


def aligned(design: Floats, survey: Floats, rows: Ints) -> Alignment | None:
    """Find what moved all of `survey` (n, 2) from `design` (n, 2), with standard errors clustered by row and by time.

    Pairs come in the order of the survey. Returns None for fewer than six pairs.
    """
    if len(design) < LEAST_PAIRS:
        return None
    middle = design.mean(axis=0)
    d, s = _complex(design - middle), _complex(survey - middle)
    full = _fitted(d, s, turn=True, scale=True)
    (shift_se, turn_se, scale_se), (shift_sure, turn_sure, scale_sure) = _errors(d, s, full, rows)
    reach = float(np.quantile(np.abs(d), 0.95))
    worth = max(_WORTH_M, _WORTH_SCATTER * full.sigma)
    turn = -float(np.angle(full.factor))
    turns = abs(turn) > turn_sure and abs(turn) * reach > worth
    scales = abs(abs(full.factor) - 1) > scale_sure and abs(abs(full.factor) - 1) * reach > worth
    kept = _fitted(d, s, turn=turns, scale=scales)
    found = Similarity(
        (float(middle[0]), float(middle[1])), kept.shift.real, kept.shift.imag, -float(np.degrees(np.angle(kept.factor))),
        float(abs(kept.factor)), float(shift_se), float(np.degrees(turn_se)), float(scale_se),
    )  # fmt: skip
    shifts = found.shift_m > shift_sure * np.sqrt(2) and found.shift_m > worth
    before, after = (float(np.median(np.abs(v))) for v in (s - d, s - kept.factor * d - kept.shift))
    return Alignment(found, before, after, _told(found, (shifts, turns, scales), before, after))


def _complex(xy: Floats) -> Complexes:
    return np.asarray(xy[:, 0] + 1j * xy[:, 1])


def _fitted(d: Complexes, s: Complexes, *, turn: bool, scale: bool) -> _Fit:
    factor, shift = _start(d, s) if turn or scale else (1.0 + 0j, _middle(s - d))
    weight, sigma = np.ones(len(d)), 0.0
    for _ in range(_ROUNDS):
        away = np.abs(s - factor * d - shift)
        sigma = max(float(np.median(away)) / _RAYLEIGH_MEDIAN, 1e-6)
        weight = np.clip(1 - (away / (_TUKEY * sigma)) ** 2, 0.0, None) ** 2
        mean_d, mean_s = np.average(d, weights=weight), np.average(s, weights=weight)
        spread = float((weight * np.abs(d - mean_d) ** 2).sum())
        raw = complex((weight * np.conj(d - mean_d) * (s - mean_s)).sum()) / max(spread, 1e-12)
        factor = _allowed(raw, turn=turn, scale=scale)
        shift = complex(mean_s - factor * mean_d)
    return _Fit(factor, shift, weight, sigma)


def _middle(away: Complexes) -> complex:
    return complex(np.median(away.real), np.median(away.imag))


def _allowed(factor: complex, *, turn: bool, scale: bool) -> complex:
    if turn and scale:
        return factor
    if turn:
        return factor / abs(factor) if factor else 1.0 + 0j
    return complex(factor.real) if scale else 1.0 + 0j


def _start(d: Complexes, s: Complexes) -> tuple[complex, complex]:
    """Similarity through two of the pairs that leaves the least median distance to a sample of them."""
    chance = np.random.default_rng(_SEED)
    one, other = chance.integers(0, len(d), (2, _TRIES))
    apart = np.abs(d[one] - d[other])
    far = apart >= np.median(np.abs(d)) if (apart >= np.median(np.abs(d))).any() else apart > 0
    one, other = one[far], other[far]
    if len(one) == 0:
        return 1.0 + 0j, _middle(s - d)
    factor = (s[one] - s[other]) / (d[one] - d[other])
    shift = s[one] - factor * d[one]
    judge = chance.choice(len(d), min(len(d), _JUDGES), replace=False)
    left = np.median(np.abs(s[judge] - factor[:, None] * d[judge] - shift[:, None]), axis=1)
    best = int(left.argmin())
    return complex(factor[best]), complex(shift[best])


def _errors(d: Complexes, s: Complexes, fit: _Fit, rows: Ints) -> tuple[Floats, Floats]:
    """Estimate standard errors of shift (each way), turn (radians) and scale, and what each must exceed to stand out.

    Both are the largest by point, by row and by drift: a phone drifts for minutes, so that points of a row, and rows walked
    one after another, err alike; errors taken as independent would prove shifts that aren't there. Drift is measured by
    how strongly the residuals follow the slowest cosine waves over the survey (U. K. Mueller 2007, J. Econometrics 141;
    E. Lazarus et al. 2018, J. Business & Economic Statistics 36): a drift that goes together over up to an eighth of the
    survey (first order, exp(-time)) is twice as strong at rest as in the waves left beside the fit, so that much is allowed
    for. Few waves ask for many standard errors (Student's t), since so slow an error is nearly a shift.
    """
    w = fit.weight
    left = w * (s - fit.factor * d - fit.shift)
    centred = d - np.average(d, weights=w)
    spread = max(float((w * np.abs(centred) ** 2).sum()), 1e-12)
    order = np.arange(len(d))
    found, sure = [], []
    for group in (order, rows):
        one = np.unique(group, return_inverse=True)[1]
        n = int(one.max()) + 1
        if n < LEAST_PAIRS:
            continue
        more = n / (n - 1)
        push, pull = _sums(left, one), _sums(np.conj(centred) * left, one)
        error = np.sqrt(more * np.array([(np.abs(push) ** 2).sum() / 2, (pull.imag**2).sum(), (pull.real**2).sum()]))
        error /= np.array([w.sum(), spread, spread])
        found.append(error)
        sure.append(error * stdtrit(n - 1, 1 - _CHANCE / 2))
    drift = _drift(left, centred)
    error = drift * np.sqrt(np.array([len(d), spread, spread])) / np.array([w.sum(), spread, spread])
    found.append(error)
    sure.append(error * np.sqrt(_SLOWER) * stdtrit(2 * _WAVES, 1 - _CHANCE / 2))
    return np.max(found, axis=0), np.max(sure, axis=0)


def _drift(left: Complexes, centred: Complexes) -> float:
    """Give the standard deviation, each way, that one point's error would have if errors as slow as the drift were independent.

    The waves are made orthogonal to what was fitted (a shift, and what grows with the place), which the residuals lack.
    """
    count = len(left)
    at = (np.arange(count) + 0.5) / count
    known = [np.full(count, 1 / np.sqrt(count), dtype=complex)]
    strength: list[float] = []
    for wave in (centred, *(np.cos(np.pi * k * at) for k in range(1, _WAVES + 5))):
        rest = np.asarray(wave, dtype=complex)
        whole = float(np.linalg.norm(rest))
        for one in known:
            rest = rest - np.vdot(one, rest) * one
        length = float(np.linalg.norm(rest))
        if length <= _NEW_SHARE * whole:
            continue
        known.append(rest / length)
        if wave is not centred:
            strength.append(float(np.abs(np.vdot(known[-1], left)) ** 2))
    return float(np.sqrt(np.mean(strength[:_WAVES]) / 2)) if strength else 0.0


def _sums(values: Complexes, group: Ints) -> Complexes:
    return np.bincount(group, values.real) + 1j * np.bincount(group, values.imag)


def _told(one: Similarity, stands_out: tuple[bool, bool, bool], before: float, after: float) -> str:
    shifts, turns, scales = stands_out
    parts, checks = [], []
    if shifts:
        parts.append(
            Sentence("{away:.2f} m {wind} of their places", away=one.shift_m, wind=wind(one.east_m, one.north_m))
        )
        checks.append(_shift_cause(one))
    if turns:
        clockwise = Sentence("turned clockwise by {deg:.2f} degrees", deg=abs(one.turn_deg))
        other_way = Sentence("turned anticlockwise by {deg:.2f} degrees", deg=abs(one.turn_deg))
        parts.append(clockwise if one.turn_deg > 0 else other_way)
        checks.append(Sentence("whether bearings were taken from magnetic or true north instead of grid north"))
    if scales:
        parts.append(Sentence("{scale:.6f} times as far apart as designed", scale=one.scale))
        checks.append(Sentence("ground against map distances, and the unit of length"))
    if not parts:
        return ""
    return Sentence(
        "all points lie alike: {how}; check {checks}. Half of them lie within {before:.2f} m of their places as they stand, "
        "within {after:.2f} m without it",
        how=tuple(parts), checks=tuple(checks), before=before, after=after,
    )  # fmt: skip


def _shift_cause(one: Similarity) -> str:
    """Name the two feet where the shift is their difference (2 parts in a million of the coordinates), else the base."""
    feet = 2e-6 * complex(*one.about)
    for sign in (1, -1):
        if abs(feet) > 0.2 and abs(complex(one.east_m, one.north_m) - sign * feet) < max(
            5 * one.shift_se_m, 0.05 * abs(feet)
        ):
            if sign < 0:
                return Sentence("the unit: feet were probably taken where the file holds US survey feet")
            return Sentence("the unit: US survey feet were probably taken where the file holds feet")
    return Sentence("the base, its coordinates and the datum")


def wind(east: float, north: float) -> str:
    """Direction in words, to an eighth of the circle.

    >>> wind(1.0, 1.0), wind(0.0, -3.0)
    ('north-east', 'south')
    """
    return Sentence(_WINDS[int(np.round(np.degrees(np.arctan2(east, north)) / 45)) % 8])


def found_by_place(design: Floats, survey: Floats, *, within_m: float) -> Alignment | None:
    """Look for the shift and turn under which points without names lie at designed places; None if nothing explains them.

    Displacements from points to all places near them pile up at the shift that explains most; turns of up to 24
    degrees are tried, in half degrees, and then refined by matching again. On a regular lattice several shifts explain
    nearly as much: the shortest of those is taken.
    """
    if len(survey) < LEAST_PAIRS or len(design) < LEAST_PAIRS:
        return None
    chance = np.random.default_rng(_SEED)
    sample = survey[chance.choice(len(survey), min(len(survey), _SAMPLE), replace=False)]
    middle = survey.mean(axis=0)
    tree = cKDTree(design)
    piles = [(*_pile(tree, design, _turned(sample, middle, turn)), turn) for turn in _TURNS_DEG]
    most = max(count for count, _, _ in piles)
    start, turn = min(((shift, t) for count, shift, t in piles if count >= 0.97 * most), key=lambda p: abs(p[1]))
    moved = _turned(survey, middle, turn) + start
    found = None
    for _ in range(8):
        pairs = by_place(design, moved, within_m=within_m)
        if len(pairs) < LEAST_PAIRS:
            return None
        found = aligned(design[pairs[:, 0]], survey[pairs[:, 1]], pairs[:, 0])
        if found is None:
            return None
        moved = found.similarity.undone(survey)
    share = len(by_place(design, moved, within_m=within_m)) / len(survey)
    return found if found is not None and share >= _EXPLAINS and found.told else None


def _turned(xy: Floats, middle: Floats, degrees: float) -> Floats:
    turned = _complex(xy - middle) * np.exp(-1j * np.radians(degrees))
    return np.column_stack([turned.real, turned.imag]) + middle


def _pile(tree: cKDTree, design: Floats, points: Floats) -> tuple[float, Floats]:
    """Highest pile of displacements from points to places within reach: how many, and where (the shortest if alike)."""
    near: Any = tree.query_ball_point(points, _REACH_M)
    owner = np.repeat(np.arange(len(points)), [len(n) for n in near])
    if len(owner) == 0:
        return 0.0, np.zeros(2)
    there = np.concatenate([np.asarray(n, dtype=np.int64) for n in near])
    away = design[there] - points[owner]
    edges = np.arange(-_REACH_M - _BIN_M, _REACH_M + 1.5 * _BIN_M, _BIN_M)
    count = np.histogram2d(away[:, 0], away[:, 1], bins=[edges, edges])[0]
    pile = np.sum([np.roll(count, (i, j), axis=(0, 1)) for i in (-1, 0, 1) for j in (-1, 0, 1)], axis=0)
    at = np.argwhere(pile >= 0.97 * pile.max())
    centres = edges[:-1] + _BIN_M / 2
    shifts = np.column_stack([centres[at[:, 0]], centres[at[:, 1]]])
    return float(pile.max()), np.asarray(shifts[np.hypot(*shifts.T).argmin()])
