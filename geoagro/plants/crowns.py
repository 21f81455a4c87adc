"""Ground under crowns by month and stratum, and the weeding that is left."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.spatial import cKDTree

from geoagro.planar.ragged import Ints
from geoagro.planar.spread import points_over
from geoagro.planar.zones import Floats
from geoagro.plants.kinds import Stand
from geoagro.values.recipe_analysis import COVER, STRATA, WEEDING

LAYERS = ("emergent", "high", "medium", "low", "ground")

TAUGHT_PCT = {"emergent": 20.0, "high": 40.0, "medium": 60.0, "low": 80.0}
"""Occupation per stratum as taught in courses on multistrata systems; from memory, no citable table was found."""

BARE_ROUNDS_PER_YEAR = 5.0
"""Weeding rounds on bare ground (common practice, no source)."""

CLOSED_COVER = 0.80
"""Cover from which weeds no longer come up (common practice, no source)."""

_MOST_POINTS = 300_000


@dataclass(frozen=True)
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


def ground_cover(stand: Stand, polygons: Any, area_m2: Floats, weeks: Floats) -> Cover:
    """Count points under crowns, in each bed and path, at each moment.

    Crowns are discs in plan whose radius grows evenly with age; pruning isn't looked at. Each polygon carries
    12 to 200 points (300,000 in all where that many beds allow): the standard error of one bed's share is
    below 50 / sqrt(points) percentage points, that of the whole field below 0.5.
    """
    count = int(np.clip(_MOST_POINTS // max(len(polygons), 1), 12, 200))
    points, _ = points_over(polygons, count)
    shape = (len(polygons), count)
    layer = np.zeros((len(LAYERS), *shape, len(weeks)), dtype=bool)
    for number, kind in enumerate(stand.kinds):
        radius = np.array([kind.crown_m * kind.size(week) for week in weeks])
        index = stand.of(number)
        if not len(index) or kind.crown_m == 0:
            continue
        tree = cKDTree(np.column_stack([stand.x[index], stand.y[index]]))
        nearest = tree.query(points, distance_upper_bound=kind.crown_m * (1 + 1e-9))[0].reshape(shape)
        layer[LAYERS.index(kind.stratum)] |= nearest[:, :, None] < radius
    return Cover(layer.any(axis=0).mean(axis=1), layer.mean(axis=2), area_m2)


def cover_table(cover: Cover, names: Any, months: Ints) -> Any:
    """Layer COVER: the whole field first, then each bed that has a name."""
    every, layers = cover.field()
    named = np.flatnonzero([name is not None for name in names])
    share = np.concatenate([every[None], cover.any_crown[named]])
    by_layer = np.concatenate([layers[:, None], cover.layer[:, named]], axis=1)
    columns = {
        "bed": np.repeat(np.array(["field", *(names[k] for k in named)], dtype=object), len(months)),
        "month": np.tile(months, len(named) + 1),
        "cover_pct": 100 * share.ravel(),
        **{f"{name}_pct": 100 * by_layer[k].ravel() for k, name in enumerate(LAYERS)},
    }
    return COVER.frame(columns)


def strata_table(cover: Cover, months: Ints) -> Any:
    """Layer STRATA: mean of each year's months against what is taught."""
    _, layers = cover.field()
    year = (months - 1) // 12 + 1
    rows = [
        (int(y), name, 100 * float(layers[LAYERS.index(name), year == y].mean()), taught)
        for y in np.unique(year)
        for name, taught in TAUGHT_PCT.items()
    ]
    columns: dict[str, Any] = {name: [row[k] for row in rows] for k, name in enumerate(STRATA.columns[:4])}
    columns["difference_pct"] = [share - taught for _, _, share, taught in rows]
    return STRATA.frame(columns)


def weeding_table(cover: Cover, names: Any, months: Ints) -> Any:
    """Layer WEEDING: rounds in the first year, by how far the cover is from closed.

    Each month brings a twelfth of a year's rounds, times the open share 1 - cover / 80 %.
    """
    named = np.flatnonzero([name is not None for name in names])
    share = cover.any_crown[named]
    first_year = share[:, months <= 12]
    is_closed = share >= CLOSED_COVER
    columns = {
        "bed": [names[k] for k in named],
        "bare_rounds": np.full(len(named), BARE_ROUNDS_PER_YEAR),
        "rounds": weeding_rounds(first_year),
        "closed_month": np.where(is_closed.any(axis=1), months[is_closed.argmax(axis=1)], 0),
    }
    return WEEDING.frame(columns)


def weeding_rounds(cover: Floats) -> Floats:
    """Sum the rounds left over months (last axis) of cover shares.

    >>> weeding_rounds(np.zeros(12)).item()
    5.0
    """
    rounds: Floats = BARE_ROUNDS_PER_YEAR / 12 * np.maximum(0.0, 1.0 - cover / CLOSED_COVER).sum(axis=-1)
    return rounds
