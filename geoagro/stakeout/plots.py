"""Round sample plots for counting survival: as many as a wanted precision needs, by chance or on a grid."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from scipy.spatial import cKDTree
from shapely.geometry.base import BaseGeometry

from geoagro.arrays import Floats
from geoagro.errors import LayoutError
from geoagro.stakeout.records.as_built import SampleSize
from geoagro.stakeout.survival import sample_size
from geoagro.values.stakeout import PLOTS

_TRIES = 200


@dataclass(frozen=True)
class PlotRule:
    """How sample plots are laid.

    Attributes
    ----------
    radius_m
        Of a plot, metres.
    expected_pct
        Survival expected, percent.
    precision_pct
        Half of the width wanted for the interval, percentage points.
    correlation
        Of survival between plants of a plot, 0 to 1.
    by_chance
        Plots at random, else on a grid with a random start.
    seed
        Random seed.

    >>> from geoagro import PlotRule
    >>> PlotRule().radius_m
    5.642
    """

    radius_m: float = 5.642
    expected_pct: float = 80.0
    precision_pct: float = 5.0
    correlation: float = 0.05
    by_chance: bool = False
    seed: int = 1


def lay_plots(
    area: BaseGeometry,
    plants_xy: Floats,
    *,
    crs: Any,
    rule: PlotRule,
) -> tuple[Any, SampleSize]:
    """Lay plots whose middle falls on `area`; each carries the number of plants planned in it.

    Plants per plot come from the mean density on `area`. By chance: middles are drawn evenly over the area,
    no two plots overlapping. On a grid: a square grid with a start drawn by chance, turned along the area's
    longest side; its step is chosen so that at least as many middles as needed fall on the area.

    Returns layer PLOTS and the sample size.

    Raises LayoutError where the plots needed don't fit on the area.
    """
    radius_m = rule.radius_m
    circle = np.pi * radius_m**2
    size = sample_size(
        len(plants_xy),
        expected=rule.expected_pct / 100,
        precision=rule.precision_pct / 100,
        plants_per_plot=len(plants_xy) * circle / area.area,
        correlation=rule.correlation,
    )
    chance = np.random.default_rng(rule.seed)
    lay = _scattered if rule.by_chance else _on_grid
    middles = lay(area, size.plots, radius_m, chance)
    counts = cKDTree(plants_xy).query_ball_point(middles, radius_m, return_length=True)
    digits = max(len(str(len(middles))), 2)
    frame = PLOTS.frame(
        {
            "plot": [f"P{k:0{digits}d}" for k in range(1, len(middles) + 1)],
            "x": middles[:, 0],
            "y": middles[:, 1],
            "radius_m": np.full(len(middles), radius_m),
            "area_m2": np.full(len(middles), circle),
            "plants": counts,
        },
        geometry=shapely.buffer(shapely.points(middles), radius_m, quad_segs=16),
        crs=crs,
    )
    return frame, size


def _scattered(area: BaseGeometry, count: int, radius_m: float, chance: np.random.Generator) -> Floats:
    """Draw middles one after another, each at least two radii from those before."""
    west, south, east, north = area.bounds
    shapely.prepare(area)
    kept = np.empty((0, 2))
    for _ in range(_TRIES):
        drawn = chance.uniform((west, south), (east, north), (max(4 * count, 100), 2))
        for point in drawn[shapely.contains_xy(area, drawn[:, 0], drawn[:, 1])]:
            if len(kept) == 0 or np.hypot(*(kept - point).T).min() >= 2 * radius_m:
                kept = np.vstack([kept, point])
            if len(kept) == count:
                return kept
    raise _too_many(count, radius_m, len(kept))


def _on_grid(area: BaseGeometry, count: int, radius_m: float, chance: np.random.Generator) -> Floats:
    bearing = _longest_side(area)
    start = chance.uniform(0, 1, 2)
    step = np.sqrt(area.area / count)
    while step >= 2 * radius_m:
        middles = _grid(area, step, bearing, start)
        if len(middles) >= count:
            return middles
        step *= 0.98
    raise _too_many(count, radius_m, len(_grid(area, 2 * radius_m, bearing, start)))


def _grid(area: BaseGeometry, step: float, bearing: float, start: Floats) -> Floats:
    middle = shapely.get_coordinates(area.centroid)[0]
    reach = np.hypot(area.bounds[2] - area.bounds[0], area.bounds[3] - area.bounds[1])
    ticks = np.arange(-np.ceil(reach / step), np.ceil(reach / step) + 1)
    u, v = np.meshgrid((ticks + start[0]) * step, (ticks + start[1]) * step)
    cos, sin = np.cos(bearing), np.sin(bearing)
    xy = middle + np.column_stack([(u * cos - v * sin).ravel(), (u * sin + v * cos).ravel()])
    inside: Floats = xy[shapely.contains_xy(area, xy[:, 0], xy[:, 1])]
    return inside


def _longest_side(area: BaseGeometry) -> float:
    corners = shapely.get_coordinates(shapely.minimum_rotated_rectangle(area))
    sides = np.diff(corners, axis=0)
    longest = sides[int(np.hypot(*sides.T).argmax())]
    return float(np.arctan2(longest[1], longest[0]))


def _too_many(count: int, radius_m: float, fitting: int) -> LayoutError:
    return LayoutError(
        f"{count} plots of {radius_m:g} m radius are needed, but only about {fitting} fit side by side. Take a smaller "
        "radius, a wider precision, or count every plant."
    )
