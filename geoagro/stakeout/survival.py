"""How many plants live: shares with their interval, from a full count or from sample plots."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtri, stdtrit

from geoagro.arrays import Floats
from geoagro.errors import LayoutError
from geoagro.stakeout.records.as_built import SampleSize
from geoagro.values.words import Sentence, say

CONFIDENCE = 0.95


@dataclass(frozen=True)
class Interval:
    """A share with its interval, and how it was found."""

    share: float
    low: float
    high: float
    method: str


def wilson(alive: int, counted: float, *, quantile: float | None = None) -> tuple[float, float]:
    """Score interval of a share after Wilson (1927), J. Am. Stat. Assoc. 22, 209-212.

    `counted` may be an effective number; `quantile` is 1.96 for 95 % unless another is given.

    >>> [round(v, 4) for v in wilson(81, 263)]
    [0.2553, 0.3662]
    """
    z = ndtri(0.5 + CONFIDENCE / 2) if quantile is None else quantile
    share = alive / counted
    middle = (share + z**2 / (2 * counted)) / (1 + z**2 / counted)
    half = z / (1 + z**2 / counted) * np.sqrt(share * (1 - share) / counted + z**2 / (4 * counted**2))
    return float(max(middle - half, 0.0)), float(min(middle + half, 1.0))


def from_count(alive: int, counted: int) -> Interval:
    """Share and interval from plants looked at one by one; unknown where none was."""
    if counted == 0:
        return Interval(np.nan, np.nan, np.nan, say("none surveyed"))
    low, high = wilson(alive, counted)
    return Interval(alive / counted, low, high, say("count of all, Wilson 1927"))


def from_plots(alive: Floats, counted: Floats) -> Interval:
    """Share and interval from plots (one entry each): plants of a plot share its luck, so they tell less.

    The share is the ratio of sums; its variance is that of a ratio over clusters (Cochran 1977, Sampling
    Techniques, section 9.5, from memory). The interval is Wilson's with the number of plants divided by the
    design effect (never below 1) and Student's t for plots less one.
    """
    alive, counted = np.asarray(alive, dtype=float), np.asarray(counted, dtype=float)
    alive, counted = alive[counted > 0], counted[counted > 0]
    plots, total = len(counted), float(counted.sum())
    if plots < 2:
        return Interval(
            alive.sum() / total if total else np.nan,
            np.nan,
            np.nan,
            say("fewer than two plots with plants: no interval"),
        )
    share = float(alive.sum() / total)
    variance = plots / (plots - 1) * float(((alive - share * counted) ** 2).sum()) / total**2
    simple = share * (1 - share) / total
    effect = max(variance / simple, 1.0) if simple > 0 else 1.0
    quantile = float(stdtrit(plots - 1, 0.5 + CONFIDENCE / 2))
    low, high = wilson(share * total / effect, total / effect, quantile=quantile)  # type: ignore[arg-type]
    method = Sentence("{plots} {plots:plot|plots}, Wilson with design effect {effect:.2f}", plots=plots, effect=effect)
    return Interval(share, low, high, method)


def sample_size(
    plants: int, *, expected: float, precision: float, plants_per_plot: float, correlation: float
) -> SampleSize:
    """Plants and plots needed so that the interval is about `precision` either way.

    n = z^2 p (1 - p) / d^2, then n / (1 + (n - 1) / N) for a field of N plants, times the design effect
    1 + (m - 1) rho of plots with m plants whose fates correlate by rho (Kish 1965, from memory).

    Parameters
    ----------
    plants
        Plants in the field, N.
    expected
        Expected survival, p; 0.5 is the safe choice.
    precision
        Half of the interval's width, d.
    correlation
        rho; 0 where neighbours die independently.

    Raises LayoutError where there are no plants or a share lies outside its range.
    """
    if plants < 1 or plants_per_plot <= 0:
        raise LayoutError(
            "There are no plants to sample. Give `plantings` in the design file and run `geoagro layout`."
        )
    for name, value in (("expected", expected), ("precision", precision)):
        if not 0 < value < 1:
            raise LayoutError(f"{name} is {value:g}; it must lie between 0 and 1, e.g. 0.8 and 0.05.")
    z = float(ndtri(0.5 + CONFIDENCE / 2))
    wanted = z**2 * expected * (1 - expected) / precision**2
    wanted = wanted / (1 + (wanted - 1) / plants)
    effect = 1 + max(plants_per_plot - 1, 0.0) * correlation
    counted = min(wanted * effect, plants)
    plots = max(int(np.ceil(counted / plants_per_plot - 1e-9)), 2)
    return SampleSize(int(np.ceil(wanted - 1e-9)), effect, plots, plants_per_plot)
