"""The load of each week: as wanted, as levelled, and what the crew can do."""

from __future__ import annotations

import numpy as np
import pandas as pd

from geoagro.arrays import Floats
from geoagro.season.clock import Clock
from geoagro.season.records.tables import WEEKS
from geoagro.season.schedule import Schedule, wanted_days
from geoagro.season.tasks import Tasks


def load_by_week(tasks: Tasks, plan: Schedule, present: Floats, hours_per_day: float, clock: Clock) -> pd.DataFrame:
    """Table WEEKS; weeks begin on Monday, the first and the last one may be cut by the plan."""
    wanted = wanted_by_day(tasks, clock)
    hours = tasks.frame["hours"].to_numpy()
    done = np.bincount(plan.day - clock.first, weights=plan.share * hours[plan.task], minlength=len(clock.days))
    week = (np.arange(len(clock.days)) + clock.weekday()[0]) // 7
    monday = clock.dates(clock.first - int(clock.weekday()[0])) + 7 * np.arange(int(week[-1]) + 1)
    by_week = [np.bincount(week, weights=values) / hours_per_day for values in (wanted, done, present * hours_per_day)]
    return WEEKS.frame(
        {"week": monday, "wanted": by_week[0], "person_days": by_week[1], "capacity": by_week[2]},
    )


def wanted_by_day(tasks: Tasks, clock: Clock) -> Floats:
    """Hours of each day if every task were done evenly from its earliest to its latest day, whoever is there."""
    earliest, latest = wanted_days(tasks)
    size = len(clock.days)
    first = np.clip(earliest - clock.first, 0, size)
    end = np.clip(latest + 1 - clock.first, 0, size)
    rate = tasks.frame["hours"].to_numpy() / (latest - earliest + 1)
    change = np.bincount(first, weights=rate, minlength=size + 1) - np.bincount(end, weights=rate, minlength=size + 1)
    return np.asarray(np.maximum(np.cumsum(change)[:size], 0.0), dtype=float)
