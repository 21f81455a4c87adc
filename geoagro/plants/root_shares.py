"""How much of each plant's root zone other plants use, month by month."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geoagro.arrays import Floats, Ints, Singles
from geoagro.planar.zones import Zones, sample_points, shared_area
from geoagro.plants.kinds import Stand
from geoagro.plants.neighbours import pairs_within

Growth = Callable[[float], float]
"""Size of a plant by week; 0 where it isn't there."""

_POINTS = 128
_CHUNK = 20_000


@dataclass(frozen=True, eq=False)
class Link:
    """Pairs of plants of two kinds whose full-grown root zones may meet.

    Attributes
    ----------
    a, b
        Kinds.
    i
        Position of the first plant among the subjects, rising.
    j
        Index of the second plant in the stand.
    """

    a: int
    b: int
    i: Ints
    j: Ints


@dataclass(frozen=True, eq=False)
class RootShares:
    """Shares of root zones.

    Attributes
    ----------
    crops
        Crop codes, sorted.
    subject
        Index in the stand of each plant looked at.
    crop
        Index of its crop.
    alive
        Shape (subjects, moments).
    weeks
        The week of each moment.
    share
        Shape (crops, subjects, moments): area that plants of the crop share with the subject's zone, summed
        over them, by the zone's own area. Above 1 where they overlap each other; never below the share that
        is used at all.
    """

    crops: tuple[str, ...]
    subject: Ints
    crop: Ints
    alive: NDArray[np.bool_]
    weeks: Floats
    share: Singles
    links: tuple[Link, ...]

    def others(self) -> Singles:
        """Sum over all crops but the plant's own: shape (subjects, moments)."""
        total: Singles = self.share.sum(axis=0) - self.share[self.crop, np.arange(len(self.subject))]
        return np.maximum(total, 0.0)


def root_shares(stand: Stand, subject: Ints, weeks: Floats) -> RootShares:
    """Share of each subject's root zone that plants of each crop use at each moment.

    Zones are discs or sectors in plan, with a radius that grows evenly with age; how deep roots go isn't
    looked at. Areas come from `shared_area`.
    """
    crops = tuple(sorted({kind.crop for kind in stand.kinds}))
    code = np.array([crops.index(kind.crop) for kind in stand.kinds], dtype=np.int64)
    share = np.zeros((len(crops), len(subject), len(weeks)), dtype=np.float32)
    links = tuple(_links(stand, subject))
    for link in links:
        _add(share[code[link.b]], stand, subject, link, weeks)
    sizes = np.array([[kind.size(week) for week in weeks] for kind in stand.kinds]).reshape(-1, len(weeks))
    alive = sizes[stand.kind[subject]] > 0
    return RootShares(crops, subject, code[stand.kind[subject]], alive, weeks, share, links)


def _links(stand: Stand, subject: Ints) -> Iterator[Link]:
    xy = np.column_stack([stand.x, stand.y])
    of = [stand.of(k) for k in range(len(stand.kinds))]
    position = [np.flatnonzero(stand.kind[subject] == k) for k in range(len(stand.kinds))]
    for a, first in enumerate(stand.kinds):
        for b, second in enumerate(stand.kinds):
            if not first.meets(second):
                continue
            i, j, _ = pairs_within(xy[subject[position[a]]], xy[of[b]], first.reach_m + second.reach_m)
            i, j = position[a][i], of[b][j]
            apart = subject[i] != j
            if apart.any():
                yield Link(a, b, i[apart], j[apart])


def states(first: Growth, second: Growth, weeks: Floats) -> Iterator[tuple[float, float, Ints]]:
    """Sizes that two kinds have at the same time, and the moments at which they do."""
    seen: dict[tuple[float, float], list[int]] = {}
    for moment, week in enumerate(weeks):
        sizes = first(float(week)), second(float(week))
        if min(sizes) > 0:
            seen.setdefault(sizes, []).append(moment)
    for (a, b), at in seen.items():
        yield a, b, np.array(at)


def link_zones(stand: Stand, subject: Ints, link: Link) -> tuple[Zones, Zones]:
    """Full-grown root zones of both plants of every pair."""
    return stand.zones(link.a, subject[link.i]), stand.zones(link.b, link.j)


def _add(share: Floats, stand: Stand, subject: Ints, link: Link, weeks: Floats) -> None:
    mine, theirs = link_zones(stand, subject, link)
    full = mine.area
    for a, b, at in states(stand.kinds[link.a].size, stand.kinds[link.b].size, weeks):
        part = shared_area(mine.scaled(a), theirs.scaled(b)) / (full * a**2)
        total = np.bincount(link.i, part, minlength=len(subject))
        some = np.flatnonzero(total)
        share[np.ix_(some, at)] += total[some, None]


def used_share(stand: Stand, shares: RootShares, who: Ints, moment: Ints, with_crop: int | None = None) -> Floats:
    """Share of a subject's zone that any plant of another crop uses: overlaps counted once.

    Parameters
    ----------
    who
        Positions among the subjects.
    moment
        The moment to look at, for each of them.
    with_crop
        Only plants of this crop (its own too, if asked for).

    Counted on 128 points spread evenly by area over the zone: standard error of one plant's share below 4
    percentage points.
    """
    at = np.full(len(shares.subject), -1)
    at[who] = moment
    pairs = []
    for link in shares.links:
        crop = stand.kinds[link.b].crop
        asked = crop != stand.kinds[link.a].crop if with_crop is None else crop == shares.crops[with_crop]
        if asked:
            pairs.append(sized_pairs(stand, shares, link, at))
    return covered_share(pairs, len(shares.subject))[who]


def sized_pairs(stand: Stand, shares: RootShares, link: Link, at: Ints) -> tuple[Ints, Zones, Zones]:
    """Pairs of a link whose subject is looked at (at >= 0), with both zones at the size of that moment."""
    wanted = at[link.i] >= 0
    link = Link(link.a, link.b, link.i[wanted], link.j[wanted])
    sizes = np.array([[stand.kinds[k].size(week) for week in shares.weeks] for k in (link.a, link.b)])
    zones = link_zones(stand, shares.subject, link)
    mine, theirs = (zone.scaled(size[at[link.i]]) for zone, size in zip(zones, sizes, strict=True))
    both = (mine.reach > 0) & (theirs.reach > 0)
    return link.i[both], mine.take(both), theirs.take(both)


def covered_share(pairs: Sequence[tuple[Ints, Zones, Zones]], count: int, *, points: int = _POINTS) -> Floats:
    """Share of the points in each subject's zone that any of its neighbours' zones holds.

    Each entry of `pairs`: positions of the subjects (rising), their zones (a subject has one in an entry), their neighbours' zones.
    """
    covered = np.zeros((count, points), dtype=bool)
    for who, mine, theirs in pairs:
        for start in range(0, len(who), _CHUNK):
            part = slice(start, start + _CHUNK)
            begins = np.diff(who[part], prepend=-1) != 0
            first, subject = np.flatnonzero(begins), np.cumsum(begins) - 1
            # the points of a subject's zone are the same for each of its neighbours
            x, y = sample_points(mine.take(part).take(first), points)
            held = theirs.take(part).holds(x[subject], y[subject])
            covered[who[part][first]] |= np.logical_or.reduceat(held, first, axis=0)
    share: Floats = covered.mean(axis=1)
    return share


def crop_means(shares: RootShares) -> Floats:
    """Mean of the summed shares over a crop's living plants: shape (crops, crops, moments); NaN where none lives."""
    n = len(shares.crops)
    means = np.full((n, n, shares.alive.shape[1]), np.nan)
    for crop in range(n):
        mine = shares.crop == crop
        living = shares.alive[mine].sum(axis=0)
        total = shares.share[:, mine].sum(axis=1)
        means[crop] = np.where(living > 0, total / np.maximum(living, 1), np.nan)
    return means


def worst_moment(values: Floats, usable: Sequence[bool] | NDArray[np.bool_]) -> int:
    """First moment of the highest value among the usable ones."""
    return int(np.argmax(np.where(usable, np.nan_to_num(values), -1.0)))
