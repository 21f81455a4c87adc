"""Plants of different plantings that come nearer to each other than either of them asks.

How near companions stand is the recipe's own choice where it says so: in one sequence, `beside` another, `instead_of`
another. Everywhere else two plantings lie over each other in one bed, and where their plants come to stand is nobody's
choice. What is asked there follows from the plantings themselves: no plant of another one nearer than half the distance
that the closer planting keeps from its own, which is where a plant set midway would stand. Trees and shrubs that were
put together by different addresses (a windbreak along a side, over the trees of the whole field) were never meant as
companions: they keep the whole distance.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
import pandas as pd
from scipy.spatial import cKDTree

from geoagro.arrays import Bools, Floats, Ints
from geoagro.plants.together.same_place import SAME_M, both
from geoagro.plants.together.spells import Spell, Spells
from geoagro.values.recipe import Crop, Planting
from geoagro.values.rules.bed_kinds import lasts
from geoagro.values.site import Finding
from geoagro.values.timeline import Standing, Timeline
from geoagro.values.words import CropName, Sentence

_MOST = 200_000
"""Plants looked at for a pair of plantings; with more, every n-th of the beds that they share: they are alike."""
_APART_M = 1e4
"""Beds are set this far apart in a third direction, so that only plants of one bed are neighbours."""
_EXACT = 0.98
"""Distances along a bend are a little shorter than the steps along its line."""
_WOODY = ("tree", "shrub")
_TOLD = 8


def too_near(
    frame: pd.DataFrame,
    timeline: Timeline,
    plantings: Sequence[Planting],
    crops: Mapping[str, Crop],
    *,
    whole: bool = True,
) -> tuple[Finding, ...]:
    """Warn of each pair of plantings whose plants come too near while both stand, most plants first.

    Parameters
    ----------
    frame
        Layer PLANTS.
    timeline
        What stands where and when, of `frame`.
    plantings, crops
        The recipe, in the design's order, and its complete crops.
    whole
        False where the frame holds some of the field's beds only, which is then told.
    """
    beds, bed = _numbered(frame["bed"])
    rule = np.array([_rule_of(kind, plantings) for kind in timeline.kinds], dtype=np.int64)
    if len(rule) < 2:
        return ()
    ground = _Ground(
        np.column_stack([frame[["x", "y"]].to_numpy(), _APART_M * bed]), bed, len(beds), timeline.kind, rule
    )
    spells, family = Spells(timeline), families(plantings)
    met = [
        found
        for one, other, shared in _overlaid(ground, family)
        if (found := _nearest(ground, spells, (one, other), shared, _asked(ground, plantings, crops, (one, other))))
    ]
    met.sort(key=lambda m: (-m.count, m.plantings))
    return tuple(_told(frame, replace(m, whole=m.whole and whole), plantings) for m in met[:_TOLD])


@dataclass(frozen=True, eq=False)
class _Ground:
    """Places (n, 3) with the bed as third direction, beds, kinds, and the planting of each kind."""

    xyz: Floats
    bed: Ints
    beds: int
    kind: Ints
    rule: Ints

    def of(self, planting: int) -> Ints:
        return np.flatnonzero(self.rule[self.kind] == planting)


@dataclass(frozen=True)
class _Met:
    """A pair of plantings: how many plants, and the pair of plants that misses most of what is asked, by place in the frame."""

    plantings: tuple[int, int]
    count: int
    distance_m: float
    asked_m: float
    pair: tuple[int, int]
    spell: Spell
    whole: bool


def _numbered(bed: pd.Series) -> tuple[list[str], Ints]:
    code, names = pd.factorize(bed)
    return [str(name) for name in names], np.asarray(code, dtype=np.int64)


def _rule_of(kind: Standing, plantings: Sequence[Planting]) -> int:
    return next(
        k
        for k, p in enumerate(plantings)
        if p.label == kind.planting
        and p.mixture_name == kind.mixture
        and kind.crop in p.crops
        and lasts(p.bed) == lasts(kind.bed_kind)
    )


def families(plantings: Sequence[Planting]) -> list[int]:
    """Give each planting the number of its family: those whose distances the recipe sets, by `beside` and `instead_of`."""
    family = list(range(len(plantings)))
    for k, planting in enumerate(plantings):
        for other, of in enumerate(plantings):
            if other != k and _is_set(planting, of):
                old, new = family[k], family[other]
                family = [new if number == old else number for number in family]
    return family


def _is_set(planting: Planting, of: Planting) -> bool:
    if planting.beside is not None:
        return planting.beside.planting == of.label and lasts(planting.bed) == lasts(of.bed)
    return planting.instead_of is not None and planting.bed == of.bed and planting.instead_of in of.crops


def _overlaid(ground: _Ground, family: list[int]) -> Iterator[tuple[int, int, Ints]]:
    """Pairs of plantings of different families with the beds that both stand in."""
    stands = {k: np.unique(ground.bed[ground.of(k)]) for k in np.unique(ground.rule).tolist()}
    for one, other in combinations(sorted(stands), 2):
        shared = np.intersect1d(stands[one], stands[other], assume_unique=True)
        if family[one] != family[other] and len(shared):
            yield one, other, shared


@dataclass(frozen=True)
class _Asked:
    """Least distance between plants of two plantings, metres: of two that are woody, and of any others."""

    woody_m: float
    other_m: float
    woody: frozenset[str]

    def of(self, one: str, other: str) -> float:
        return self.woody_m if {one, other} <= self.woody else self.other_m


def _asked(ground: _Ground, plantings: Sequence[Planting], crops: Mapping[str, Crop], pair: tuple[int, int]) -> _Asked:
    one, other = (plantings[k] for k in pair)
    keeps = min(_keeps(ground, plantings[k], k, crops) for k in pair)
    by_address = (one.within, one.zone) != (other.within, other.zone)
    woody = frozenset(code for p in (one, other) for code in p.crops if crops[code].habit in _WOODY)
    return _Asked(keeps if by_address else keeps / 2, keeps / 2, woody)


def _keeps(ground: _Ground, planting: Planting, number: int, crops: Mapping[str, Crop]) -> float:
    """Usual distance from a plant to the next of its own planting in its bed; what was asked where each stands alone."""
    mine = ground.of(number)
    some = np.unique(ground.bed[mine])
    mine = mine[np.isin(ground.bed[mine], some[:: max(1, len(some) // 30)])]
    far = _next(ground.xyz[mine], ground.xyz[mine], np.inf, own=True)[0] if len(mine) > 1 else np.zeros(0)
    far = far[far < _APART_M / 2]
    nominal = planting.spacing_m or crops[planting.crops[0]].spacing_m or 0.0
    return float(np.median(far)) if len(far) else nominal


def _next(of: Floats, among: Floats, within: float, *, own: bool = False) -> tuple[Floats, Ints]:
    found = cKDTree(among).query(of, k=[2 if own else 1], distance_upper_bound=within)
    far, which = map(np.asarray, found)
    return far[:, 0], which[:, 0].astype(np.int64)


def _nearest(ground: _Ground, spells: Spells, pair: tuple[int, int], shared: Ints, asked: _Asked) -> _Met | None:
    one, other = sorted((ground.of(k) for k in pair), key=len)
    every = -(-(len(one) + len(other)) // _MOST)
    is_looked = np.zeros(ground.beds, dtype=bool)
    is_looked[shared[::every]] = True
    one, other = (of[is_looked[ground.bed[of]]] for of in (one, other))
    near = np.zeros(len(one), dtype=bool)
    best: _Met | None = None
    for a in np.unique(ground.kind[one]).tolist():
        for b in np.unique(ground.kind[other]).tolist():
            spell = spells.of(a, b)
            if spell is None:
                continue
            asked_m = asked.of(spells.timeline.kinds[a].crop, spells.timeline.kinds[b].crop)
            mine, theirs = np.flatnonzero(ground.kind[one] == a), other[ground.kind[other] == b]
            far, which = _next(ground.xyz[one[mine]], ground.xyz[theirs], _EXACT * asked_m)
            is_near = _is_between(far, asked_m)
            near[mine[is_near]] = True
            k = int(np.argmin(np.where(is_near, far, np.inf)))
            if is_near.any() and (best is None or far[k] / asked_m < best.distance_m / best.asked_m):
                found = int(one[mine[k]]), int(theirs[which[k]])
                best = _Met(pair, 0, float(far[k]), asked_m, found, spell, whole=every <= 1)
    return best and replace(best, count=int(near.sum()))


def _is_between(far: Floats, asked_m: float) -> Bools:
    """Too near, and not on one place: that is a finding of its own."""
    found: Bools = (far > SAME_M) & (far < _EXACT * asked_m)
    return found


def _told(frame: pd.DataFrame, met: _Met, plantings: Sequence[Planting]) -> Finding:
    one, other = (plantings[k] for k in sorted(met.plantings, key=lambda k: (not plantings[k].within, -k)))
    a, b = (frame.iloc[k] for k in met.pair)
    places = Sentence("1 place") if met.count == 1 else Sentence("{n} {n:place|places}", n=met.count)
    if not met.whole:
        places = Sentence("{places} in the beds looked at", places=places)
    text = Sentence(
        "Plants of both stand nearer to each other than they ask in {places} at the same "
        "time, e.g. {crops} {distance_m:.2f} m apart, where {asked_m:.2f} m are asked, in bed {bed}, "
        "{station_m:.2f} m along line {line} ({x}, {y}), {words}. Nothing was taken out to make "
        "room: say `instead_of` for '{label}', leave its address out of '{label2}' (`within: {{except: "
        "...}}`), or give one of them other lines (`offsets_m`) or another start (`first_offset_m`).",
        places=places,
        crops=both(*sorted((a["crop"], b["crop"]))),
        distance_m=met.distance_m,
        asked_m=met.asked_m,
        bed=a["bed"],
        station_m=a["station_m"],
        line=a["line"],
        x=f"{a['x']:.2f}",
        y=f"{a['y']:.2f}",
        words=met.spell.words(),
        label=one.label,
        label2=other.label,
    )
    return Finding(
        "warning", Sentence("plantings {one} and {other}", one=CropName(one.label), other=CropName(other.label)), text
    )
