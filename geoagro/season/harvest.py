"""When each lot is harvested, and which share of its full yield comes each time."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd

from geoagro.arrays import Floats
from geoagro.season.clock import Clock
from geoagro.season.crops import SeasonCrop
from geoagro.season.husbandry.tree_care import FELL_SLACK_DAYS, dated, size_at
from geoagro.season.task_frame import task_frame

PICK_DAYS = 28
"""What is picked again and again is planned in portions of four weeks."""


def harvest_tasks(lots: pd.DataFrame, crops: dict[str, SeasonCrop], clock: Clock, shares: Floats) -> pd.DataFrame:
    """Tasks of harvest for every lot that yields something; `shares` is `company.year_shares`."""
    parts = []
    bearing = lots[lots["from_day"] <= lots["to_day"]]  # not planted again before the first harvest
    for code, part in bearing.groupby("crop", sort=False):
        crop = crops[str(code)]
        if crop.yield_kg is None or crop.yield_kg.high == 0:
            continue
        parts.append(_of_crop(part, crop, clock, shares))
    if not parts:
        return lots.iloc[:0].assign(task="harvest")
    frame = pd.concat(parts, ignore_index=True)
    kg = frame["crop"].map({c: k.yield_kg.likely if k.yield_kg else 0.0 for c, k in crops.items()}).astype(float)
    rate = frame["crop"].map({c: k.harvest_h_per_kg for c, k in crops.items()}).astype(float)
    frame["hours"] = frame["full_places"] * kg * rate
    return frame


def _of_crop(lots: pd.DataFrame, crop: SeasonCrop, clock: Clock, shares: Floats) -> pd.DataFrame:
    if crop.coppice_years is not None:
        return _at_coppicing(lots, crop, clock, shares)
    return _by_month(lots, crop, clock, shares) if crop.perennial else _in_window(lots, crop)


def _at_coppicing(lots: pd.DataFrame, crop: SeasonCrop, clock: Clock, shares: Floats) -> pd.DataFrame:
    """At each cut to the stump the yield of the years since the one before."""
    each, day, number = dated(lots, "coppicings", clock)
    size = size_at(day - each["plant_day"].to_numpy(dtype=np.int64), each, {crop.code: crop})
    of_plan = np.clip(day // 365, 0, shares.shape[1] - 1)
    share = (crop.coppice_years or 1) * size * shares[each["kind"].to_numpy(dtype=np.int64), of_plan]
    offset = day - each["plant_day"].to_numpy(dtype=np.int64)
    return _harvest(each, number, offset=offset, slack=FELL_SLACK_DAYS, share=share, release=day)


def _in_window(lots: pd.DataFrame, crop: SeasonCrop) -> pd.DataFrame:
    """Bed after bed over the window, or portion by portion where it is picked."""
    if not crop.picked:
        return _bed_after_bed(lots)
    from_day, to_day = lots["from_day"].to_numpy(), lots["to_day"].to_numpy()
    length = to_day - from_day
    times = np.maximum(-(-length // PICK_DAYS), 1)
    each = lots.loc[lots.index.repeat(times)]
    count = np.concatenate([np.arange(n) for n in times])
    times_each = np.repeat(times, times)
    begin = np.repeat(length // times, times) * count
    offset = np.repeat(from_day - lots["plant_day"].to_numpy(), times) + begin
    slack, share = np.repeat(length // times, times), each["yield_share"] / times_each
    return _harvest(each, count + 1, offset=offset, slack=slack, share=share)


def _bed_after_bed(lots: pd.DataFrame) -> pd.DataFrame:
    """Spread what is lifted or cut once over its window: each bed in its turn, in walking order, by its places.

    So the work and the supply are even, and nothing is lifted long before it is needed.
    """
    keys = ["planting", "planting_no", "from_day", "to_day"]
    lots = lots.sort_values([*keys, "walk"], ignore_index=True)
    groups = lots.groupby(keys, sort=False)["places"]
    before = (groups.cumsum() - lots["places"]) / groups.transform("sum")
    from_day, to_day = lots["from_day"].to_numpy(), lots["to_day"].to_numpy()
    turn = np.floor(before.to_numpy(dtype=float) * (to_day - from_day)).astype(np.int64)
    offset = from_day - lots["plant_day"].to_numpy() + turn
    return _harvest(lots, 1, offset=offset, slack=to_day - from_day - turn, share=lots["yield_share"])


def _by_month(lots: pd.DataFrame, crop: SeasonCrop, clock: Clock, shares: Floats) -> pd.DataFrame:
    """In each harvest month, its part of the yield of that year of the plant's life."""
    months = (clock.months - np.datetime64(clock.start, "D")).astype(np.int64)
    number = clock.months.astype("datetime64[M]").astype(np.int64) % 12 + 1
    ends = np.append(months[1:], clock.last + 1)
    in_season = np.isin(number, crop.harvest_months)
    plant, from_day, to_day = (lots[k].to_numpy()[:, None] for k in ("plant_day", "from_day", "to_day"))
    lot, month = np.nonzero(in_season & (months >= from_day) & (months <= to_day))
    year = np.maximum((months[month] - plant[lot, 0]) // 365, 0)
    curve = bearing_with_deaths(crop.bearing, crop.deaths)
    share = curve[np.minimum(year, len(curve) - 1)] / len(crop.harvest_months)
    of_plan = np.clip(months[month] // 365, 0, shares.shape[1] - 1)
    share = share * shares[lots["kind"].to_numpy()[lot], of_plan]
    bears = share > 0
    lot, month, share = lot[bears], month[bears], share[bears]
    each = lots.iloc[lot]
    count = pd.Series(lot).groupby(lot).cumcount().to_numpy() + 1
    wait = (from_day - plant)[lot, 0]
    slack = ends[month] - months[month] - 1
    return _harvest(each, count, offset=wait, slack=slack, share=share, release=months[month])


def bearing_with_deaths(bearing: Sequence[float], deaths: Sequence[float]) -> Floats:
    """Share of the full yield by year where some places were planted again: those bear as many years later.

    >>> bearing_with_deaths((0.0, 0.5, 1.0), (0.1,)).round(9).tolist()
    [0.0, 0.45, 0.95, 1.0]
    """
    years = len(bearing) + len(deaths)
    full = np.concatenate([np.asarray(bearing, dtype=float), np.full(len(deaths), bearing[-1])])
    found = np.zeros(years)
    for year in range(years):
        dead = np.asarray(deaths[:year], dtype=float)
        again = full[year - 1 - np.arange(len(dead))]
        found[year] = (1 - dead.sum()) * full[year] + float(dead @ again)
    return found


def _harvest(
    each: pd.DataFrame, number: Any, *, offset: Any, slack: Any, share: Any, release: Any = None
) -> pd.DataFrame:
    return task_frame(
        "harvest",
        each,
        round=number,
        release=each["plant_day"].to_numpy() + offset if release is None else release,
        slack=slack,
        full_places=each["places"].to_numpy() * np.asarray(share),
        link="lot",
        offset=offset,
    )
