"""Light taken by crowns across an alley, layer by layer from the top.

Crowns are upright cylinders whose leaves are spread evenly between their base and their top and, along the row, over the
whole line. What a ray meets is then known in closed form: the integral of a half disc's chord over the columns that it
crosses (no grid along the ray). Within a layer light is shared by what each kind puts into its way (Monsi and Saeki by
strata), so captures and the light on the ground add up to the light that came.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

import numpy as np

from geoagro.arrays import Floats, Ints
from geoagro.light.rays import Rays

_COLUMN_M = 0.05
_GROUND_M = 0.25
_THICK_M = 1.0
_LAYERS = 12
_THIN = 1e-9


@dataclass(frozen=True)
class Crown:
    """All plants of one kind in a section, at one size.

    Attributes
    ----------
    x_m, spacing_m
        Places of its lines across, and distance of plants in each.
    opacity
        Share of the light from straight above that one crown takes.
    """

    x_m: tuple[float, ...]
    spacing_m: tuple[float, ...]
    radius_m: float
    base_m: float
    top_m: float
    opacity: float


@dataclass(frozen=True, eq=False)
class Light:
    """What became of the light on one period of the section, as shares of open ground's.

    Attributes
    ----------
    captured
        By kind.
    incoming
        Light that reaches the top of each kind's crowns.
    ground
        Light on the ground at `x_m` across.
    left
        The same ray by ray: shape (rays, places).
    """

    captured: Floats
    incoming: Floats
    ground: Floats
    x_m: Floats
    left: Floats


def light_in(crowns: Sequence[Crown], width_m: float, rays: Rays) -> Light:
    """Send rays through the crowns of a section that repeats every `width_m`."""
    x = _places(width_m)
    count = len(x)
    if not crowns:
        return Light(np.zeros(0), np.zeros(0), np.ones(count), x, np.ones((len(rays.weight), count)))
    sums = np.array([_running_sum(crown, width_m) for crown in crowns])
    levels = _levels(crowns)
    at = _Columns(x, levels, rays, sums.shape[1] - 1, width_m)
    left = np.ones((len(rays.weight), count))
    captured, incoming = np.zeros(len(crowns)), np.ones(len(crowns))
    held = [at.sums(total) for total in sums]
    for top in range(len(levels) - 1, 0, -1):
        for k, crown in enumerate(crowns):
            if crown.top_m == levels[top]:
                incoming[k] = _mean(left, at.density(sums[k], top), rays.weight)
        inside = [k for k, c in enumerate(crowns) if c.base_m < levels[top] and c.top_m >= levels[top]]
        if not inside:
            continue
        depth = np.array([at.depth(held[k], top) / (crowns[k].top_m - crowns[k].base_m) for k in inside])
        total = depth.sum(axis=0)
        taken = left * -np.expm1(-total)
        shared = taken / np.maximum(total, _THIN)
        captured[inside] += depth.reshape(len(inside), -1) @ (shared * rays.weight[:, None]).ravel() / count
        left = left - taken
    return Light(captured, incoming, np.asarray(rays.weight @ left, dtype=np.float64), x, left)


def light_below(crowns: Sequence[Crown], width_m: float, rays: Rays) -> tuple[Floats, Floats]:
    """Light on the ground alone: places across, and what is left ray by ray, as `light_in` gives it.

    Who takes the light doesn't matter here, so each crown is crossed in one step instead of layer by layer.
    """
    x = _places(width_m)
    depth = np.zeros((len(rays.weight), len(x)))
    for crown in crowns:
        at = _Columns(x, np.array([crown.base_m, crown.top_m]), rays, _columns(width_m), width_m)
        depth += at.depth(at.sums(_running_sum(crown, width_m)), 1) / (crown.top_m - crown.base_m)
    return x, np.exp(-depth)


def taken_alone(crown: Crown, width_m: float, rays: Rays) -> float:
    """Share of the light that crowns of one kind take where nothing else stands, as `light_in` gives it.

    Nothing is shared then, so the crowns are crossed in one step instead of layer by layer.
    """
    _, left = light_below((crown,), width_m, rays)
    return float(rays.weight @ (1.0 - left).mean(axis=1))


def _mean(left: Floats, density: Floats, weight: Floats) -> float:
    total = float(weight @ density.sum(axis=1))
    return float(weight @ (left * density).sum(axis=1)) / total if total > 0 else 1.0


def _places(width_m: float) -> Floats:
    """Places across at which the light on the ground is looked at."""
    count = int(np.clip(np.ceil(width_m / _GROUND_M), 12, 120))
    return np.asarray((np.arange(count) + 0.5) * width_m / count, dtype=np.float64)


def _columns(width_m: float) -> int:
    return int(np.ceil(width_m / _COLUMN_M))


def _levels(crowns: Sequence[Crown]) -> Floats:
    """Heights between which no crown begins or ends; thick layers are divided, so that neighbours share light fairly."""
    edges = sorted({0.0, *(c.base_m for c in crowns), *(c.top_m for c in crowns)})
    thick = max(_THICK_M, edges[-1] / _LAYERS)
    parts = [np.linspace(a, b, int(np.ceil((b - a) / thick)) + 1)[:-1] for a, b in pairwise(edges)]
    return np.append(np.concatenate(parts), edges[-1])


@lru_cache(maxsize=4096)
def _running_sum(crown: Crown, width_m: float) -> Floats:
    """Integral of the crown's depth from straight above (share of light put in its way) from 0 to each column's edge."""
    columns = _columns(width_m)
    edge = np.linspace(0.0, width_m, columns + 1)
    total = np.zeros(columns + 1)
    images = int(np.ceil(crown.radius_m / width_m)) + 1
    for x, spacing in zip(crown.x_m, crown.spacing_m, strict=True):
        for image in range(-images, images + 1):
            half = _half_disc(edge - (x % width_m) - image * width_m, crown.radius_m)
            total += 2 / spacing * (half - half[0])
    return crown.opacity * total


def _half_disc(u: Floats, radius: float) -> Floats:
    """Integral of sqrt(R^2 - u^2) from -R to u."""
    v = np.clip(u, -radius, radius)
    area = (v * np.sqrt(np.maximum(radius**2 - v**2, 0.0)) + radius**2 * np.arcsin(v / radius)) / 2
    return np.asarray(area + np.pi * radius**2 / 4, dtype=np.float64)


class _Columns:
    """Where each ray that ends at each place of the ground crosses each level."""

    def __init__(self, x: Floats, levels: Floats, rays: Rays, columns: int, width_m: float) -> None:
        self.shift = np.where(np.abs(rays.shift) < 1e-6, 1e-6, rays.shift)
        self.path = rays.path
        place = (x[None, None, :] - self.shift[None, :, None] * levels[:, None, None]) / width_m
        self.turns = np.floor(place)
        exact = (place - self.turns) * columns
        self.column: Ints = np.minimum(exact.astype(np.int64), columns - 1)
        self.part = exact - self.column
        self.column_m = width_m / columns

    def sums(self, total: Floats) -> Floats:
        """Read a running sum at every crossing: shape (levels, rays, places)."""
        step = np.diff(total)
        return np.asarray(self.turns * total[-1] + total[self.column] + self.part * step[self.column], dtype=np.float64)

    def depth(self, held: Floats, top: int) -> Floats:
        """Depth that a kind puts into the way of each ray in the layer under level `top`, times the crown's height."""
        fall = (held[top - 1] - held[top]) / self.shift[:, None]
        return np.asarray(np.maximum(fall, 0.0) * self.path[:, None], dtype=np.float64)

    def density(self, total: Floats, level: int) -> Floats:
        """Depth of a kind from straight above where each ray crosses a level."""
        return np.asarray(np.diff(total)[self.column[level]] / self.column_m, dtype=np.float64)
