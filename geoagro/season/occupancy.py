"""Where the ground goes: from when to when each lot stands, bed by month, and when beds are free."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from geoagro.season.clock import Clock, Days
from geoagro.season.crops import SeasonCrop
from geoagro.season.husbandry.spans import free_spans
from geoagro.season.records.tables import BED_MONTHS
from geoagro.season.schedule import NEVER, Schedule
from geoagro.season.tasks import Tasks


def standing(
    tasks: Tasks, plan: Schedule, lots: pd.DataFrame, crops: dict[str, SeasonCrop], clock: Clock
) -> pd.DataFrame:
    """Lots that are planted within the plan, with `begin` and `end`: first and last day on the ground.

    A crop that is harvested once ends with its harvest in the levelled plan; a perennial, and a crop without
    harvest, ends its life as the recipe says, moved with its planting.
    """
    frame = tasks.frame
    plant = (frame["task"] == "plant").to_numpy()
    lot = frame.loc[plant, "lot"].to_numpy()
    begin, planted = (_by_lot(v[plant], lot, len(lots)) for v in (plan.begin, plan.end))
    life = (lots["to_day"] - lots["plant_day"]).to_numpy()
    end = np.where(planted == NEVER, clock.last, planted + life)
    reaped = _last_harvest(tasks, plan, len(lots), clock)
    once = ~lots["crop"].map({code: crop.perennial for code, crop in crops.items()}).to_numpy(dtype=bool)
    end = np.where(once & (reaped != NEVER), reaped, end)
    stands = begin != NEVER
    dated = lots.assign(begin=begin, end=np.minimum(end, clock.last))
    return dated[pd.Series(stands, index=dated.index)].reset_index(drop=True)


def bed_months(stands: pd.DataFrame, beds: pd.DataFrame, clock: Clock) -> pd.DataFrame:
    """Table BED_MONTHS: the crops of every bed in every month from the start on, and its free days."""
    early = clock.start_month
    months = clock.months[early:]
    begins = np.maximum((months - np.datetime64(clock.start, "D")).astype(np.int64), 0)
    bed_index = pd.Series(np.arange(len(beds)), index=beds["bed"])
    crops = sorted(stands["crop"].unique())
    cube = np.zeros((len(crops), len(beds), len(months)), dtype=bool)
    first, last = (np.asarray(clock.month_of(stands[k])) - early for k in ("begin", "end"))
    rows, columns = _spread(bed_index.loc[stands["bed"]].to_numpy(), first, last)
    which = np.repeat(pd.Index(crops).get_indexer(stands["crop"]), last - first + 1)
    cube[which, rows, columns] = True
    names, code = _names(cube.reshape(len(crops), -1), crops)
    free = _free_days(stands, bed_index, np.append(begins, clock.last + 1), len(beds))
    return BED_MONTHS.frame(
        {
            "bed": np.repeat(beds["bed"].to_numpy(), len(months)),
            "row": np.repeat(beds["row"].to_numpy(), len(months)),
            "month": np.tile(months, len(beds)),
            "crops": names[code],
            "free_days": free.ravel(),
        }
    )


def free_beds(stands: pd.DataFrame, beds: pd.DataFrame, clock: Clock) -> pd.DataFrame:
    """Columns of table FREE_BEDS but its upkeep: every span of at least a week, from the start on, in which nothing stands in a bed."""
    gaps = free_spans(stands, beds, clock.last)
    return pd.DataFrame(
        {
            "bed": gaps["bed"],
            "row": gaps["row"],
            "free_from": clock.dates(gaps["free_from"]),
            "free_to": clock.dates(gaps["free_to"]),
            "weeks": (gaps["free_to"] - gaps["free_from"] + 1) / 7,
            "next_planting": gaps["next_planting"],
        }
    )


def _by_lot(values: Days, lot: Days, count: int) -> Days:
    result = np.full(count, NEVER, dtype=np.int64)
    result[lot] = values
    return result


def _last_harvest(tasks: Tasks, plan: Schedule, count: int, clock: Clock) -> Days:
    harvest = (tasks.frame["task"] == "harvest").to_numpy()
    end = np.where(plan.end[harvest] == NEVER, clock.last, plan.end[harvest])
    result = np.full(count, NEVER, dtype=np.int64)
    np.maximum.at(result, tasks.frame.loc[harvest, "lot"].to_numpy(), end)
    return result


def _spread(bed: Days, first: Days, last: Days) -> tuple[Days, Days]:
    """One (bed, month) pair for every month that each lot touches."""
    length = last - first + 1
    offset = np.arange(length.sum()) - np.repeat(np.cumsum(length) - length, length)
    return np.repeat(bed, length), np.repeat(first, length) + offset


def _names(present: NDArray[np.bool_], crops: list[str]) -> tuple[NDArray[Any], Days]:
    """Names of the different sets of crops, and which set each place holds."""
    packed = np.packbits(present, axis=0)
    sets, at, code = np.unique(packed, axis=1, return_index=True, return_inverse=True)
    names = ["+".join(c for c, here in zip(crops, present[:, k], strict=True) if here) for k in at]
    assert sets.shape[1] == len(names)
    return np.array(names, dtype=object), np.asarray(code.ravel(), dtype=np.int64)


def _free_days(stands: pd.DataFrame, bed_index: Any, edges: Days, count: int) -> Days:
    """Days of each month, beds x months, on which no lot stands in the bed; `edges` run from day 0, the start, on."""
    size = edges[-1]
    change = np.zeros((count, size + 1), dtype=np.int32)
    bed = bed_index.loc[stands["bed"]].to_numpy()
    np.add.at(change, (bed, stands["begin"].to_numpy()), 1)
    np.add.at(change, (bed, stands["end"].to_numpy() + 1), -1)
    empty = np.cumsum(change, axis=1, dtype=np.int32)[:, :size] == 0
    return np.asarray(np.add.reduceat(empty, edges[:-1], axis=1), dtype=np.int64)
