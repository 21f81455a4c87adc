"""Uncertainty by simulation: many runs with yields, prices and labour drawn from their ranges, all at once.

Each crop's yield and price have a part that lasts through all years of a run (the site, the hands, the market; `lasting` of
the rule) and a part that is drawn anew for each year; one labour factor is drawn per run. Yields of one year move together
(weather), and so do their lasting parts, with the correlation of the rule, through a Gaussian copula; prices and labour
are drawn on their own. Without the lasting part many years would even each other out, and a plan look far too safe. PERT is the beta distribution on [low, high] with mean
(low + 4 likely + high) / 6 (Malcolm et al. 1959, Operations Research 7).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.special import betaincinv, ndtr

from geoagro.arrays import Floats
from geoagro.values.season import Range, Simulation

Shape = Literal["triangular", "pert"]


def quantile(u: Floats, span: Range, shape: Shape) -> Floats:
    """Value of the distribution below which the share `u` (0 to 1) lies.

    >>> float(quantile(np.array(0.5), Range(low=0, likely=1, high=2), "triangular"))
    1.0
    """
    low, likely, high = span.values
    if high == low:
        return np.full_like(u, low)
    if shape == "triangular":
        return _triangular(u, low, likely, high)
    a = 1 + 4 * (likely - low) / (high - low)
    b = 1 + 4 * (high - likely) / (high - low)
    return np.asarray(low + (high - low) * betaincinv(a, b, u), dtype=float)


def mean(span: Range, shape: Shape) -> float:
    """Mean of the distribution."""
    low, likely, high = span.values
    return (low + likely + high) / 3 if shape == "triangular" else (low + 4 * likely + high) / 6


def _triangular(u: Floats, low: float, likely: float, high: float) -> Floats:
    width = high - low
    rising = low + np.sqrt(u * width * (likely - low))
    falling = high - np.sqrt((1 - u) * width * (high - likely))
    return np.where(u * width < likely - low, rising, falling)


@dataclass(frozen=True, eq=False)
class Stakes:
    """What the draws act on: sales per unit of yield, and costs, by month.

    Attributes
    ----------
    sold_places
        Crops x months: places x share of the full yield x share sold.
    yields, prices
        Ranges per crop.
    year
        Year of the plan of each month, from 1.
    labour, other
        Cost by month: of labour at factor 1, and of everything else.
    labour_range
        Range of the labour factor.
    """

    sold_places: Floats
    yields: list[Range]
    prices: list[Range]
    year: NDArray[np.int64]
    labour: Floats
    other: Floats
    labour_range: Range


def simulate(stakes: Stakes, rule: Simulation) -> Floats:
    """Net flows, runs x months."""
    draw = np.random.default_rng(rule.seed)
    runs, years = rule.runs, int(stakes.year.max())
    yields = _correlated(draw, stakes.yields, (runs, years), rule)
    prices = _independent(draw, stakes.prices, (runs, years), rule)
    factor = quantile(draw.random(runs), stakes.labour_range, rule.shape)
    income = np.empty((runs, len(stakes.year)))
    for year in range(1, years + 1):
        months = stakes.year == year
        worth = yields[:, :, year - 1] * prices[:, :, year - 1]
        income[:, months] = worth.T @ stakes.sold_places[:, months]
    return np.asarray(income - factor[:, None] * stakes.labour - stakes.other, dtype=float)


def _correlated(draw: np.random.Generator, spans: list[Range], size: tuple[int, int], rule: Simulation) -> Floats:
    """Draws, crops x runs x years, that share a common part."""
    z = _lasting(draw, len(spans), size, rule, shared=rule.correlation)
    return _values(ndtr(z), spans, rule)


def _independent(draw: np.random.Generator, spans: list[Range], size: tuple[int, int], rule: Simulation) -> Floats:
    return _values(ndtr(_lasting(draw, len(spans), size, rule, shared=0.0)), spans, rule)


def _lasting(
    draw: np.random.Generator, count: int, size: tuple[int, int], rule: Simulation, *, shared: float
) -> Floats:
    """Draw standard normals, crops x runs x years: `rule.lasting` of the variance stays through the years of a run.

    `shared` is the correlation between crops, of the lasting part and of that of each year.
    """
    runs, years = size

    def part(length: int) -> Floats:
        common = draw.standard_normal((runs, length))
        own = draw.standard_normal((count, runs, length))
        return np.asarray(np.sqrt(shared) * common + np.sqrt(1 - shared) * own, dtype=float)

    return np.asarray(np.sqrt(rule.lasting) * part(1) + np.sqrt(1 - rule.lasting) * part(years), dtype=float)


def _values(u: Floats, spans: list[Range], rule: Simulation) -> Floats:
    if not spans:
        return u
    return np.stack([quantile(part, span, rule.shape) for part, span in zip(u, spans, strict=True)])
