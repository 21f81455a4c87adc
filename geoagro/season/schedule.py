"""Levelling: work is given to days so that nobody is asked for more hours than the crew has.

Each day the crew takes the most urgent of the tasks that may be done (earliest latest day first; equally urgent
ones in walking order), works on it as long as hours are left, and goes on with it the next day. A task is laid
aside when a more urgent one becomes ready. For one crew this rule keeps the largest lateness as small as it can
be (W. A. Horn 1974, "Some simple scheduling algorithms", Naval Research Logistics Quarterly 21), as long as no
weather window holds tasks back; tests compare it with an exact solution.
"""

from __future__ import annotations

import heapq
from collections import defaultdict
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from geoagro.arrays import Floats
from geoagro.season.clock import Days
from geoagro.season.tasks import Tasks

NEVER = -(10**9)
_FIRM = ("nursery", "prepare", "plant")
"""Tasks whose latest day stays where it is; that of the others moves with the planting they follow."""

_EPS = 1e-9


@dataclass(frozen=True, eq=False)
class Schedule:
    """What is done when.

    `begin` and `end` hold the first and last day of each task, NEVER where it isn't reached within the plan.
    `task`, `day`, `share` list which share of a task is done on which day.
    """

    begin: Days
    end: Days
    task: Days
    day: Days
    share: Floats

    @property
    def undone(self) -> NDArray[np.bool_]:
        """Tasks that aren't finished within the plan."""
        return np.asarray(self.end == NEVER, dtype=bool)


def level(tasks: Tasks, capacity: Floats, allowed: NDArray[np.bool_], *, first: int) -> Schedule:
    """Give tasks to days.

    Parameters
    ----------
    capacity
        Hours that the crew has on each day of the plan; infinite for no limit.
    allowed
        Groups x days: whether tasks of a group may be done.
    first
        Day number of the first day.
    """
    return _Crew(tasks, allowed, first).work(capacity)


class _Crew:
    """The state of the work from day to day."""

    def __init__(self, tasks: Tasks, allowed: NDArray[np.bool_], first: int) -> None:
        frame = tasks.frame
        self.first, self.allowed = first, allowed
        self.size = len(frame)
        self.hours: list[float] = frame["hours"].tolist()
        self.left: list[float] = list(self.hours)
        self.slack: list[int] = frame["slack"].tolist()
        self.firm: list[bool] = frame["task"].isin(_FIRM).tolist()
        self.release: list[int] = frame["release"].tolist()
        self.rank: list[int] = frame["order"].tolist()
        self.group: list[int] = frame["group"].tolist()
        self.ready: list[int] = frame["release"].tolist()
        self.waits: list[int] = np.bincount(tasks.after, minlength=self.size).tolist()
        self.followers = _followers(tasks)
        self.heaps: dict[int, list[tuple[int, int, int]]] = defaultdict(list)
        self.begin = [NEVER] * self.size
        self.end = [NEVER] * self.size
        self.given: list[tuple[int, int, float]] = []
        self.coming: dict[int, list[int]] = defaultdict(list)
        for task in range(self.size):
            if self.waits[task] == 0:
                self.coming[max(self.ready[task], first)].append(task)

    def work(self, capacity: Floats) -> Schedule:
        for column, hours in enumerate(capacity.tolist()):
            today = self.first + column
            for ready in self.coming.pop(today, ()):
                self._offer(ready)
            if hours > _EPS:
                self._day(today, hours, column)
        given = np.array(self.given, dtype=float).reshape(-1, 3)
        whole = given[:, :2].astype(np.int64)
        begin, end = np.array(self.begin, dtype=np.int64), np.array(self.end, dtype=np.int64)
        return Schedule(begin, end, whole[:, 0], whole[:, 1], given[:, 2])

    def _day(self, today: int, room: float, column: int) -> None:
        open_groups = [g for g in self.heaps if g < 0 or self.allowed[g, column]]
        while room > _EPS:
            tops = [self.heaps[g][0] for g in open_groups if self.heaps[g]]
            if not tops:
                return
            task = min(tops)[2]
            done = min(self.left[task], room)
            room -= done
            self._record(task, today, done)
            if self.left[task] <= _EPS:
                heapq.heappop(self.heaps[self.group[task]])
                self.end[task] = today
                self._release_followers(task, today)
                open_groups = [g for g in self.heaps if g < 0 or self.allowed[g, column]]

    def _record(self, task: int, today: int, done: float) -> None:
        total = self.hours[task]
        self.given.append((task, today, done / total if total > 0 else 1.0))
        self.left[task] -= done
        if self.begin[task] == NEVER:
            self.begin[task] = today

    def _release_followers(self, task: int, today: int) -> None:
        for follower, offset in self.followers.get(task, ()):
            self.ready[follower] = max(self.ready[follower], today + offset)
            self.waits[follower] -= 1
            if self.waits[follower] == 0:
                if self.ready[follower] <= today:
                    self._offer(follower)
                else:
                    self.coming[self.ready[follower]].append(follower)

    def _offer(self, task: int) -> None:
        since = self.release[task] if self.firm[task] else self.ready[task]
        heapq.heappush(self.heaps[self.group[task]], (since + self.slack[task], self.rank[task], task))


def _followers(tasks: Tasks) -> dict[int, list[tuple[int, int]]]:
    result: dict[int, list[tuple[int, int]]] = defaultdict(list)
    for before, after, offset in zip(tasks.before.tolist(), tasks.after.tolist(), tasks.offset.tolist(), strict=True):
        result[before].append((after, offset))
    return result


def wanted_days(tasks: Tasks) -> tuple[Days, Days]:
    """Earliest and latest day of each task if everything before it is done as early, or as late, as allowed."""
    frame: pd.DataFrame = tasks.frame
    slack = frame["slack"].to_numpy(dtype=np.int64)
    earliest = frame["release"].to_numpy(dtype=np.int64).copy()
    latest = earliest + slack
    moves = ~frame["task"].isin(_FIRM).to_numpy()[tasks.after]
    before, after, offset = tasks.before[moves], tasks.after[moves], tasks.offset[moves]
    np.maximum.at(earliest, after, earliest[before] + offset)
    np.maximum.at(latest, after, latest[before] + offset + slack[after])
    return earliest, latest
