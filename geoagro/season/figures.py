"""The key figures of a plan, each with its definition and a reading in words."""

from __future__ import annotations

import numpy as np
import pandas as pd

from geoagro.arrays import Floats
from geoagro.season.clock import Clock
from geoagro.season.finance import break_even, internal_rate, net_present_value
from geoagro.season.husbandry.free_ground import upkeep_words
from geoagro.season.money import Money
from geoagro.season.records.figures import Key
from geoagro.season.records.tables import COVER_PLANTING, FIGURES
from geoagro.values.season import SeasonRule

Figure = tuple[Key, str, float, str, str, str]


def key_figures(
    money: Money,
    rule: SeasonRule,
    clock: Clock,
    *,
    material: pd.DataFrame,
    calendar: pd.DataFrame,
    days: pd.DataFrame,
    people: float,
    area_ha: float,
    standing: int,
) -> pd.DataFrame:
    """Table FIGURES."""
    rows = [
        *_work(
            clock, material=material, calendar=calendar, days=days, people=people, area_ha=area_ha, standing=standing
        ),
        *_sums(money, rule),
        *_worth(money, rule, clock),
        _upkeep(days, rule),
        *_chances(money, rule, clock),
    ]
    names = ("key", "figure", "value", "unit", "reading", "definition")
    return FIGURES.frame(dict(zip(names, zip(*rows, strict=True), strict=True)))


def _work(
    clock: Clock,
    *,
    material: pd.DataFrame,
    calendar: pd.DataFrame,
    days: pd.DataFrame,
    people: float,
    area_ha: float,
    standing: int,
) -> list[Figure]:
    planting_of_cover = (calendar["task"] == "plant") & (calendar["planting"] == COVER_PLANTING)
    planting = calendar[(calendar["task"] == "plant") & ~planting_of_cover]
    first = planting[planting["planting_no"] == 1]
    weeks = days.groupby(days["day"].dt.to_period("W"))["person_days"].sum()
    busiest, week = (
        (float(weeks.max()), weeks.index[int(weeks.argmax())].start_time.date()) if len(weeks) else (0.0, clock.start)
    )
    first_year = days["hours"][days["day"] < pd.Timestamp(clock.start) + pd.DateOffset(years=1)].sum()
    late = int(planting["late_days"].max())
    span = (first["likely_to"].max() - first["likely_from"].min()).days + 1
    return [
        _count(
            Key.PLACES,
            "planting points",
            material["places"].sum(),
            "",
            "All rounds of planting within the plan, replacements too, cover crops aside.",
        ),
        _count(
            Key.AT_ONCE,
            "plants standing at once",
            standing,
            "plants",
            "Most plants in any one week, as the recipe wants them.",
        ),
        _count(
            Key.PIECES,
            "pieces of planting material",
            material["total"].sum(),
            "pieces",
            "Pieces that must stand + spares, cover crops aside.",
        ),
        _count(Key.PEOPLE, "people", people, "people", "Crew that the work is levelled with, without helpers."),
        _count(
            Key.FIRST_YEAR_WORK,
            "work in the first year",
            first_year,
            "h",
            "Hours of all tasks up to a year after the start.",
        ),
        _count(
            Key.FIRST_YEAR_WORK_PER_HA,
            "work in the first year per hectare",
            first_year / area_ha,
            "h/ha",
            "The same / area of the field.",
        ),
        _count(Key.ALL_WORK, "work in all years", days["hours"].sum(), "h", "Hours of all tasks within the plan."),
        (
            Key.BUSIEST_WEEK,
            "busiest week",
            busiest,
            "person-days",
            f"{busiest:,.1f} person-days from {week}",
            "Most work in one week.",
        ),
        _count(
            Key.PLANTING_SPAN, "planting span", span, "days", "From the first to the last day of planting, first round."
        ),
        _count(
            Key.LATEST_PLANTING,
            "latest planting past its window",
            late,
            "days",
            "Most days that planting ends after its latest day.",
        ),
    ]


def _sums(money: Money, rule: SeasonRule) -> list[Figure]:
    years, unit = money.years, rule.currency
    rows = []
    for k in ("low", "likely", "high"):
        rows.append(
            _count(
                Key(f"harvest_{k}"), f"harvest, {k}", years[f"kg_{k}"].sum(), "kg", f"All crops, all years, {k} yields."
            )
        )
    for k in ("low", "likely", "high"):
        rows.append(
            _count(
                Key(f"income_{k}"),
                f"income, {k}",
                years[f"income_{k}"].sum(),
                unit,
                f"{k} yields x share sold x {k} prices.",
            )
        )
    rows.append(
        _count(Key.MATERIAL_COST, "cost of material", years["material"].sum(), unit, "Pieces or kg x unit cost.")
    )
    rows.append(_count(Key.LABOUR_COST, "cost of labour", years["labour_likely"].sum(), unit, "Hours x wage."))
    rows.append(_count(Key.OTHER_COSTS, "other costs", years["other"].sum(), unit, "As listed in the design file."))
    return rows


def _worth(money: Money, rule: SeasonRule, clock: Clock) -> list[Figure]:
    rows: list[Figure] = []
    rate = f"{100 * rule.discount_rate:g} % a year"
    for k in ("low", "likely", "high"):
        worth = float(net_present_value(money.cash[f"net_{k}"], rule.discount_rate))
        meaning = f"Monthly net flows ({k}) discounted to the first month at {rate}."
        rows.append(_count(Key(f"net_present_value_{k}"), f"net present value, {k}", worth, rule.currency, meaning))
    irr = internal_rate(money.cash["net_likely"])
    reading = "none, or not unique" if irr is None else f"{100 * irr:.1f} % a year"
    meaning = "Yearly rate at which the net present value (likely) is zero; empty where it isn't unique."
    rows.append((Key.INTERNAL_RATE, "internal rate of return", np.nan if irr is None else irr, "1/a", reading, meaning))
    for k in ("low", "likely", "high"):
        month = int(break_even(money.cash[f"balance_{k}"].to_numpy()))
        rows.append(_month(Key(f"break_even_{k}"), f"break-even, {k}", month, clock))
    lowest = float(min(money.cash["balance_likely"].min(), 0.0))
    rows.append(
        _count(
            Key.DEEPEST_BALANCE,
            "deepest balance",
            lowest,
            rule.currency,
            "Lowest balance (likely): the money needed before income.",
        )
    )
    return rows


def _upkeep(days: pd.DataFrame, rule: SeasonRule) -> Figure:
    """Tell what work and money hold for free beds: hours, and in words their money (not discounted)."""
    meaning = "Cutting what grows on beds that stand free, and cover crops at their end; counted in work and money."
    hours = float(days["hours"][days["task"] == "cut"].sum())
    return Key.FREE_UPKEEP, "upkeep of free beds", hours, "h", upkeep_words(hours, rule), meaning


def _chances(money: Money, rule: SeasonRule, clock: Clock) -> list[Figure]:
    worth = net_present_value(money.runs, rule.discount_rate)
    balance = np.cumsum(money.runs, axis=1)
    months = break_even(balance)
    drawn = f"{rule.simulation.runs} runs, {rule.simulation.shape}, seed {rule.simulation.seed}"
    rows = [
        _count(
            key,
            f"net present value, {name}",
            float(np.quantile(worth, q)),
            rule.currency,
            f"Quantile {q:g} of {drawn}.",
        )
        for key, name, q in (
            (Key.WORTH_P10, "1 of 10 runs below", 0.1),
            (Key.WORTH_P50, "median of runs", 0.5),
            (Key.WORTH_P90, "1 of 10 runs above", 0.9),
        )
    ]
    error = float(worth.std(ddof=1) / np.sqrt(len(worth)))
    rows.append(
        _count(
            Key.WORTH_MEAN, "net present value, mean of runs", float(worth.mean()), rule.currency, f"Mean of {drawn}."
        )
    )
    rows.append(
        _count(
            Key.WORTH_ERROR,
            "standard error of that mean",
            error,
            rule.currency,
            "Deviation of runs / root of their number.",
        )
    )
    rows.append(_losses(worth, money, rule))
    rows.append(
        _share(
            Key.RUNS_BREAKING_EVEN,
            "runs that break even",
            float((months >= 0).mean()),
            "Share of runs within the plan.",
            runs=rule.simulation.runs,
        )
    )
    never = len(clock.months)
    middle = int(np.quantile(np.where(months < 0, never, months), 0.5, method="higher"))
    rows.append(_month(Key.BREAK_EVEN_MEDIAN, "break-even, median of runs", -1 if middle == never else middle, clock))
    return rows


def _losses(worth: Floats, money: Money, rule: SeasonRule) -> Figure:
    """Say in one breath how often the draws end at a loss, and how all-low ends, which no draw comes near."""
    losses, runs = int((worth < 0).sum()), rule.simulation.runs
    often = f"{100 * losses / runs:.1f} %" if losses else "none"
    low = float(net_present_value(money.cash["net_low"], rule.discount_rate))
    reading = f"{often} of {runs:,} draws; with all at its worst end {low:,.0f} {rule.currency}"
    meaning = (
        "Share of runs with net present value below 0. Drawn are yields, prices and hours, within the ranges given and nothing "
        "else: no failed season, lost market or new cost. The worst end is low yields, low prices and high hours at once, in "
        "all years; draws hardly ever come near it, real years may."
    )
    return Key.RUNS_WITH_LOSS, "runs with a loss", losses / runs, "share", reading, meaning


def _count(key: Key, name: str, value: float, unit: str, definition: str) -> Figure:
    if np.isnan(float(value)):
        return key, name, np.nan, unit, "not within the plan", definition
    digits = 0 if abs(float(value)) >= 100 or float(value).is_integer() else 1
    return key, name, float(value), unit, f"{float(value):,.{digits}f} {unit}", definition


def _share(key: Key, name: str, value: float, definition: str, *, runs: int) -> Figure:
    return key, name, value, "share", f"{100 * value:.1f} % of {runs:,} runs", definition


def _month(key: Key, name: str, month: int, clock: Clock) -> Figure:
    definition = "Months from the start until the balance stays at or above zero; empty if not within the plan."
    if month < 0:
        return key, name, np.nan, "months", "not within the plan", definition
    since = month - clock.start_month
    return key, name, float(since), "months", f"{str(clock.months[month])[:7]} (month {since})", definition
