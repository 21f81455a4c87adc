"""Pair a survey with the design before anything is counted: by names where they can be trusted, else by place.

A survey most of whose names are known and written once is trusted by name: positions then measure the receiver, and
only a name that lies far off compared with all others is doubted. Without such names positions must do, and a survey
whose points mostly match nothing, or match no better than chance would, is refused with the likeliest cause.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.spatial import cKDTree

from geoagro.arrays import Bools, Floats, Ints
from geoagro.errors import LayoutError
from geoagro.stakeout.alignment import LEAST_PAIRS, aligned, found_by_place
from geoagro.stakeout.matching import Pairs, by_name, by_place, plain_name
from geoagro.stakeout.records.accuracy import Alignment
from geoagro.values.site import Finding
from geoagro.values.words import Sentence

_MOST = 0.5
_ROUND_MEDIAN = 1.1774  # median distance of a round normal scatter, in its standard deviation
_DOUBT = 6.0  # standard deviations beyond which a name is doubted
_SHIFTS, _JUDGED, _BY_CHANCE = 16, 1000, 0.85
_LEAST_JUDGED = 20
_SEED = 20_240_617
MOST_NAMED = 12  # names listed in one message


@dataclass(frozen=True, eq=False)
class Designed:
    """What could have been surveyed: names, places (n, 2), rows and crops ("" for stakes), all in one order."""

    what: str
    names: Any
    xy: Floats
    row: Ints
    crop: Any


@dataclass(frozen=True, eq=False)
class Registered:
    """A survey paired with its design.

    Attributes
    ----------
    xy
        Places of all points, with what moved all of them undone if that was asked for.
    again
        Positions of points that only measure again what another point measured.
    repeats
        Differences (n, 2) of those from the other.
    by_names
        True where names were trusted.
    """

    pairs: Pairs
    xy: Floats
    again: Ints
    repeats: Floats
    alignment: Alignment | None
    by_names: bool
    findings: tuple[Finding, ...]


def registered(
    design: Designed, points: Any, *, survey: str, within_m: float, name_within_m: float, undo: bool
) -> Registered:
    """Pair points (layer SURVEY_POINTS) with the design.

    Raises
    ------
    LayoutError
        Where most points match nothing, or no better than by chance, with what explains it; or where `undo` is
        asked for and nothing moved all points alike.
    """
    xy, names = points[["x", "y"]].to_numpy(dtype=float), points["name"].to_numpy().copy()
    again, repeats, notes = _again(design, points, name_within_m)
    names[again] = ""
    usable = np.isfinite(xy).all(axis=1)
    usable[again] = False
    named, _ = by_name(design.names, design.xy, names, xy, within_m=np.inf)
    others, other_crop = _other_crops(design, points, named)
    named = named[~others]
    trusted = len(named) >= LEAST_PAIRS and len(named) >= _MOST * (len(points) - len(again))
    found = _alignment(design, xy, named, usable, trusted=trusted, within_m=within_m)
    straight = xy if found is None or not found.told else found.similarity.undone(xy)
    if undo:
        xy, found = _undone(found, straight, survey)
    limit = max(name_within_m, _DOUBT * _half_lie_within(found) / _ROUND_MEDIAN)
    near, strayed = by_name(design.names, design.xy, names, straight, within_m=limit if trusted else name_within_m)
    near = near[~_other_crops(design, points, near)[0]]
    placed = _placed(design, points["crop"], xy, _without(usable, near), near, within_m=within_m)
    pairs = _joined(near, placed)
    if not trusted:
        _refuse_chance(
            design, xy[usable], pairs, names[~np.isin(np.arange(len(names)), again)], survey=survey, within_m=within_m
        )
    told = [*notes, *other_crop, *_strayed(strayed, limit), *_alike(found, undo)]
    return Registered(pairs, xy, again, repeats, found, trusted, tuple(told))


def _half_lie_within(found: Alignment | None) -> float:
    """Median distance of named points from their places as they are compared: less what moved all only where that is told."""
    if found is None:
        return 0.0
    return found.after_m if found.told else found.before_m


def _again(design: Designed, points: Any, name_within_m: float) -> tuple[Ints, Floats, list[Finding]]:
    """Points whose known name comes again later in the file, near by: the last one counts, the others measure the receiver."""
    xy = points[["x", "y"]].to_numpy(dtype=float)
    name = np.array([plain_name(n) for n in points["name"]], dtype=object)
    known = {plain_name(n) for n in design.names} - {""}
    last = {n: k for k, n in enumerate(name)}
    again = np.array([k for k, n in enumerate(name) if n in known and last[n] != k], dtype=np.int64)
    other = np.array([last[name[k]] for k in again], dtype=np.int64)
    away = (xy[again] - xy[other]) if len(again) else np.empty((0, 2))
    near = ~(np.hypot(*away.T) > name_within_m)
    again, other, away = again[near], other[near], away[near]
    if len(again) == 0:
        return again, away, []
    status = points["status"].fillna("").to_numpy()
    changed = [str(points["name"].iloc[k]) for k, o in zip(again, other, strict=True) if status[k] != status[o]]
    text = Sentence(
        "{n} {n:point measures|points measure} a name again: {listed}; the last of each counts.",
        n=len(again),
        listed=listed(points["name"].iloc[again]),
    )
    notes = [Finding("note", "names", text)]
    if changed:
        text = Sentence(
            "{n} {n:name comes|names come} with two states, the last of which counts: {changed}.",
            n=len(changed),
            changed=listed(changed),
        )
        notes.append(Finding("warning", "names", text))
    return again, away[np.isfinite(away).all(axis=1)], notes


def _other_crops(design: Designed, points: Any, named: Ints) -> tuple[Bools, list[Finding]]:
    """Tell named pairs whose point bears another crop than planned: that isn't the plant of the design."""
    told = points["crop"].fillna("").to_numpy()[named[:, 1]]
    planned = design.crop[named[:, 0]]
    other = (told != "") & (planned != "") & (told != planned)
    if not other.any():
        return other, []
    pairs = [f"{points['name'].iloc[s]} ({points['crop'].iloc[s]}, planned {design.crop[d]})" for d, s in named[other]]
    text = Sentence(
        "{n} {n:number bears|numbers bear} another crop than planned, so the planned plant isn't there: {pairs}.",
        n=len(pairs),
        pairs=listed(pairs),
    )
    return other, [Finding("warning", "crops", text)]


def _alignment(
    design: Designed, xy: Floats, named: Ints, usable: Bools, *, trusted: bool, within_m: float
) -> Alignment | None:
    if trusted:
        sure = named[usable[named[:, 1]]]
        sure = sure[np.argsort(sure[:, 1], kind="stable")]
        return aligned(design.xy[sure[:, 0]], xy[sure[:, 1]], design.row[sure[:, 0]])
    there = np.flatnonzero(usable)
    pairs = by_place(design.xy, xy[there], within_m=within_m)
    if len(pairs) < 0.8 * len(there):
        return found_by_place(design.xy, xy[there], within_m=within_m)
    pairs = pairs[np.argsort(pairs[:, 1], kind="stable")]
    return aligned(design.xy[pairs[:, 0]], xy[there[pairs[:, 1]]], design.row[pairs[:, 0]])


def _undone(found: Alignment | None, straight: Floats, survey: str) -> tuple[Floats, Alignment]:
    if found is None or not found.told:
        raise LayoutError(
            f"Survey {survey}: nothing stands out that moved all points alike, so --repair shift has nothing to undo. Run "
            "without it."
        )
    return straight, Alignment(found.similarity, found.before_m, found.after_m, found.told, undone=True)


def _without(usable: Bools, pairs: Ints) -> Bools:
    left = usable.copy()
    left[pairs[:, 1]] = False
    return left


def _placed(design: Designed, told: Any, xy: Floats, left: Bools, near: Ints, *, within_m: float) -> Ints:
    """Pairs by place of what is left, points with a crop only with plants of that crop."""
    free = np.ones(len(design.xy), dtype=bool)
    free[near[:, 0]] = False
    crops = told.fillna("").to_numpy()
    crops = np.where(np.isin(design.crop, [""]).all(), "", crops)
    out = [np.empty((0, 2), dtype=np.int64)]
    for crop in [*sorted({c for c in crops[left] if c}), ""]:
        mine = np.flatnonzero(left & (crops == crop))
        there = np.flatnonzero(free & (design.crop == crop)) if crop else np.flatnonzero(free)
        pairs = by_place(design.xy[there], xy[mine], within_m=within_m)
        out.append(np.column_stack([there[pairs[:, 0]], mine[pairs[:, 1]]]))
        free[out[-1][:, 0]] = False
    return np.vstack(out)


def _joined(near: Ints, placed: Ints) -> Pairs:
    both = np.vstack([near, placed])
    by = np.repeat(["name", "place"], [len(near), len(placed)])
    order = np.argsort(both[:, 0], kind="stable")
    return Pairs(both[order, 0], both[order, 1], by[order])


def _refuse_chance(design: Designed, xy: Floats, pairs: Pairs, names: Any, *, survey: str, within_m: float) -> None:
    """Refuse a survey most of whose points (one name each, "" for none) match nothing, or match as if by chance."""
    matched, points = len(pairs.design), len(names)
    if matched == 0 or matched < _MOST * points:
        share = f"Nothing in survey {survey} matches"
        if matched:
            share = f"Only {matched} of {points} points of survey {survey} match"
        raise LayoutError(
            f"{share} the design's {design.what} by name or within {within_m:.2f} m. "
            f"{_likely(design, xy, within_m, names)}"
        )
    unsure = len(xy) >= _LEAST_JUDGED and (pairs.by == "place").mean() > _MOST
    if unsure and _against_chance(design.xy, xy, within_m) > _BY_CHANCE:
        raise LayoutError(f"Survey {survey} can't be matched by place. {_coarse(design, within_m)}")


def _likely(design: Designed, xy: Floats, within_m: float, names: Any) -> str:
    """Say what most likely keeps points from matching."""
    found = found_by_place(design.xy, xy, within_m=within_m)
    if found is not None:
        return f"But {found.told}: put that right, or undo it with --repair shift."
    given = [str(n) for n in names if n]
    if given:
        example = design.names[len(design.names) // 2]
        unknown = (
            f"{listed(given[:3])} aren't names of {design.what} here, which read like {example}. Put the names right"
        )
    else:
        unknown = "The points have no names. Survey with names"
    if len(xy) >= _LEAST_JUDGED and _against_chance(design.xy, xy, within_m) > _BY_CHANCE:
        return f"{unknown}; positions don't help. {_coarse(design, within_m)}"
    return f"{unknown}, check --what and the survey's CRS, or widen --within."


def _coarse(design: Designed, within_m: float) -> str:
    return (
        f"Its points lie no nearer to {design.what} of the design than points set down by chance would: the receiver's error "
        f"is likely larger than half the distance between {design.what} ({within_m:.2f} m). Record their names "
        "(numbers), as the offline map does, or survey with a better receiver."
    )


def _against_chance(design: Floats, xy: Floats, within_m: float) -> float:
    """Mean distance from points to the next designed place (at most `within_m`), over that of the same points moved by chance.

    About 1 where positions tell nothing of which place is meant.
    """
    if len(design) < 2:
        return 0.0
    chance = np.random.default_rng(_SEED)
    tree = cKDTree(design)
    some = xy[chance.choice(len(xy), min(len(xy), _JUDGED), replace=False)]
    reach = 10 * float(np.median(np.asarray(tree.query(design[:: max(len(design) // 500, 1)], k=2)[0])[:, -1]))
    moves = chance.uniform(-reach, reach, (_SHIFTS, 2))

    def mean(points: Floats) -> float:
        return float(np.minimum(np.asarray(tree.query(points)[0]), within_m).mean())

    return mean(some) / max(float(np.median([mean(some + move) for move in moves])), 1e-12)


def _alike(found: Alignment | None, undo: bool) -> list[Finding]:
    if found is None or not found.told:
        return []
    if undo:
        return [Finding("repair", "positions", Sentence("{told}; undone, as asked for.", told=found.told))]
    return [Finding("warning", "positions", Sentence("{told} (--repair shift undoes it).", told=found.told))]


def _strayed(names: list[str], within_m: float) -> list[Finding]:
    if not names:
        return []
    text = Sentence(
        "{n} {n:name lies|names lie} more than {within_m:.1f} m from where the design has {n:it|them}: "
        "{names}; matched by place instead. Were names mixed up?",
        n=len(names),
        within_m=within_m,
        names=listed(names),
    )
    return [Finding("warning", "names", text)]


def listed(names: Any) -> str:
    """Give the first names of a list in one line."""
    told = ", ".join(str(name) for name in list(names)[:MOST_NAMED])
    return f"{told}, ..." if len(names) > MOST_NAMED else told
