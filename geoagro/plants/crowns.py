"""Ground under crowns by month and stratum, and the weeding that is left."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from scipy.spatial import cKDTree

from geoagro.arrays import Floats, Ints, Shapes
from geoagro.planar.spread import points_over
from geoagro.plants.kinds import WEEKS_PER_MONTH, Stand
from geoagro.plants.records.recipe_analysis import COVER, KIND_COVER, STRATA, WEEDING
from geoagro.values.recipe import Stratum
from geoagro.values.season import Weeding

LAYERS = ("emergent", "high", "medium", "low", "ground")
STRATA_OF_CROWNS: tuple[Stratum, ...] = ("emergent", "high", "medium", "low")

WEEDING_WEEKS = 20
"""Weeks from the start in which weeds decide over a young planting (common practice, no source)."""

_MOST_POINTS = 300_000


@dataclass(frozen=True, eq=False)
class Cover:
    """Shares of ground under crowns.

    Attributes
    ----------
    any_crown
        Shape (beds and paths, moments).
    layer
        Shape (strata, beds and paths, moments), strata as in LAYERS.
    area_m2
        Area of each bed or path.
    """

    any_crown: Floats
    layer: Floats
    area_m2: Floats

    def field(self) -> tuple[Floats, Floats]:
        """Both shares over all beds and paths, by area: shapes (moments), (strata, moments)."""
        weight = self.area_m2 / self.area_m2.sum()
        return weight @ self.any_crown, np.einsum("b,sbm->sm", weight, self.layer)


def ground_cover(stand: Stand, polygons: Shapes, area_m2: Floats, weeks: Floats) -> Cover:
    """Count points under crowns, in each bed and path, at each moment.

    Crowns are discs in plan whose radius grows evenly with age, and from the pruned size again after each pruning
    of a crop that names one. Each polygon carries
    12 to 200 points (300,000 in all where that many beds allow): the standard error of one bed's share is
    below 50 / sqrt(points) percentage points, that of the whole field below 0.5.
    """
    count = int(np.clip(_MOST_POINTS // max(len(polygons), 1), 12, 200))
    points, _ = points_over(polygons, count)
    shape = (len(polygons), count)
    nearest = [_nearest(stand, number, points).reshape(shape) for number in range(len(stand.kinds))]
    any_crown = np.zeros((len(polygons), len(weeks)))
    layer = np.zeros((len(LAYERS), len(polygons), len(weeks)))
    for moment, week in enumerate(weeks):
        under = np.zeros((len(LAYERS), *shape), dtype=bool)
        for kind, distance in zip(stand.kinds, nearest, strict=True):
            if (radius := kind.crown(week)) > 0:
                under[LAYERS.index(kind.stratum)] |= distance < radius
        any_crown[:, moment] = under.any(axis=0).mean(axis=1)
        layer[:, :, moment] = under.mean(axis=2)
    return Cover(any_crown, layer, area_m2)


def _nearest(stand: Stand, number: int, points: Floats) -> Any:
    """Distance from each point to the nearest plant of a kind, infinite beyond its full-grown crown."""
    index, reach = stand.of(number), stand.kinds[number].crown_m
    if not len(index) or reach == 0:
        return np.full(len(points), np.inf, dtype=np.float32)
    tree = cKDTree(np.column_stack([stand.x[index], stand.y[index]]))
    return np.asarray(tree.query(points, distance_upper_bound=reach * (1 + 1e-9))[0], dtype=np.float32)


def cover_table(cover: Cover, names: Any, months: Ints, *, beds_until: int | None = None) -> pd.DataFrame:
    """Layer COVER: the whole field first, then each bed that has a name.

    Single beds are told month by month as far as `beds_until`, then once a year: all months of all beds of a large
    field would fill the file.
    """
    every, layers = cover.field()
    named = np.flatnonzero([name is not None for name in names])
    told = np.ones(len(months), dtype=bool) if beds_until is None else (months <= beds_until) | (months % 12 == 0)
    share = np.concatenate([every, cover.any_crown[named][:, told].ravel()])
    by_layer = np.concatenate([layers, cover.layer[:, named][:, :, told].reshape(len(LAYERS), -1)], axis=1)
    rows = np.array([len(months), *[np.count_nonzero(told)] * len(named)])
    columns = {
        "bed": np.repeat(np.array(["field", *(names[k] for k in named)], dtype=object), rows),
        "month": np.concatenate([months, np.tile(months[told], len(named))]),
        "cover_pct": 100 * share,
        **{f"{name}_pct": 100 * by_layer[k] for k, name in enumerate(LAYERS)},
    }
    return COVER.frame(columns)


def kind_cover_table(cover: Cover, kinds: Any, months: Ints) -> pd.DataFrame:
    """Layer KIND_COVER: mean over the beds of each kind by area, month by month without a gap."""
    count = int(np.count_nonzero(months == np.arange(1, len(months) + 1)))
    rows = []
    for kind in sorted({kind for kind in kinds if kind is not None}):
        some = np.array([name == kind for name in kinds])
        share = cover.area_m2[some] @ cover.any_crown[some] / cover.area_m2[some].sum()
        rows += [(kind, month + 1, 100 * float(share[month])) for month in range(count)]
    return KIND_COVER.frame({name: [row[k] for row in rows] for k, name in enumerate(KIND_COVER.columns)})


def strata_table(cover: Cover, months: Ints, reference_pct: Mapping[Stratum, float] | None = None) -> Any:
    """Layer STRATA: mean of each year's months, beside the reference shares where some are asked for."""
    _, layers = cover.field()
    year = (months - 1) // 12 + 1
    wanted = reference_pct or {}
    rows = [
        (int(y), name, 100 * float(layers[LAYERS.index(name), year == y].mean()), wanted.get(name, np.nan))
        for y in np.unique(year)
        for name in STRATA_OF_CROWNS
    ]
    columns: dict[str, Any] = {name: [row[k] for row in rows] for k, name in enumerate(STRATA.columns[:4])}
    columns["difference_pct"] = [share - reference for _, _, share, reference in rows]
    return STRATA.frame(columns)


def weeding_table(cover: Cover, names: Any, months: Ints, rule: Weeding) -> pd.DataFrame:
    """Layer WEEDING: rounds expected in the first 20 weeks, by how bare the ground is."""
    named = np.flatnonzero([name is not None for name in names])
    share = cover.any_crown[named]
    is_closed = share >= rule.closed_cover_pct / 100
    columns = {
        "bed": [names[k] for k in named],
        "bare_rounds": np.full(len(named), WEEDING_WEEKS / rule.bare_weeks),
        "rounds": weeding_rounds(share, months, rule),
        "closed_month": np.where(is_closed.any(axis=1), months[is_closed.argmax(axis=1)], 0),
    }
    return WEEDING.frame(columns)


def weeding_rounds(cover: Floats, months: Ints, rule: Weeding) -> Floats:
    """Sum bare share times weeks over the first 20 weeks, one round per `rule.bare_weeks` of bare ground.

    `cover` runs straight between the middles of the months (last axis). Ground covered to
    `rule.closed_cover_pct` and more counts as shut.

    >>> weeding_rounds(np.zeros((1, 6)), np.arange(1, 7), Weeding()).tolist()
    [5.0]
    """
    day = np.arange(WEEDING_WEEKS * 7) + 0.5
    middle = (months - 0.5) * WEEKS_PER_MONTH * 7
    covered = np.array([np.interp(day, np.concatenate([[0.0], middle]), np.concatenate([[0.0], c])) for c in cover])
    rounds: Floats = rule.bare(covered).sum(axis=-1) / (7 * rule.bare_weeks)
    return rounds
