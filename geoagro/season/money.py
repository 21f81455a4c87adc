"""Harvest, income and costs by month, and the balance that follows."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from geoagro.arrays import Floats
from geoagro.season.chance import Stakes, simulate
from geoagro.season.clock import Clock
from geoagro.season.crops import SeasonCrop
from geoagro.season.records.tables import CASH, DAYS, LABOUR, YEARS, YIELDS
from geoagro.season.schedule import Schedule
from geoagro.season.sensitivity import sensitivity_table
from geoagro.season.tasks import Tasks
from geoagro.values.season import TASKS, Cost, Range, SeasonRule

THREE = ("low", "likely", "high")
FREE = Range(low=0, likely=0, high=0)


@dataclass(frozen=True, eq=False)
class Money:
    """Frames LABOUR, YIELDS, CASH, YEARS, SENSITIVITY, and the simulated net flows (runs x months)."""

    labour: pd.DataFrame
    yields: pd.DataFrame
    cash: pd.DataFrame
    years: pd.DataFrame
    sensitivity: pd.DataFrame
    runs: Floats


def work_by_day(tasks: Tasks, plan: Schedule, people: Floats, rule: SeasonRule, clock: Clock) -> pd.DataFrame:
    """Table DAYS: hours by day and task of the levelled plan."""
    hours = plan.share * tasks.frame["hours"].to_numpy()[plan.task]
    work = pd.DataFrame({"day": plan.day, "task": tasks.frame["task"].to_numpy()[plan.task], "hours": hours})
    work["task"] = pd.Categorical(work["task"], TASKS)
    work = work.groupby(["day", "task"], observed=True, as_index=False)[["hours"]].sum()
    work = work[work["hours"] > 0]
    return DAYS.frame(
        {
            "day": clock.dates(work["day"]),
            "task": work["task"].astype(str),
            "hours": work["hours"],
            "person_days": work["hours"] / rule.crew.hours_per_day,
            "people": people[work["day"].to_numpy() - clock.first],
        }
    )


def work_by_month(days: pd.DataFrame, rule: SeasonRule) -> pd.DataFrame:
    """Table LABOUR: the sums of DAYS."""
    month = days["day"].to_numpy().astype("datetime64[M]").astype("datetime64[D]")
    task = pd.Categorical(days["task"], TASKS)
    sums = (
        days.assign(month=month, task=task).groupby(["month", "task"], observed=True, as_index=False)[["hours"]].sum()
    )
    wage = np.nan if rule.wage_per_hour is None else rule.wage_per_hour
    return LABOUR.frame(
        {
            "month": sums["month"],
            "task": sums["task"].astype(str),
            "hours": sums["hours"],
            "person_days": sums["hours"] / rule.crew.hours_per_day,
            "cost": sums["hours"] * wage,
        }
    )


def full_places(tasks: Tasks, plan: Schedule, crops: dict[str, SeasonCrop], clock: Clock) -> Floats:
    """Crops x months: places harvested, each counted with the share of its full yield that came then."""
    frame = tasks.frame
    codes = pd.Index(list(crops))
    amount = plan.share * frame["full_places"].to_numpy()[plan.task]
    crop = codes.get_indexer(pd.Index(frame["crop"]))[plan.task]
    counts = amount > 0
    result = np.zeros((len(codes), len(clock.months)))
    np.add.at(result, (crop[counts], clock.month_of(plan.day[counts])), amount[counts])
    return result


def plan_money(
    places: Floats,
    labour: pd.DataFrame,
    *,
    material: Floats,
    area_ha: float,
    crops: dict[str, SeasonCrop],
    rule: SeasonRule,
    clock: Clock,
) -> Money:
    """Put a price on harvest, material, labour and other costs.

    `places` is `full_places`; `labour` table LABOUR; `material` cost by month; `area_ha` the field.
    """
    of = list(crops.values())
    year = clock.year_of_month
    spans = [c.yield_kg or FREE for c in of]
    prices = [c.price or FREE for c in of]
    sold = np.array([c.sold for c in of])[:, None]
    wages = _by_month(labour["month"], labour["cost"].fillna(0.0), clock)
    other = other_costs(rule.costs, area_ha, rule.years, clock)
    stakes = Stakes(places * sold, spans, prices, year, wages, material + other, rule.labour_range)
    kg = [places * _column(spans, k) for k in THREE]
    income = [weight * sold * _column(prices, k) for weight, k in zip(kg, THREE, strict=True)]
    runs = simulate(stakes, rule.simulation)
    costs = {"material": material, "other": other}
    cash = _cash([i.sum(axis=0) for i in income], costs, wages, runs, rule.labour_range, clock=clock)
    sensitivity = sensitivity_table(stakes, crops, rule)
    return Money(labour, _yields(kg, income, crops, clock), cash, _years(cash, labour, kg, clock), sensitivity, runs)


def other_costs(costs: tuple[Cost, ...], area_ha: float, years: int, clock: Clock) -> Floats:
    """Costs of the design file by month; a yearly cost falls into the first month of its years."""
    result = np.zeros(len(clock.months))
    month = np.arange(len(clock.months)) - clock.start_month
    for cost in costs:
        amount = cost.amount * (area_ha if cost.per == "ha" else 1.0)
        from_month, to_month = 12 * (cost.from_year - 1), 12 * min(cost.to_year or years, years)
        due = {
            "once": month == from_month,
            "monthly": (month >= from_month) & (month < to_month),
            "yearly": (month >= from_month) & (month < to_month) & (month % 12 == 0),
        }[cost.when]
        result += amount * due
    return result


def material_costs(days: pd.DataFrame, crops: dict[str, SeasonCrop], clock: Clock) -> Floats:
    """Cost of material by month: paid on the day of planting, or of sowing where a nursery raises it."""
    unit = days["crop"].map({code: crop.unit_cost or 0.0 for code, crop in crops.items()}).astype(float)
    weighed = days["crop"].map({code: crop.weighed for code, crop in crops.items()}).astype(bool)
    amount = np.where(weighed, days["weight_kg"], days["total"]) * unit
    return _by_month(days["sow_on"].fillna(days["day"]), amount, clock)


def _by_month(dates: Any, amounts: Any, clock: Clock) -> Floats:
    days = (pd.to_datetime(dates).to_numpy().astype("datetime64[D]") - np.datetime64(clock.start, "D")).astype(np.int64)
    result = np.zeros(len(clock.months))
    np.add.at(result, clock.month_of(days), np.asarray(amounts, dtype=float))
    return result


def _column(spans: list[Range], which: str) -> Floats:
    return np.array([getattr(span, which) for span in spans])[:, None]


def _yields(kg: list[Floats], income: list[Floats], crops: dict[str, SeasonCrop], clock: Clock) -> pd.DataFrame:
    month, crop = np.nonzero(kg[2].T > 0)
    columns: dict[str, Any] = {"month": clock.months[month], "crop": np.array(list(crops), dtype=object)[crop]}
    for stem, three in (("kg", kg), ("income", income)):
        columns |= {f"{stem}_{k}": values[crop, month] for k, values in zip(THREE, three, strict=True)}
    return YIELDS.frame(columns)


def _cash(
    income: list[Floats], costs: dict[str, Floats], wages: Floats, runs: Floats, labour_range: Range, *, clock: Clock
) -> pd.DataFrame:
    labour = {k: wages * factor for k, factor in zip(THREE, labour_range.values, strict=True)}
    paid = costs["material"] + costs["other"]
    net = {k: i - paid - labour[o] for k, i, o in zip(THREE, income, THREE[::-1], strict=True)}
    p10, p50, p90 = np.quantile(np.cumsum(runs, axis=1), [0.1, 0.5, 0.9], axis=0)
    columns = {"month": clock.months, "year": clock.year_of_month, **costs}
    columns |= {f"income_{k}": i for k, i in zip(THREE, income, strict=True)}
    columns |= {f"labour_{k}": labour[k] for k in THREE}
    columns |= {f"net_{k}": net[k] for k in THREE} | {f"balance_{k}": np.cumsum(net[k]) for k in THREE}
    return CASH.frame(columns | {"balance_p10": p10, "balance_p50": p50, "balance_p90": p90})


def _years(cash: pd.DataFrame, labour: pd.DataFrame, kg: list[Floats], clock: Clock) -> pd.DataFrame:
    hours = _by_month(labour["month"], labour["hours"], clock)
    frame = cash.assign(hours=hours, **{f"kg_{k}": w.sum(axis=0) for k, w in zip(THREE, kg, strict=True)})
    ends = [c for c in frame.columns if c.startswith("balance_")]
    sums = frame.drop(columns=["month", *ends]).groupby("year").sum()
    last = frame.groupby("year")[ends].last()
    joined = sums.join(last).reset_index()
    return YEARS.frame({name: joined[name] for name in YEARS.columns})
