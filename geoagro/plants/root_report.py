"""Root conflicts in tables and sentences, with the turn that would ease them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from geoagro.planar.ragged import Ints
from geoagro.planar.zones import Floats, Zones
from geoagro.plants.bearings import row_bearings
from geoagro.plants.kinds import Kind, Stand
from geoagro.plants.root_shares import (
    Link,
    RootShares,
    covered_share,
    crop_means,
    sized_pairs,
    used_share,
    worst_moment,
)
from geoagro.plants.strips import Strips
from geoagro.values.recipe_analysis import CONFLICTS, ROOT_PAIRS

TURNS = {"along the row": 0.0, "against the row": 180.0, "uphill": -90.0, "downhill": 90.0}
"""Turns from the row's bearing; rows carry their upslope side on the left."""

_LEAST = 0.005
_GAIN = 0.10
_JUDGES = 400


@dataclass(frozen=True)
class Roots:
    """What root figures are made from."""

    frame: Any
    stand: Stand
    strips: Strips
    shares: RootShares
    months: Ints
    names: Mapping[str, str]
    threshold: float


def pair_table(roots: Roots) -> Any:
    """Layer ROOT_PAIRS: worst pairs first."""
    means = crop_means(roots.shares)
    rows = [row for a in range(len(means)) for b in range(len(means)) if (row := _pair_row(roots, means, a, b))]
    rows.sort(key=lambda row: (-row["mean_share_pct"], row["crop"], row["with_crop"]))
    return ROOT_PAIRS.frame({name: [row[name] for row in rows] for name in ROOT_PAIRS.columns})


def _pair_row(roots: Roots, means: Floats, a: int, b: int) -> dict[str, Any] | None:
    mean = np.nan_to_num(means[a, b])
    at = worst_moment(mean, ~np.isnan(means[a, b]))
    if mean[at] < _LEAST:
        return None
    who = _judges(roots, a, at)
    used = used_share(roots.stand, roots.shares, who, np.full(len(who), at), b)
    row = {
        "crop": roots.shares.crops[a],
        "with_crop": roots.shares.crops[b],
        "plants": len(who),
        "mean_share_pct": 100 * float(used.mean()),
        "worst_share_pct": 100 * float(used.max()),
        "month": int(roots.months[at]),
        "from_month": _from_month(roots, mean, a, b) if used.mean() >= roots.threshold else 0,
    }
    return row | {"text": _sentence(roots, row, who, at)}


def _judges(roots: Roots, crop: int, at: int) -> Ints:
    """Up to 400 living plants of a crop, evenly picked."""
    living = np.flatnonzero((roots.shares.crop == crop) & roots.shares.alive[:, at])
    return living[:: -(-len(living) // _JUDGES)]


def _from_month(roots: Roots, mean: Floats, a: int, b: int) -> int:
    """First month in which the mean share passes the threshold; the summed shares say where to start looking."""
    for at in np.flatnonzero(mean >= roots.threshold):
        who = _judges(roots, a, int(at))
        if used_share(roots.stand, roots.shares, who, np.full(len(who), at), b).mean() >= roots.threshold:
            return int(roots.months[at])
    return 0


def _sentence(roots: Roots, row: dict[str, Any], who: Ints, at: int) -> str:
    first, second = (roots.names[row[key]] for key in ("crop", "with_crop"))
    other = "others of its kind" if row["crop"] == row["with_crop"] else second
    text = f"{first} shares {row['mean_share_pct']:.0f} % of its root zone with {other} in month {row['month']}"
    if row["crop"] == row["with_crop"] or not row["from_month"]:
        return text + "."
    text += f" ({100 * roots.threshold:.0f} % or more from month {row['from_month']})"
    easier = min(_turns(roots, (row["crop"], row["with_crop"]), who, at), default=None)
    if easier is None or easier[0] > row["mean_share_pct"] / 100 - _GAIN:
        return text + "."
    return f"{text}; {easier[1]} and it is {100 * easier[0]:.0f} %."


def _turns(roots: Roots, pair: tuple[str, str], who: Ints, at: int) -> Iterator[tuple[float, str]]:
    """Mean share of the first crop after turning either crop each way, and how to say it."""
    kinds = roots.stand.kinds
    asked = np.full(len(roots.shares.subject), -1)
    asked[who] = at
    links = [k for k in roots.shares.links if (kinds[k.a].crop, kinds[k.b].crop) == pair]
    for crop, end in zip(pair, "ab", strict=True):
        ends = [kinds[getattr(link, end)] for link in links]
        movable = all(kind.sector_deg < 360 for kind in ends) and not any(_tied(kinds[k.a], kinds[k.b]) for k in links)
        if not movable:
            continue
        verb = f"turn {roots.names[crop]}" if all(k.turned for k in ends) else f"set {roots.names[crop]} slanted, roots"
        for word, turn in TURNS.items():
            yield _after_turn(roots, links, (end, turn), asked), f"{verb} {word}"


def _tied(a: Kind, b: Kind) -> bool:
    """Say whether one stands beside the other by its roots, so that a turn would move it along."""
    pairs = ((a, b), (b, a))
    return any(x.rule.beside and x.rule.beside.planting == y.planting and x.bed_kind == y.bed_kind for x, y in pairs)


def _after_turn(roots: Roots, links: list[Link], turn: tuple[str, float], asked: Ints) -> float:
    pairs = []
    for link in links:
        i, mine, theirs = sized_pairs(roots.stand, roots.shares, link, asked)
        if turn[0] == "a":
            mine = _faced(roots, mine, roots.stand.kinds[link.a], turn[1])
        else:
            theirs = _faced(roots, theirs, roots.stand.kinds[link.b], turn[1])
        pairs.append((i, mine, theirs))
    return float(covered_share(pairs, len(asked))[asked >= 0].mean())


def _faced(roots: Roots, zones: Zones, kind: Kind, turn: float) -> Zones:
    bearing = (row_bearings(zones.x, zones.y, roots.strips) + turn) % 360.0
    return replace(zones, azimuth_deg=bearing, opening_deg=np.full(len(zones), kind.sector_deg))


def conflict_layer(roots: Roots) -> Any:
    """Layer CONFLICTS: plants that share more of their root zone with other crops than the threshold."""
    shares = roots.shares
    others = np.where(shares.alive, shares.others(), 0.0)
    at = np.argmax(others, axis=1) if len(others) else np.zeros(0, dtype=np.int64)
    who = np.flatnonzero(others[np.arange(len(at)), at] >= roots.threshold)
    used = used_share(roots.stand, shares, who, at[who])
    kept = used >= roots.threshold
    who, used = who[kept], used[kept]
    by_crop = shares.share[:, who, at[who]]
    by_crop[shares.crop[who], np.arange(len(who))] = 0.0
    worst = np.argmax(by_crop, axis=0)
    part = roots.frame.iloc[shares.subject[who]]
    columns = {name: part[name].to_numpy() for name in ("plant", "crop", "planting", "bed", "x", "y")}
    columns |= {
        "share_pct": 100 * used,
        "with_crop": np.array(shares.crops, dtype=object)[worst],
        "with_share_pct": 100 * np.minimum(by_crop[worst, np.arange(len(who))], used),
        "month": roots.months[at[who]],
    }
    return CONFLICTS.frame(columns, geometry=part.geometry.to_numpy(), crs=roots.frame.crs)
