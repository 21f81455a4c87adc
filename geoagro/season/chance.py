"""Uncertainty by simulation: many runs with yields, prices and labour drawn from their ranges, all at once.

Each crop's yield is drawn anew for each year of the plan, and so is its price; one labour factor is drawn per
run. Yields of one year move together (weather) with the correlation of the rule, through a one-factor Gaussian
copula; prices and labour are drawn on their own. PERT is the beta distribution on [low, high] with mean
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
    common = draw.standard_normal(size)
    own = draw.standard_normal((len(spans), *size))
    u = ndtr(np.sqrt(rule.correlation) * common + np.sqrt(1 - rule.correlation) * own)
    return _values(u, spans, rule)


def _independent(draw: np.random.Generator, spans: list[Range], size: tuple[int, int], rule: Simulation) -> Floats:
    return _values(draw.random((len(spans), *size)), spans, rule)


def _values(u: Floats, spans: list[Range], rule: Simulation) -> Floats:
    if not spans:
        return u
    return np.stack([quantile(part, span, rule.shape) for part, span in zip(u, spans, strict=True)])
