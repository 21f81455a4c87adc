"""Days as whole numbers counted from the start of the plan, and back to dates."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import ArrayLike, NDArray

Days = NDArray[np.int64]
WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")


@dataclass(frozen=True)
class Clock:
    """Day 0 is `start`; `first` (not above 0) and `last` bound the plan, both included."""

    start: date
    first: int
    last: int

    @property
    def days(self) -> Days:
        """Every day of the plan."""
        return np.arange(self.first, self.last + 1, dtype=np.int64)

    def dates(self, days: ArrayLike) -> NDArray[np.datetime64]:
        """Dates of days."""
        return np.datetime64(self.start, "D") + np.asarray(days, dtype=np.int64)

    def month_of(self, days: ArrayLike) -> Days:
        """Count months from that of the first day of the plan, which is 0."""
        months = self.dates(days).astype("datetime64[M]").astype(np.int64)
        return np.asarray(months - self._first_month, dtype=np.int64)

    @property
    def _first_month(self) -> int:
        return int(self.dates(self.first).astype("datetime64[M]").astype(np.int64))

    @property
    def months(self) -> NDArray[np.datetime64]:
        """First day of each month of the plan."""
        count = int(self.month_of(self.last)) + 1
        return (self._first_month + np.arange(count)).astype("datetime64[M]").astype("datetime64[D]")

    @property
    def start_month(self) -> int:
        """Number of the month that day 0 lies in."""
        return int(self.month_of(0))

    @property
    def year_of_month(self) -> Days:
        """Year of the plan for each month: 1 up to the twelfth month from the start on."""
        return np.maximum((np.arange(len(self.months)) - self.start_month) // 12, 0) + 1

    def weekday(self) -> Days:
        """Weekday of every day of the plan, 0 for Monday."""
        return np.asarray((self.dates(self.days).astype(np.int64) + 3) % 7, dtype=np.int64)


def last_day(start: date, years: int) -> int:
    """Day number of the last day of the last month of a plan of whole years.

    >>> last_day(date(2027, 3, 1), 1)
    365
    """
    end = (np.datetime64(start, "M") + 12 * years).astype("datetime64[D]")
    return int((end - np.datetime64(start, "D")).astype(np.int64)) - 1
