"""Everything that must be done: one record per task and bed, with its hours, its days and what comes before it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from geoagro.arrays import Floats
from geoagro.season.clock import Clock, Days
from geoagro.season.crops import SeasonCrop
from geoagro.season.harvest import harvest_tasks
from geoagro.season.husbandry.field_tasks import fence_task, watering_tasks
from geoagro.season.husbandry.free_ground import cover_lots, cut_tasks, grown_covers
from geoagro.season.husbandry.tree_care import fell_tasks, prune_tasks, replace_tasks, replacements
from geoagro.season.rates import BedRates
from geoagro.season.successions import succession_edges
from geoagro.season.task_frame import repeated, task_frame
from geoagro.season.weeding import BedCover, rounds_of_beds
from geoagro.season.windows import PlantingDays
from geoagro.values.base.records import ints
from geoagro.values.recipe import Crop
from geoagro.values.season import TASKS, SeasonRule

CARE_SLACK_DAYS = 14
YEAR = 365


@dataclass(frozen=True, eq=False)
class Tasks:
    """Frame of tasks and the edges between them.

    Columns of `frame`: task, lot (index of the lot, -1 for work on a whole bed), bed, row, walk, planting, crop,
    bed_kind, planting_no, round, places, hours, release and slack (days), group (row of the planting days, -1 for
    tasks that no weather window holds back), full_places (harvest: places x share of the full yield).
    `before`, `after`, `offset`: task `after` begins at least `offset` days after the end of task `before`.
    """

    frame: pd.DataFrame
    before: Days
    after: Days
    offset: Days


@dataclass(frozen=True, eq=False)
class Setting:
    """What the tasks follow from, beside the lots.

    Attributes
    ----------
    records
        The crops as the library and the design give them, those that may be sown on free beds too.
    beds
        `lots.bed_list`: beds in walking order.
    shares
        `company.year_shares`.
    """

    crops: dict[str, SeasonCrop]
    records: Mapping[str, Crop]
    cover: BedCover
    days: PlantingDays
    rule: SeasonRule
    rates: BedRates
    shares: Floats
    beds: pd.DataFrame


def all_tasks(lots: pd.DataFrame, at: Setting) -> tuple[Tasks, Any]:
    """List the work on every bed and lot from nursery to harvest, within the plan.

    Returns the tasks, and the lots moved to the first day that the weather windows allow, cover crops on free beds
    among them.
    """
    clock = at.days.clock
    lots = _with_crop_values(lots, at.crops, at.days)
    harvest = harvest_tasks(lots, at.crops, clock, at.shares)
    lots = lots.assign(leaves_day=_leaves(lots, harvest, at.crops))
    sown = _with_crop_values(cover_lots(lots, at.beds, at.records, at.rule, at.days), at.crops, at.days)
    sown = grown_covers(sown, at.records).assign(plant_hours=lambda frame: frame["area_m2"] * at.rates.sow)
    whole = pd.concat([lots, sown], ignore_index=True) if len(sown) else lots
    whole = whole.assign(lot=np.arange(len(whole)))
    free = [_plant(whole.iloc[len(lots) :]), cut_tasks(whole, at.beds, at.rule, at.rates, clock)]
    perennial = whole["crop"].map({code: crop.perennial for code, crop in at.crops.items()})
    return _link([*_crop_tasks(lots, at), harvest, *free], whole, perennial, clock), whole


def _leaves(lots: pd.DataFrame, harvest: Any, crops: dict[str, SeasonCrop]) -> Days:
    """Day on which each lot leaves the ground if all goes as wanted: what is lifted or cut bed after bed, in its turn."""
    once = [code for code, crop in crops.items() if not crop.perennial and not crop.picked]
    mine = harvest[harvest["crop"].isin(once)]
    last = mine.groupby("lot")["release"].max()
    return np.asarray(lots["lot"].map(last).fillna(lots["to_day"]).to_numpy(dtype=np.int64), dtype=np.int64)


def _crop_tasks(lots: pd.DataFrame, at: Setting) -> list[Any]:
    """Tasks on the recipe's crops and the beds that they stand in."""
    crops, rule, rates, clock = at.crops, at.rule, at.rates, at.days.clock
    beds = _bed_cycles(lots, clock)
    again = replacements(lots, crops, clock)
    return [
        fence_task(lots, rule, clock),
        watering_tasks(lots, crops, rule, clock),
        _plant(lots),
        _prepare(beds, rule, rates),
        _nursery(pd.concat([lots.assign(round=1), again.assign(round=again["round"] + 1)], ignore_index=True), crops),
        replace_tasks(again, crops),
        _mulch(beds, rule, rates, clock),
        _weed(beds, at.cover, rule, rates),
        prune_tasks(lots, crops, clock),
        fell_tasks(lots, crops, clock),
    ]


def _with_crop_values(lots: pd.DataFrame, crops: dict[str, SeasonCrop], days: PlantingDays) -> pd.DataFrame:
    """Add slack and allowed days; planting days move to the first day that the windows allow."""
    group = np.asarray(lots["crop"].map(days.group).to_numpy(), dtype=np.int64)
    wanted = ints(lots, "plant_day")
    slack = lots["crop"].map({code: crop.slack_days for code, crop in crops.items()}).to_numpy(dtype=np.int64)
    earliest = days.next_allowed(group, wanted)
    latest = np.maximum(days.last_allowed(group, earliest + slack), earliest)
    shift = earliest - wanted
    hours = lots["crop"].map({code: crop.plant_h for code, crop in crops.items()}).astype(float)
    return lots.assign(
        plant_hours=lots["places"] * hours,
        nursery_days=lots["crop"].map({code: crop.nursery_days for code, crop in crops.items()}),
        lot=np.arange(len(lots)),
        group=group,
        wanted_day=wanted,
        plant_day=earliest,
        slack=latest - earliest,
        from_day=lots["from_day"] + shift,
        to_day=lots["to_day"] + shift,
    )


def _bed_cycles(lots: pd.DataFrame, clock: Clock) -> pd.DataFrame:
    """One record per bed and round: its first planting, its last harvest, the lot that stands for it."""
    first = lots.groupby(["planting_no", "bed"], sort=False, as_index=False).agg(
        row=("row", "first"),
        bed_kind=("bed_kind", "first"),
        walk=("walk", "first"),
        area_m2=("area_m2", "first"),
        plant_day=("plant_day", "min"),
        wanted_day=("wanted_day", "min"),
        to_day=("to_day", "max"),
        slack=("slack", "min"),
        places=("places", "sum"),
    )
    return first.assign(to_day=np.minimum(first["to_day"], clock.last), planting="", crop="", lot=-1)


def _plant(lots: pd.DataFrame) -> pd.DataFrame:
    return task_frame(
        "plant", lots, hours=lots["plant_hours"], release=lots["plant_day"], slack=lots["slack"], group=lots["group"]
    )


def _prepare(beds: pd.DataFrame, rule: SeasonRule, rates: BedRates) -> pd.DataFrame:
    lead = round(7 * rule.prepare_lead_weeks)
    hours = beds["area_m2"] * rates.prepare
    return task_frame("prepare", beds, hours=hours, release=beds["plant_day"] - lead, slack=beds["slack"] + lead)


def _nursery(lots: pd.DataFrame, crops: dict[str, SeasonCrop]) -> pd.DataFrame:
    """One task per crop, planting and round: raising takes place outside the beds."""
    raised = lots[lots["nursery_days"] > 0]
    keys = ["planting_no", "planting", "crop", "plant_day", "round"]
    groups = raised.groupby(keys, sort=False, as_index=False).agg(
        places=("places", "sum"), bed_kind=("bed_kind", "first"), nursery_days=("nursery_days", "first")
    )
    groups = groups.assign(lot=-1, bed="", row=0, walk=-1)
    rate = groups["crop"].map({c: k.nursery_h * k.per_place / (1 - k.losses) for c, k in crops.items()}).astype(float)
    return task_frame(
        "nursery",
        groups,
        round=groups["round"],
        hours=groups["places"] * rate,
        release=groups["plant_day"] - groups["nursery_days"],
        slack=7,
    )


def _mulch(beds: pd.DataFrame, rule: SeasonRule, rates: BedRates, clock: Clock) -> pd.DataFrame:
    if rule.mulch == "never":
        beds = beds.iloc[:0]
    times = np.ones(len(beds), dtype=np.int64)
    if rule.mulch == "yearly":
        times = 1 + np.maximum(beds["to_day"].to_numpy() - beds["plant_day"].to_numpy(), 0) // YEAR
    hours = beds["area_m2"] * rates.mulch
    return repeated("mulch", beds, times, clock, step=YEAR, first=0, slack=CARE_SLACK_DAYS, hours=hours, link="bed")


def _weed(beds: pd.DataFrame, cover: BedCover, rule: SeasonRule, rates: BedRates) -> pd.DataFrame:
    """Plan rounds by the cover of each bed at the time that the recipe wants."""
    parts = []
    slack = max(round(7 * rule.weeding.bare_weeks / 2), 7)
    spans = np.maximum(beds["to_day"].to_numpy() - beds["plant_day"].to_numpy(), 0)
    begins = beds["wanted_day"].to_numpy()
    for _, part in beds.assign(begin=begins, span=spans).groupby(["begin", "span"], sort=False):
        begin, span = part["begin"].iloc[0], part["span"].iloc[0]
        bed, offset, share = rounds_of_beds(cover, part["bed"].tolist(), rule.weeding, start=int(begin), days=int(span))
        each = part.iloc[bed]
        parts.append(
            task_frame(
                "weed",
                each,
                round=pd.Series(bed).groupby(bed).cumcount().to_numpy() + 1,
                hours=each["area_m2"] * rates.weed * share,
                release=each["plant_day"] + offset,
                slack=slack,
                link="bed",
                offset=offset,
            )
        )
    return pd.concat(parts, ignore_index=True)


def _link(parts: list[Any], lots: pd.DataFrame, perennial: Any, clock: Clock) -> Tasks:
    """Put the parts together and write down who waits for whom."""
    frame = pd.concat([p for p in parts if len(p)], ignore_index=True)
    frame = frame[(frame["release"] <= clock.last)].reset_index(drop=True)
    frame["order"] = _priority(frame)
    ids = np.arange(len(frame))
    plant = frame["task"] == "plant"
    by_lot = pd.Series(ids[plant], index=frame.loc[plant, "lot"])
    first = (
        frame[plant]
        .assign(id=ids[plant])
        .sort_values(["release", "order"])
        .groupby(["planting_no", "bed"], sort=False)["id"]
    )
    by_bed = first.first()
    made = _pairs(frame, frame["task"] == "prepare", frame[plant].assign(id=ids[plant]))
    cleared = succession_edges(frame, lots, perennial)
    lot_wait, bed_wait = frame["link"] == "lot", frame["link"] == "bed"
    bed_keys = pd.MultiIndex.from_frame(frame.loc[bed_wait, ["planting_no", "bed"]])
    lot_of, bed_of = by_lot.loc[frame.loc[lot_wait, "lot"]].to_numpy(), by_bed.loc[bed_keys].to_numpy()
    before = np.concatenate([made[0], cleared[0], lot_of, bed_of])
    after = np.concatenate([made[1], cleared[1], ids[lot_wait], ids[bed_wait]])
    none = np.zeros(len(made[0]) + len(cleared[0]))
    offset = np.concatenate([none, frame.loc[lot_wait, "offset"], frame.loc[bed_wait, "offset"]])
    return Tasks(frame, before.astype(np.int64), after.astype(np.int64), offset.astype(np.int64))


def _pairs(frame: pd.DataFrame, prepare: Any, plants: pd.DataFrame) -> tuple[Days, Days]:
    """Pair preparing a bed with every planting in it in the same round, which waits for it."""
    beds = frame.loc[prepare, ["planting_no", "bed"]].assign(before=np.flatnonzero(prepare))
    joined = plants[["planting_no", "bed", "id"]].merge(beds, on=["planting_no", "bed"])
    return joined["before"].to_numpy(), joined["id"].to_numpy()


def _priority(frame: pd.DataFrame) -> Days:
    """Rank among tasks that are equally urgent: bed after bed in walking order, and in a bed in order of work."""
    kind = frame["task"].map({task: k for k, task in enumerate(TASKS)}).to_numpy()
    order = np.lexsort((frame["lot"], frame["round"], kind, frame["walk"], frame["planting_no"]))
    rank = np.empty(len(frame), dtype=np.int64)
    rank[order] = np.arange(len(frame))
    return rank
