"""Work on the field as a whole, and on all young trees of a planting together."""

from __future__ import annotations

import numpy as np
import pandas as pd

from geoagro.season.clock import Clock
from geoagro.season.crops import SeasonCrop
from geoagro.season.husbandry.work_rates import FENCE_H_PER_M, WATER_H_PER_PLACE
from geoagro.season.task_frame import task_frame
from geoagro.values.season import SeasonRule, Watering

FENCE_SLACK_DAYS = 60
FENCE_LEAD_DAYS = 28


def fence_task(lots: pd.DataFrame, rule: SeasonRule, clock: Clock) -> pd.DataFrame:
    """One task before the first planting, if a fence is asked for."""
    field = lots.iloc[: int(rule.fence_m > 0)].assign(
        lot=-1, bed="", row=0, walk=-1, planting="", crop="", bed_kind="", places=0
    )
    rate = FENCE_H_PER_M.likely if rule.hours.fence_h_per_m is None else rule.hours.fence_h_per_m
    begin = max(int(lots["plant_day"].min()) - FENCE_LEAD_DAYS, clock.first)
    return task_frame("fence", field, hours=rule.fence_m * rate, release=begin, slack=FENCE_SLACK_DAYS)


def watering_tasks(lots: pd.DataFrame, crops: dict[str, SeasonCrop], rule: SeasonRule, clock: Clock) -> pd.DataFrame:
    """One task per planting and week for what stays for years, all its beds together."""
    asked = rule.watering
    stays = lots["crop"].map({code: crop.perennial for code, crop in crops.items()}).to_numpy(dtype=bool)
    young = lots[stays & (asked is not None)]
    keys = ["planting_no", "planting", "crop", "plant_day"]
    groups = young.groupby(keys, sort=False, as_index=False).agg(
        places=("places", "sum"), bed_kind=("bed_kind", "first")
    )
    groups = groups.assign(lot=-1, bed="", row=0, walk=-1)
    rate = WATER_H_PER_PLACE.likely if rule.hours.water_h is None else rule.hours.water_h
    return _weekly(groups, asked or Watering(), rate, clock)


def _weekly(groups: pd.DataFrame, asked: Watering, rate: float, clock: Clock) -> pd.DataFrame:
    each = groups.loc[groups.index.repeat(asked.weeks)]
    week = np.tile(np.arange(asked.weeks, dtype=np.int64), len(groups))
    frame = task_frame(
        "water",
        each,
        round=week + 1,
        hours=each["places"].to_numpy(dtype=float) * rate * asked.times_a_week,
        release=each["plant_day"].to_numpy(dtype=np.int64) + 7 * week,
        slack=6,
    )
    return pd.DataFrame(frame[frame["release"] <= clock.last])
