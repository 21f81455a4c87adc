"""Work on trees over the years: pruning, cutting to the stump, felling, and replacing what has died."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from geoagro.arrays import Floats
from geoagro.season.clock import Clock, Days
from geoagro.season.crops import SeasonCrop
from geoagro.season.task_frame import task_frame

PRUNE_SLACK_DAYS = 30
FELL_SLACK_DAYS = 60
YEAR_DAYS = 365.25


def prune_tasks(lots: pd.DataFrame, crops: dict[str, SeasonCrop], clock: Clock) -> pd.DataFrame:
    """Prune in the weeks of the timeline; hours grow with the side view of the plant."""
    each, day, number = dated(lots, "prunings", clock)
    offset = day - each["plant_day"].to_numpy(dtype=np.int64)
    hours = each["places"].to_numpy() * _of(each, crops, "prune_h") * size_at(offset, each, crops) ** 2
    return task_frame(
        "prune", each, round=number, hours=hours, release=day, slack=PRUNE_SLACK_DAYS, link="lot", offset=offset
    )


def fell_tasks(lots: pd.DataFrame, crops: dict[str, SeasonCrop], clock: Clock) -> pd.DataFrame:
    """Fell trees that go before the plan ends, and cut coppice to the stump; hours grow with the square of the height.

    Trees whose felling is their harvest are felled there.
    """
    return pd.concat([_removals(lots, crops, clock), _coppicings(lots, crops, clock)], ignore_index=True)


def _removals(lots: pd.DataFrame, crops: dict[str, SeasonCrop], clock: Clock) -> pd.DataFrame:
    trees = lots[_of(lots, crops, "is_tree").astype(bool) & (lots["to_day"] < clock.last)]
    reaped = _of(trees, crops, "felled_at_harvest").astype(bool) & (trees["from_day"] <= trees["to_day"]).to_numpy()
    gone = trees[~reaped]
    age = (gone["to_day"] - gone["plant_day"]).to_numpy(dtype=np.int64)
    hours = gone["places"].to_numpy() * _of(gone, crops, "fell_h") * size_at(age, gone, crops) ** 2
    step = gone.groupby(["planting", "crop"])["to_day"].rank(method="dense").to_numpy().astype(np.int64)
    return task_frame(
        "fell", gone, round=step, hours=hours, release=gone["to_day"], slack=FELL_SLACK_DAYS, link="lot", offset=age
    )


def _coppicings(lots: pd.DataFrame, crops: dict[str, SeasonCrop], clock: Clock) -> pd.DataFrame:
    each, day, number = dated(lots, "coppicings", clock)
    offset = day - each["plant_day"].to_numpy(dtype=np.int64)
    since = np.where(number > 1, offset / np.maximum(number, 1), offset)
    hours = each["places"].to_numpy() * _of(each, crops, "fell_h") * size_at(since, each, crops) ** 2
    return task_frame(
        "fell", each, round=number, hours=hours, release=day, slack=FELL_SLACK_DAYS, link="lot", offset=offset
    )


def replacements(lots: pd.DataFrame, crops: dict[str, SeasonCrop], clock: Clock) -> pd.DataFrame:
    """Lots with the places that are planted again, a whole number of years after the first planting.

    Whole plants: along the beds in walking order the sum of what died is rounded, so that no bed's share is lost.
    """
    parts = []
    for code, part in lots.groupby("crop", sort=False):
        for year, share in enumerate(crops[str(code)].deaths, 1):
            later = part["plant_day"] + round(year * YEAR_DAYS)
            dead = np.diff(np.floor(np.cumsum(part["places"].to_numpy() * share) + 0.5), prepend=0.0)
            again = part.assign(
                planted_day=part["plant_day"], plant_day=later, places=dead.astype(np.int64), round=year
            )
            parts.append(again[(dead > 0) & (later <= np.minimum(part["to_day"], clock.last))])
    if not parts:
        return lots.iloc[:0].assign(planted_day=0, round=1)
    return pd.concat(parts, ignore_index=True)


def replace_tasks(again: Any, crops: dict[str, SeasonCrop]) -> pd.DataFrame:
    """Plant `replacements` again."""
    return task_frame(
        "replace",
        again,
        round=again["round"],
        hours=again["places"].to_numpy() * _of(again, crops, "plant_h"),
        release=again["plant_day"],
        slack=again["slack"],
        group=again["group"],
        link="lot",
        offset=(again["plant_day"] - again["planted_day"]).astype(np.int64),
    )


def size_at(age: Any, lots: pd.DataFrame, crops: dict[str, SeasonCrop]) -> Floats:
    """Share of its full size that each lot has reached at an age in days."""
    full = _of(lots, crops, "full_days")
    return np.asarray(np.minimum(np.asarray(age, dtype=float) / np.maximum(full, 1.0), 1.0), dtype=float)


def dated(lots: pd.DataFrame, column: str, clock: Clock) -> tuple[Any, Days, Days]:
    """One record for each day (of the recipe's calendar) in `column`, with the day and its number, within the plan.

    Where a weather window moved planting, what lies before the new day is left out.
    """
    times = lots[column].map(len).to_numpy(dtype=np.int64)
    each = lots.loc[lots.index.repeat(times)]
    day = np.array([day for days in lots[column] for day in days], dtype=np.int64)
    number = np.array([k + 1 for count in times for k in range(count)], dtype=np.int64)
    kept = (day > each["plant_day"].to_numpy()) & (day <= np.minimum(each["to_day"].to_numpy(), clock.last))
    return each[kept], day[kept], number[kept]


def _of(lots: pd.DataFrame, crops: dict[str, SeasonCrop], name: str) -> Floats:
    values = {code: float(getattr(crop, name)) for code, crop in crops.items()}
    return np.asarray(lots["crop"].map(values).to_numpy(dtype=float), dtype=float)
