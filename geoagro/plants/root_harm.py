"""Where lifting one crop harms the roots of another that stands on, and the one change that helps most.

Shared ground is no conflict by itself: published mixtures that use land better than their crops alone share most of it,
and what neighbours take from each other is in the yields. A conflict is a place where somebody digs.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd

from geoagro.arrays import Floats, Ints
from geoagro.plants.kinds import Kind
from geoagro.plants.records.recipe_analysis import CONFLICTS
from geoagro.plants.root_shares import Link, covered_share, link_zones
from geoagro.plants.root_turns import Roots, best_turn
from geoagro.values.site import Finding
from geoagro.values.timeline import Stay
from geoagro.values.words import CropName, Sentence

_UNRIPE_WEEKS = 4
"""What is ready so soon after the lifting is lifted with it (our choice, no source)."""

_LASTING_WEEKS = 104
_MOVES_M = (0.05, 0.1, 0.15, 0.2, 0.25, 0.3, 0.4, 0.5)
_GAIN = 0.10


@dataclass(frozen=True)
class _Lifting:
    """Pairs of plants of which the second is lifted while the first stands on; weeks of lifting."""

    link: Link
    first_week: float
    usual_week: float
    grown_weeks: float
    stands_to: int


@dataclass(frozen=True, eq=False)
class Harm:
    """What lifting `dug` does to `other`: share of each plant's root zone that is dug up, and what to change."""

    dug: str
    other: str
    who: Ints
    share: Floats
    week: int
    advice: str
    text: str


def harms(roots: Roots) -> list[Harm]:
    """Find the pairs of crops in which lifting digs up more than the threshold of the other's root zone, worst first."""
    pairs: dict[tuple[str, str], list[_Lifting]] = {}
    for link in roots.shares.links:
        other, dug = roots.stand.kinds[link.a], roots.stand.kinds[link.b]
        if dug.harvest == "uproot" and dug.crop != other.crop and (lifting := _lifting(other, dug, link)):
            pairs.setdefault((other.crop, dug.crop), []).append(lifting)
    found = [harm for pair, liftings in pairs.items() if (harm := _harm(roots, pair, liftings))]
    return sorted(found, key=lambda harm: (-float(harm.share.mean()), harm.dug, harm.other))


def _lifting(other: Kind, dug: Kind, link: Link) -> _Lifting | None:
    """Take the latest round in which the one is lifted while the other stands on unripe, or lasts for years."""
    for lifted in reversed(dug.standing.stays):
        middle = (lifted.harvest_from_week + lifted.end_week) / 2
        stay = other.standing.stay_at(middle)
        if stay is not None and stay.plant_week < middle and _stands_on(stay, middle):
            first = float(lifted.harvest_from_week)
            return _Lifting(link, first, middle, middle - lifted.plant_week, stay.end_week)
    return None


def _stands_on(stay: Stay, week: float) -> bool:
    lasting = stay.life_end_week - stay.plant_week > _LASTING_WEEKS and stay.end_week > week + _UNRIPE_WEEKS
    return lasting or min(stay.harvest_from_week, stay.end_week) > week + _UNRIPE_WEEKS


def _dug_up(roots: Roots, liftings: Sequence[_Lifting], *, first: bool = False, moved_m: float = 0.0) -> Floats:
    """Share of each subject's root zone that the lifting digs up, overlaps counted once."""
    pairs = []
    for lifting in liftings:
        link, week = lifting.link, lifting.first_week if first else lifting.usual_week
        sizes = [roots.stand.kinds[k].size(week) for k in (link.a, link.b)]
        if min(sizes) <= 0:
            continue
        mine, theirs = (
            zone.scaled(size)
            for zone, size in zip(link_zones(roots.stand, roots.shares.subject, link), sizes, strict=True)
        )
        if moved_m:
            away = np.column_stack([theirs.x - mine.x, theirs.y - mine.y])
            step = moved_m * away / np.maximum(np.hypot(*away.T), 1e-9)[:, None]
            theirs = replace(theirs, x=theirs.x + step[:, 0], y=theirs.y + step[:, 1])
        pairs.append((link.i, mine, theirs))
    return covered_share(pairs, len(roots.shares.subject))


def _harm(roots: Roots, pair: tuple[str, str], liftings: Sequence[_Lifting]) -> Harm | None:
    share = _dug_up(roots, liftings)
    who = np.flatnonzero(share >= roots.threshold)
    concerned = np.isin(roots.stand.kind[roots.shares.subject], [lifting.link.a for lifting in liftings])
    mean = float(share[concerned].mean()) if concerned.any() else 0.0
    if not len(who) or mean < roots.threshold / 2:
        return None
    other, dug = (roots.names[code] for code in pair)
    lifting = liftings[0]
    advice = _best(roots, pair, liftings, (concerned, mean))
    text = Sentence(
        "Lifting {dug} about {grown:.0f} weeks after it is planted (week {week:.0f}) digs up {share:.0f} % of the root zone of "
        "{other}, which stands to week {last}; {advice}.",
        dug=CropName(dug), grown=lifting.grown_weeks, week=lifting.usual_week, share=100 * mean,
        other=CropName(other), last=lifting.stands_to, advice=advice,
    )  # fmt: skip
    return Harm(pair[1], pair[0], who, share[who], int(lifting.usual_week), advice, text)


def _best(roots: Roots, pair: tuple[str, str], liftings: Sequence[_Lifting], now: tuple[Any, float]) -> str:
    """Say the change that leaves least harm; the easiest of those that leave less than the threshold."""
    concerned, mean = now
    tries = [(after, words) for after, words in _tries(roots, pair, liftings, concerned) if after <= mean - _GAIN]
    good = [entry for entry in tries if entry[0] < roots.threshold]
    if good:
        return Sentence("{change} and it is {share:.0f} %", change=good[0][1], share=100 * good[0][0])
    dug = CropName(roots.names[pair[1]])
    instead = Sentence("grow something there that is cut or picked instead of {crop}", crop=dug)
    if not tries:
        return instead
    after, words = min(tries)
    told = {"change": words, "share": 100 * after, "instead": instead}
    return Sentence("{change} and it is {share:.0f} %, or {instead}", **told)


def _tries(
    roots: Roots, pair: tuple[str, str], liftings: Sequence[_Lifting], concerned: Any
) -> Iterator[tuple[float, str]]:
    """Harm left after each change, the easiest first: time, turn, distance."""
    first = liftings[0].first_week
    dug = roots.names[pair[1]]
    yield (
        float(_dug_up(roots, liftings, first=True)[concerned].mean()),
        Sentence("lift {crop} in its first weeks, from week {first:.0f} on,", crop=CropName(dug), first=first),
    )
    if turn := _turned(roots, pair, liftings):
        yield turn
    for step in _MOVES_M:
        after = float(_dug_up(roots, liftings, moved_m=step)[concerned].mean())
        if after < roots.threshold or step == _MOVES_M[-1]:
            yield after, Sentence("set the two {step:.0f} cm farther apart", step=100 * step)
            return


def _turned(roots: Roots, pair: tuple[str, str], liftings: Sequence[_Lifting]) -> tuple[float, str] | None:
    weeks = sorted({lifting.usual_week for lifting in liftings})
    asked = np.full(len(roots.shares.subject), -1)
    for lifting in liftings:
        of_kind = roots.stand.kind[roots.shares.subject] == lifting.link.a
        asked[of_kind] = weeks.index(lifting.usual_week)
    at_lifting = replace(roots, shares=replace(roots.shares, weeks=np.array(weeks)))
    return best_turn(at_lifting, pair, asked)


def harm_findings(found: Sequence[Harm]) -> list[Finding]:
    """One warning per pair of crops."""
    return [
        Finding(
            "warning", Sentence("{dug} beside {other}", dug=CropName(harm.dug), other=CropName(harm.other)), harm.text
        )
        for harm in found
    ]


def conflict_layer(roots: Roots, found: Sequence[Harm]) -> pd.DataFrame:
    """Layer CONFLICTS: plants whose roots are dug up beyond the threshold, each at its worst."""
    if not found:
        return CONFLICTS.empty(roots.frame.crs)
    who = np.concatenate([harm.who for harm in found])
    share = np.concatenate([harm.share for harm in found])
    which = np.repeat(np.arange(len(found)), [len(harm.who) for harm in found])
    order = np.lexsort([which, -share, who])
    first = order[np.flatnonzero(np.diff(who[order], prepend=-1))]
    part = roots.frame.iloc[roots.shares.subject[who[first]]]
    columns = {name: part[name].to_numpy() for name in ("plant", "crop", "planting", "bed", "x", "y")}
    columns |= {
        "share_pct": 100 * share[first],
        "with_crop": [found[k].dug for k in which[first]],
        "week": [found[k].week for k in which[first]],
        "advice": [found[k].advice for k in which[first]],
    }
    return CONFLICTS.frame(columns, geometry=part.geometry.to_numpy(), crs=roots.frame.crs)
