"""What root zones would share if one of the crops were turned another way."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

import geopandas as gpd
import numpy as np
from scipy.spatial import cKDTree

from geoagro.arrays import Floats, Ints
from geoagro.planar.zones import Zones
from geoagro.plants.bearings import row_bearings
from geoagro.plants.directions import beside_turn
from geoagro.plants.kinds import Kind, Stand
from geoagro.plants.neighbours import pairs_within
from geoagro.plants.root_shares import Link, RootShares, covered_share, sized_pairs
from geoagro.plants.spots import toward
from geoagro.plants.strips import Strips
from geoagro.values.words import CropName, Sentence, say

TURNS = {say("along the row"): 0.0, say("against the row"): 180.0, say("uphill"): -90.0, say("downhill"): 90.0}
"""Turns from the row's bearing; rows carry their upslope side on the left."""


@dataclass(frozen=True, eq=False)
class Roots:
    """What root figures are made from."""

    frame: gpd.GeoDataFrame
    stand: Stand
    strips: Strips
    shares: RootShares
    months: Ints
    names: Mapping[str, str]
    threshold: float


def best_turn(roots: Roots, pair: tuple[str, str], asked: Ints) -> tuple[float, str] | None:
    """Least mean share of the first crop's zones over all ways to turn either crop, and how to say it.

    Parameters
    ----------
    pair
        The crop whose zones are looked at, and the crop that shares them.
    asked
        The moment to look at for each subject; -1 for those that aren't looked at.

    A plant that stands beside another one by its roots moves with it when that one is turned. None where
    neither crop is set facing a direction or could be.
    """
    kinds = roots.stand.kinds
    links = [link for link in roots.shares.links if (kinds[link.a].crop, kinds[link.b].crop) == pair]
    return min(_tries(roots, pair, links, asked), default=None)


_TURN = say("turn {crop} {direction}")
_SLANT = say("set {crop} slanted, roots {direction}")


def _tries(roots: Roots, pair: tuple[str, str], links: list[Link], asked: Ints) -> Iterator[tuple[float, str]]:
    for end, crop in enumerate(pair):
        turned = [_ends(roots, link)[end] for link in links]
        if pair[0] == pair[1] or any(kind.sector_deg >= 360 for kind in turned):
            continue
        name, other = roots.names[crop], roots.names[pair[1 - end]]
        met = [_met(roots, link, end, asked) for link in links]
        moves = any(one.beside is not None for one in met)
        text = _TURN if all(kind.turned for kind in turned) else _SLANT
        for word, turn in TURNS.items():
            change = Sentence(text, crop=CropName(name), direction=Sentence(word))
            moved = Sentence("{change} ({other} moves with it)", change=change, other=CropName(other))
            share = covered_share([one.turned(turn) for one in met], len(asked))[asked >= 0].mean()
            yield float(share), moved if moves else change


def _ends(roots: Roots, link: Link) -> tuple[Kind, Kind]:
    return roots.stand.kinds[link.a], roots.stand.kinds[link.b]


def _stands_beside(child: Kind, parent: Kind) -> bool:
    rule = child.rule.beside
    by_roots = rule is not None and rule.where in ("behind", "ahead") and rule.planting == parent.planting
    return by_roots and child.bed_kind == parent.bed_kind


@dataclass(frozen=True, eq=False)
class _Beside:
    """Stems that the other crop's plants stand by: place, bearing of the row there, and where a plant is put.

    Attributes
    ----------
    xy, bearing_deg
        Of the stem of each pair.
    distance_m, side_deg
        From the stem, and its way from where the stem's roots face.
    """

    xy: Floats
    bearing_deg: Floats
    distance_m: float
    side_deg: float

    def moved(self, zones: Zones, turn: float) -> Zones:
        """Put plants back beside the stem they stand by, after it was turned."""
        place = self.xy + self.distance_m * toward(self.bearing_deg + turn + self.side_deg)
        return replace(zones, x=place[:, 0], y=place[:, 1])


@dataclass(frozen=True, eq=False)
class _Met:
    """Pairs of zones of one link, of which those at one end are turned; what no turn changes is worked out once.

    Attributes
    ----------
    subject
        Subject of each pair.
    zones, end
        Zones of both ends, and the end that is turned.
    bearing_deg, opening_deg
        Of the row where each zone that is turned stands; how wide such a zone is open.
    beside
        What the other end stands by, where it moves along.
    """

    subject: Ints
    zones: tuple[Zones, Zones]
    end: int
    bearing_deg: Floats
    opening_deg: float
    beside: _Beside | None

    def turned(self, turn: float) -> tuple[Ints, Zones, Zones]:
        """Return the pairs after the turn."""
        faced, other = self.zones[self.end], self.zones[1 - self.end]
        opening = np.full(len(faced), self.opening_deg)
        faced = replace(faced, bearing_deg=(self.bearing_deg + turn) % 360.0, opening_deg=opening)
        other = self.beside.moved(other, turn) if self.beside else other
        return (self.subject, faced, other) if self.end == 0 else (self.subject, other, faced)


def _met(roots: Roots, link: Link, end: int, asked: Ints) -> _Met:
    turned, other = _ends(roots, link)[end], _ends(roots, link)[1 - end]
    i, *zones = sized_pairs(roots.stand, roots.shares, _wider(roots, link, asked), asked)
    beside = _beside(roots, zones[1 - end], other) if _stands_beside(other, turned) else None
    faced = zones[end]
    bearing = row_bearings(faced.x, faced.y, roots.strips)
    return _Met(i, (zones[0], zones[1]), end, bearing, turned.sector_deg, beside)


def _wider(roots: Roots, link: Link, asked: Ints) -> Link:
    """Take in the pairs that may come within reach when a plant moves round the stem that it stands by."""
    kinds = _ends(roots, link)
    moves = max((k.rule.beside.distance_m for k in kinds if k.rule.beside is not None), default=0.0)
    if not moves:
        return link
    stand, subject = roots.stand, roots.shares.subject
    who = np.flatnonzero((asked >= 0) & (stand.kind[subject] == link.a))
    theirs = stand.of(link.b)
    xy = np.column_stack([stand.x, stand.y])
    reach = kinds[0].reach_m + kinds[1].reach_m + 2 * moves
    i, j, _ = pairs_within(xy[subject[who]], xy[theirs], reach)
    apart = subject[who[i]] != theirs[j]
    return Link(link.a, link.b, who[i][apart], theirs[j][apart])


def _beside(roots: Roots, zones: Zones, child: Kind) -> _Beside:
    """Find the stem that each plant stands by."""
    rule = child.rule.beside
    assert rule is not None  # _stands_beside says so
    stems = roots.stand.of(next(k for k, kind in enumerate(roots.stand.kinds) if _stands_beside(child, kind)))
    xy = np.column_stack([roots.stand.x[stems], roots.stand.y[stems]])
    side = beside_turn(rule.where)
    places = xy + rule.distance_m * toward(roots.stand.bearing_deg[stems] + side)
    stem = cKDTree(places).query(np.column_stack([zones.x, zones.y]))[1]
    bearing = row_bearings(xy[stem, 0], xy[stem, 1], roots.strips)
    return _Beside(xy[stem], bearing, rule.distance_m, side)
