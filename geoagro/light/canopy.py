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
from geoagro.light.ray_loops import Fan, cross, cross_layers, fill_sum
from geoagro.light.rays import Rays

_COLUMN_M = 0.05
_GROUND_M = 0.25
_THICK_M = 1.0
_LAYERS = 12
_STRAIGHT = 1e-6


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
    left = np.ones((len(rays.weight), len(x)))
    if not crowns:
        return Light(np.zeros(0), np.zeros(0), np.ones(len(x)), x, left)
    base, top = _heights(crowns)
    levels = _levels(crowns)
    inside = (base < levels[:, None]) & (top >= levels[:, None])
    begins: Ints = np.searchsorted(levels, top)
    captured, reached, weighed = np.zeros((3, len(crowns)))
    out = (left, captured, reached, weighed)
    cross_layers(_fan(rays, x, width_m), width_m, _sums(crowns, width_m), top - base, levels, inside, begins, out)
    incoming = np.divide(reached, weighed, out=np.ones(len(crowns)), where=weighed > 0)
    return Light(captured, incoming, np.asarray(rays.weight @ left, dtype=np.float64), x, left)


def light_below(crowns: Sequence[Crown], width_m: float, rays: Rays) -> tuple[Floats, Floats]:
    """Light on the ground alone: places across, and what is left ray by ray, as `light_in` gives it.

    Who takes the light doesn't matter here, so each crown is crossed in one step instead of layer by layer.
    """
    x = _places(width_m)
    left = np.ones((len(rays.weight), len(x)))
    if crowns:
        cross(_fan(rays, x, width_m), width_m, _sums(crowns, width_m), *_heights(crowns), left)
    return x, left


def taken_alone(crown: Crown, width_m: float, rays: Rays) -> float:
    """Share of the light that crowns of one kind take where nothing else stands, as `light_in` gives it.

    Nothing is shared then, so the crowns are crossed in one step instead of layer by layer.
    """
    _, left = light_below((crown,), width_m, rays)
    return float(rays.weight @ (1.0 - left).mean(axis=1))


def _fan(rays: Rays, x: Floats, width_m: float) -> Fan:
    """Rays and the places where they end; none falls quite straight, so that every shift can be divided by."""
    return np.where(np.abs(rays.shift) < _STRAIGHT, _STRAIGHT, rays.shift), rays.path, rays.weight, x / width_m


def _heights(crowns: Sequence[Crown]) -> tuple[Floats, Floats]:
    return np.array([crown.base_m for crown in crowns]), np.array([crown.top_m for crown in crowns])


def _sums(crowns: Sequence[Crown], width_m: float) -> Floats:
    return np.array([_running_sum(crown, width_m) for crown in crowns])


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
    total = np.zeros(_columns(width_m) + 1)
    fill_sum(
        np.array(crown.x_m) % width_m, width_m, crown.radius_m, 2 * crown.opacity / np.array(crown.spacing_m), total
    )
    return total
