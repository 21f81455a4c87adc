"""The calendar: earliest, likely and latest days of every task, by bed and summed up by planting."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from geoagro.season.clock import Clock, Days
from geoagro.season.crops import SeasonCrop
from geoagro.season.husbandry.task_cautions import task_caution
from geoagro.season.records.tables import BED_TASKS, CALENDAR, SPELLS
from geoagro.season.schedule import NEVER, Schedule, wanted_days
from geoagro.season.tasks import Tasks
from geoagro.values.season import TASKS


def dated_tasks(tasks: Tasks, plan: Schedule, late: Days) -> pd.DataFrame:
    """Add earliest, begin, end, latest (day numbers) and late_days to the tasks."""
    earliest, latest = wanted_days(tasks)
    return tasks.frame.assign(earliest=earliest, latest=latest, begin=plan.begin, end=plan.end, late_days=late)


def bed_calendar(dated: pd.DataFrame, clock: Clock) -> pd.DataFrame:
    """Table BED_TASKS: every task on every bed, in walking order and then in time."""
    frame = dated[dated["walk"] >= 0].sort_values(["walk", "earliest", "order"])
    return BED_TASKS.frame(_dates(frame, clock) | {k: frame[k] for k in _BED_KEYS})


def planting_calendar(
    dated: pd.DataFrame, crops: Mapping[str, SeasonCrop], clock: Clock, *, machine: bool = False
) -> pd.DataFrame:
    """Table CALENDAR: the same tasks, all beds of a planting and round together, each with its caution."""
    kind = pd.Categorical(dated["task"], TASKS)
    frame = dated.assign(task=kind, reached=dated["end"].where(dated["end"] != NEVER), undone=dated["end"] == NEVER)
    frame["begun"] = frame["begin"].where(frame["begin"] != NEVER)
    groups = frame.groupby(_KEYS, observed=True, sort=False, as_index=False).agg(
        beds=("bed", "nunique"),
        places=("places", "sum"),
        earliest=("earliest", "min"),
        begin=("begun", "min"),
        end=("reached", "max"),
        undone=("undone", "any"),
        latest=("latest", "max"),
        hours=("hours", "sum"),
        late_days=("late_days", "max"),
    )
    groups[["begin", "end"]] = groups[["begin", "end"]].fillna(NEVER).astype(np.int64)
    groups.loc[groups["undone"], "end"] = NEVER
    groups = groups.sort_values(["earliest", "task", "planting", "crop", "planting_no", "round"], ignore_index=True)
    keys = {k: groups[k] for k in [*_KEYS, "beds", "places"]} | {"task": groups["task"].astype(str)}
    cautions = [
        task_caution(task, crops.get(code), machine=machine)
        for task, code in zip(keys["task"], groups["crop"], strict=True)
    ]
    return CALENDAR.frame(_dates(groups, clock) | keys | {"caution": cautions})


def work_spells(tasks: Tasks, plan: Schedule, clock: Clock) -> pd.DataFrame:
    """Table SPELLS: each task's days of work, days that follow each other together, so that no run is longer than its work."""
    given = tasks.frame[[*_KEYS, "hours"]].iloc[plan.task].reset_index(drop=True)
    given = given.assign(day=plan.day, hours=given["hours"].to_numpy(dtype=float) * plan.share)
    daily = given.groupby([*_KEYS, "day"], observed=True, as_index=False)["hours"].sum()
    same = daily[_KEYS].eq(daily[_KEYS].shift()).to_numpy().all(axis=1) & (daily["day"].diff() == 1)
    runs = daily.assign(run=(~same).cumsum()).groupby("run", sort=False)
    table = runs[_KEYS].first().assign(first=runs["day"].min(), last=runs["day"].max(), hours=runs["hours"].sum())
    table["spell"] = table.groupby(_KEYS, observed=True).cumcount() + 1
    table = table.sort_values(["first", *_KEYS], ignore_index=True)
    dates = {name: clock.dates(table[name]) for name in ("first", "last")}
    return SPELLS.frame({name: table[name] for name in SPELLS.columns} | dates)


_BED_KEYS = ["bed", "row", "task", "planting", "crop", "planting_no", "round"]
_KEYS = ["task", "planting", "crop", "bed_kind", "planting_no", "round"]


def _dates(frame: pd.DataFrame, clock: Clock) -> dict[str, Any]:
    return {
        "earliest": clock.dates(frame["earliest"]),
        "likely_from": _or_empty(frame["begin"].to_numpy(), clock),
        "likely_to": _or_empty(frame["end"].to_numpy(), clock),
        "latest": clock.dates(frame["latest"]),
        "hours": frame["hours"],
        "late_days": frame["late_days"],
    }


def _or_empty(days: Days, clock: Clock) -> NDArray[np.datetime64]:
    return np.where(days == NEVER, np.datetime64("NaT"), clock.dates(np.where(days == NEVER, 0, days)))
