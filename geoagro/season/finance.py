"""Worth of a row of payments: net present value, internal rate of return, break-even."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import brentq

from geoagro.arrays import Floats


def monthly_rate(yearly: float) -> float:
    """Monthly rate with the same effect over a year.

    >>> round(monthly_rate(0.12682503), 6)
    0.01
    """
    return float((1 + yearly) ** (1 / 12) - 1)


def net_present_value(flows: ArrayLike, yearly_rate: float) -> Floats:
    """Sum of monthly flows discounted to the first month (which isn't discounted); the last axis is time.

    One product for thousands of simulated plans; the library of finance that the tests hold it against takes one plan at
    a time.
    """
    money = np.asarray(flows, dtype=float)
    factors = (1 + monthly_rate(yearly_rate)) ** -np.arange(money.shape[-1])
    return np.asarray(money @ factors)


HIGHEST_RATE = 1e60
"""Yearly rates are sought up to here: absurd ones too, so that None means that there is none."""


def internal_rate(flows: ArrayLike) -> float | None:
    """Yearly rate at which the net present value is nought; None where there is none or more than one.

    Where the flows change sign once the rate is unique (Descartes' rule of signs). Where only their running sum does,
    from below nought to above, just one rate above nought exists (C. J. Norstrom 1972, "A sufficient condition for
    a unique nonnegative internal rate of return"), and that one is given.
    """
    money = np.asarray(flows, dtype=float)
    balance = np.cumsum(money)
    if sign_changes(money) == 1:
        low = -1 + 1e-9
    elif sign_changes(balance) == 1 and balance[-1] > 0:
        low = 0.0
    else:
        return None
    return _root(money, low)


def _root(flows: Floats, low: float) -> float | None:
    """Find the one rate above `low` at which the net present value changes sign, on a scale of logarithms.

    Brent's method looks only there and takes about a millisecond. Choosing among all roots of the polynomial, as the
    library of finance does that the tests hold it against, took four seconds over forty years of months, and may choose one below
    nought.
    """

    def worth(growth: float) -> float:
        return float(net_present_value(flows, np.expm1(growth)))

    ends = np.log1p(low), np.log1p(HIGHEST_RATE)
    below, above = (np.sign(worth(end)) for end in ends)
    if below == above:
        return None
    return float(np.expm1(brentq(worth, *ends, xtol=1e-13)))


def sign_changes(values: ArrayLike) -> int:
    """How often a row of numbers changes sign, zeros left out."""
    signs = np.sign(values)
    signs = signs[signs != 0]
    return int(np.count_nonzero(np.diff(signs)))


def break_even(balance: Floats) -> NDArray[np.int64]:
    """First month from which the balance stays at or above nought to the end; -1 where it never does.

    The last axis is time. A plan that is never below nought breaks even in month 0.

    >>> break_even([[-5, -1, 2, -1, 3, 4], [-1, -1, -1, -1, -1, -1]])
    array([ 4, -1])
    """
    below = np.asarray(balance, dtype=float) < -1e-9
    size = below.shape[-1]
    last = np.where(below.any(axis=-1), size - 1 - np.argmax(below[..., ::-1], axis=-1), -1)
    return np.asarray(np.where(last == size - 1, -1, last + 1), dtype=np.int64)
