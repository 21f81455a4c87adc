"""Days on which a crop may be planted, and where the wanted days break the rule."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from geoagro.arrays import Bools
from geoagro.errors import DesignError
from geoagro.season.clock import Clock, Days
from geoagro.season.crops import SeasonCrop
from geoagro.values.season import Window
from geoagro.values.words import Sentence


@dataclass(frozen=True, eq=False)
class PlantingDays:
    """For each crop the row of `allowed` (one flag per day of the plan) that holds for planting it."""

    clock: Clock
    group: dict[str, int]
    allowed: Bools  # groups x days
    frost: dict[str, Bools]  # per tender crop: days of frost
    cold: Bools | None = None  # days of any window of frost, whatever stands; None where there is none

    def next_allowed(self, group: Days, day: Days) -> Days:
        """First day from `day` on when planting is allowed; after the last day of the plan where there is none."""
        table = _next_true(self.allowed)
        column = np.clip(day - self.clock.first, 0, self.allowed.shape[1])
        return np.asarray(table[group, column] + self.clock.first, dtype=np.int64)

    def last_allowed(self, group: Days, day: Days) -> Days:
        """Last day up to `day` when planting is allowed; before the first day of the plan where there is none."""
        mirrored = _next_true(self.allowed[:, ::-1])
        size = self.allowed.shape[1]
        column = np.clip(size - 1 - (day - self.clock.first), 0, size)
        return np.asarray(size - 1 - mirrored[group, column] + self.clock.first, dtype=np.int64)


def planting_days(crops: dict[str, SeasonCrop], windows: tuple[Window, ...], clock: Clock) -> PlantingDays:
    """Work out the allowed days of every crop.

    Raises DesignError where a window names a crop that isn't planted or leaves a crop no day at all.
    """
    for window in windows:
        lost = sorted(set(window.crops) - set(crops))
        if lost:
            raise DesignError(f"season.windows '{window.name}' names {', '.join(lost)}, which isn't planted here.")
    rows = np.array([_allowed(crop, windows, clock) for crop in crops.values()])
    for code, row in zip(crops, rows, strict=True):
        if not row.any():
            raise DesignError(f"season.windows leave no day to plant {code}; widen the rains or shorten the frost.")
    unique, group = np.unique(rows, axis=0, return_inverse=True)
    frost = {
        code: np.any([_inside(w, clock) for w in windows if w.kind == "frost" and _holds(w, crop)], axis=0)
        for code, crop in crops.items()
        if any(w.kind == "frost" and _holds(w, crop) for w in windows)
    }
    cold = [_inside(window, clock) for window in windows if window.kind == "frost"]
    groups = {code: int(g) for code, g in zip(crops, group.ravel(), strict=True)}
    return PlantingDays(clock, groups, unique, frost, np.any(cold, axis=0) if cold else None)


def outside_text(window: Window) -> Sentence:
    """Put a window in words, for messages."""
    told = {"name": Sentence.of(window.name), "first": window.first, "last": window.last}
    if window.kind == "rains":
        return Sentence("outside '{name}' ({first} to {last})", **told)
    return Sentence("inside '{name}' ({first} to {last})", **told)


def breaks(crop: SeasonCrop, windows: tuple[Window, ...], clock: Clock, day: int) -> list[Window]:
    """Windows that planting this crop on this day would break."""
    found = []
    for window in windows:
        inside = bool(_inside(window, clock)[day - clock.first])
        if _holds(window, crop) and inside == (window.kind == "frost"):
            found.append(window)
    return found


def _holds(window: Window, crop: SeasonCrop) -> bool:
    if window.crops:
        return crop.code in window.crops
    return window.kind == "rains" or crop.frost_tender


def _allowed(crop: SeasonCrop, windows: tuple[Window, ...], clock: Clock) -> Bools:
    """Inside any of the rains (if any holds) and outside every frost."""
    rains = [_inside(w, clock) for w in windows if w.kind == "rains" and _holds(w, crop)]
    frost = [_inside(w, clock) for w in windows if w.kind == "frost" and _holds(w, crop)]
    everywhere = np.ones(len(clock.days), dtype=bool)
    wet = np.any(rains, axis=0) if rains else everywhere
    return np.asarray(wet & ~(np.any(frost, axis=0) if frost else ~everywhere), dtype=bool)


def _inside(window: Window, clock: Clock) -> Bools:
    """Whether each day of the plan lies in the yearly window, which may pass over New Year."""
    dates: Any = clock.dates(clock.days)
    month_days = _month_day(dates)
    first, last = (100 * int(v[:2]) + int(v[3:]) for v in (window.first, window.last))
    if first <= last:
        return np.asarray((month_days >= first) & (month_days <= last), dtype=bool)
    return np.asarray((month_days >= first) | (month_days <= last), dtype=bool)


def _month_day(dates: NDArray[np.datetime64]) -> Days:
    months = dates.astype("datetime64[M]")
    day = (dates - months.astype("datetime64[D]")).astype(np.int64) + 1
    return np.asarray(100 * (months.astype(np.int64) % 12 + 1) + day, dtype=np.int64)


def _next_true(flags: Bools) -> Days:
    """Column of the first True at or after each column; one column more than `flags`, for 'past the end'."""
    rows, columns = flags.shape
    where = np.where(flags, np.arange(columns), columns)
    padded = np.concatenate([where, np.full((rows, 1), columns)], axis=1)
    return np.asarray(np.minimum.accumulate(padded[:, ::-1], axis=1)[:, ::-1], dtype=np.int64)
