"""How many hours the crew has each day, and how many people it takes for nothing to be late."""

from __future__ import annotations

import math
from datetime import date
from typing import Any

import numpy as np
from numpy.typing import NDArray

from geoagro.arrays import Floats
from geoagro.season.clock import WEEKDAYS, Clock
from geoagro.season.schedule import Schedule, level, wanted_days
from geoagro.season.tasks import Tasks
from geoagro.values.season import Crew

MOST_PEOPLE = 4096


def people_by_day(crew: Crew, clock: Clock, people: float) -> Floats:
    """People at work on each day of the plan: none on rest days and in pauses, more where helpers come."""
    dates: Any = clock.dates(clock.days)
    present = np.full(len(dates), float(people))
    for helpers in crew.helpers:
        present += helpers.people * _between(dates, helpers.first, helpers.last)
    working = np.isin(clock.weekday(), [WEEKDAYS.index(day) for day in crew.weekdays])
    for pause in crew.pauses:
        working &= ~_between(dates, pause.first, pause.last)
    return present * working


def level_with_crew(
    tasks: Tasks, crew: Crew, allowed: NDArray[np.bool_], clock: Clock
) -> tuple[float, Schedule, NDArray[np.int64]]:
    """Level the work with the crew asked for, or with the fewest people who are never late.

    Returns the people, the schedule and the days by which each task is late. Work that is late even with
    any number of people (a window shuts, a pause lies in the way) doesn't call for more of them.
    """

    def attempt(people: float) -> tuple[Schedule, NDArray[np.int64]]:
        hours = people_by_day(crew, clock, people) * crew.hours_per_day
        plan = level(tasks, hours, allowed, first=clock.first)
        return plan, late_days(tasks, plan, clock)

    if crew.people != "auto":
        return float(crew.people), *attempt(float(crew.people))
    best = attempt(MOST_PEOPLE)[1]
    low, high = 0, 1
    plan, late = attempt(high)
    while not _as_good(late, best) and high < MOST_PEOPLE:
        low, high = high, high * 2
        plan, late = attempt(high)
    while high - low > 1:
        middle = (low + high) // 2
        trial = attempt(middle)
        if _as_good(trial[1], best):
            high, (plan, late) = middle, trial
        else:
            low = middle
    return float(high), plan, late


def late_days(tasks: Tasks, plan: Schedule, clock: Clock) -> NDArray[np.int64]:
    """Days by which each task ends after its latest day; what isn't done counts to the end of the plan."""
    latest = wanted_days(tasks)[1]
    end = np.where(plan.undone, clock.last, plan.end)
    return np.asarray(np.maximum(end - latest, 0), dtype=np.int64)


def least_people(tasks: Tasks, people: Floats, hours_per_day: float, clock: Clock) -> int:
    """Fewest people by the interval bound: no span of days may hold more work than hours.

    For every span from one task's earliest day to another's latest day, the hours of all tasks that must be
    done inside it, divided by the hours of one person there. A lower bound; exact where tasks don't wait for
    each other (Horn 1974). `people` holds 1 for a working day and 0 for a rest day.
    """
    earliest, latest = wanted_days(tasks)
    hours = tasks.frame["hours"].to_numpy()
    room = np.concatenate([[0.0], np.cumsum(people * hours_per_day)])
    most = 0.0
    for start in np.unique(earliest):
        inside = earliest >= start
        ends, at = np.unique(latest[inside], return_inverse=True)
        work = np.cumsum(np.bincount(at, weights=hours[inside]))
        span = room[np.clip(ends + 1 - clock.first, 0, len(room) - 1)] - room[max(start - clock.first, 0)]
        real = (span > 0) & (ends <= clock.last)
        most = max(most, float(np.max(work[real] / span[real], initial=0.0)))
    return math.ceil(most - 1e-9)


def _as_good(late: NDArray[np.int64], best: NDArray[np.int64]) -> bool:
    return bool((late <= best).all())


def _between(dates: Any, first: date, last: date) -> NDArray[np.bool_]:
    return np.asarray((dates >= np.datetime64(first)) & (dates <= np.datetime64(last)), dtype=bool)
