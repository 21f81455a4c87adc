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
from geoagro.values.words import Month, Sentence, say

Figure = tuple[Key, str, float, str, str, str]


HARVEST = {
    "low": (say("harvest, low"), say("All crops, all years, low yields.")),
    "likely": (say("harvest, likely"), say("All crops, all years, likely yields.")),
    "high": (say("harvest, high"), say("All crops, all years, high yields.")),
}
INCOME = {
    "low": (say("income, low"), say("low yields x share sold x low prices.")),
    "likely": (say("income, likely"), say("likely yields x share sold x likely prices.")),
    "high": (say("income, high"), say("high yields x share sold x high prices.")),
}
WORTH = {
    "low": (
        say("net present value, low"),
        say("Monthly net flows (low) discounted to the first month at {rate:g} % a year."),
    ),
    "likely": (
        say("net present value, likely"),
        say("Monthly net flows (likely) discounted to the first month at {rate:g} % a year."),
    ),
    "high": (
        say("net present value, high"),
        say("Monthly net flows (high) discounted to the first month at {rate:g} % a year."),
    ),
}
BREAK_EVEN = {
    "low": say("break-even, low"),
    "likely": say("break-even, likely"),
    "high": say("break-even, high"),
}


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
            say("planting points"),
            material["places"].sum(),
            "",
            say("All plantings within the plan, repeats and replacements too, cover crops aside."),
        ),
        _count(
            Key.AT_ONCE,
            say("plants standing at once"),
            standing,
            say("plants"),
            say("Most plants in any one week, as the recipe wants them."),
        ),
        _count(
            Key.PIECES,
            say("pieces of planting material"),
            material["total"].sum(),
            say("pieces"),
            say("Pieces that must stand + spares, cover crops aside."),
        ),
        _count(
            Key.PEOPLE,
            say("people"),
            people,
            say("people"),
            say("Crew that the work is levelled with, without helpers."),
        ),
        _count(
            Key.FIRST_YEAR_WORK,
            say("work in the first year"),
            first_year,
            "h",
            say("Hours of all tasks up to a year after the start."),
        ),
        _count(
            Key.FIRST_YEAR_WORK_PER_HA,
            say("work in the first year per hectare"),
            first_year / area_ha,
            "h/ha",
            say("The same / area of the field."),
        ),
        _count(
            Key.ALL_WORK, say("work in all years"), days["hours"].sum(), "h", say("Hours of all tasks within the plan.")
        ),
        (
            Key.BUSIEST_WEEK,
            say("busiest week"),
            busiest,
            say("person-days"),
            Sentence("{n:.1f} person-days from {day}", n=busiest, day=week),
            say("Most work in one week."),
        ),
        _count(
            Key.PLANTING_SPAN,
            say("planting span"),
            span,
            say("days"),
            say("From the first to the last day of planting, first planting of each bed."),
        ),
        _count(
            Key.LATEST_PLANTING,
            say("latest planting past its window"),
            late,
            say("days"),
            say("Most days that planting ends after its latest day."),
        ),
    ]


def _sums(money: Money, rule: SeasonRule) -> list[Figure]:
    years, unit = money.years, rule.currency
    rows = []
    for k in ("low", "likely", "high"):
        rows.append(_count(Key(f"harvest_{k}"), HARVEST[k][0], years[f"kg_{k}"].sum(), "kg", HARVEST[k][1]))
    for k in ("low", "likely", "high"):
        rows.append(
            _count(
                Key(f"income_{k}"),
                INCOME[k][0],
                years[f"income_{k}"].sum(),
                unit,
                INCOME[k][1],
            )
        )
    rows.append(
        _count(
            Key.MATERIAL_COST, say("cost of material"), years["material"].sum(), unit, say("Pieces or kg x unit cost.")
        )
    )
    rows.append(
        _count(Key.LABOUR_COST, say("cost of labour"), years["labour_likely"].sum(), unit, say("Hours x wage."))
    )
    rows.append(
        _count(Key.OTHER_COSTS, say("other costs"), years["other"].sum(), unit, say("As listed in the design file."))
    )
    return rows


def _worth(money: Money, rule: SeasonRule, clock: Clock) -> list[Figure]:
    rows: list[Figure] = []
    for k in ("low", "likely", "high"):
        worth = float(net_present_value(money.cash[f"net_{k}"], rule.discount_rate_pct / 100))
        meaning = Sentence(WORTH[k][1], rate=rule.discount_rate_pct)
        rows.append(_count(Key(f"net_present_value_{k}"), WORTH[k][0], worth, rule.currency, meaning))
    irr = internal_rate(money.cash["net_likely"])
    reading = say("none, or not unique") if irr is None else Sentence("{rate:.1f} % a year", rate=100 * irr)
    of_rate = say("Yearly rate at which the net present value (likely) is zero; empty where it isn't unique.")
    rows.append(
        (Key.INTERNAL_RATE, say("internal rate of return"), np.nan if irr is None else irr, "1/a", reading, of_rate)
    )
    for k in ("low", "likely", "high"):
        month = int(break_even(money.cash[f"balance_{k}"].to_numpy()))
        rows.append(_month(Key(f"break_even_{k}"), BREAK_EVEN[k], month, clock))
    lowest = float(min(money.cash["balance_likely"].min(), 0.0))
    rows.append(
        _count(
            Key.DEEPEST_BALANCE,
            say("deepest balance"),
            lowest,
            rule.currency,
            say("Lowest balance (likely): the money needed before income."),
        )
    )
    return rows


def _upkeep(days: pd.DataFrame, rule: SeasonRule) -> Figure:
    """Tell what work and money hold for free beds: hours, and in words their money (not discounted)."""
    meaning = say(
        "Cutting what grows on beds that stand free, and cover crops at their end; counted in work and money."
    )
    hours = float(days["hours"][days["task"] == "cut"].sum())
    return Key.FREE_UPKEEP, say("upkeep of free beds"), hours, "h", upkeep_words(hours, rule), meaning


def _chances(money: Money, rule: SeasonRule, clock: Clock) -> list[Figure]:
    worth = net_present_value(money.runs, rule.discount_rate_pct / 100)
    balance = np.cumsum(money.runs, axis=1)
    months = break_even(balance)
    drawn = {"runs": rule.simulation.runs, "shape": rule.simulation.shape, "seed": str(rule.simulation.seed)}
    rows = [
        _count(
            key,
            name,
            float(np.quantile(worth, q)),
            rule.currency,
            Sentence("Quantile {q:g} of {runs} runs, {shape}, seed {seed}.", q=q, **drawn),
        )
        for key, name, q in (
            (Key.WORTH_P10, say("net present value, 1 of 10 runs below"), 0.1),
            (Key.WORTH_P50, say("net present value, median of runs"), 0.5),
            (Key.WORTH_P90, say("net present value, 1 of 10 runs above"), 0.9),
        )
    ]
    error = float(worth.std(ddof=1) / np.sqrt(len(worth)))
    rows.append(
        _count(
            Key.WORTH_MEAN,
            say("net present value, mean of runs"),
            float(worth.mean()),
            rule.currency,
            Sentence("Mean of {runs} runs, {shape}, seed {seed}.", **drawn),
        )
    )
    rows.append(
        _count(
            Key.WORTH_ERROR,
            say("standard error of that mean"),
            error,
            rule.currency,
            say("Deviation of runs / root of their number."),
        )
    )
    rows.append(_losses(worth, money, rule))
    rows.append(
        _share(
            Key.RUNS_BREAKING_EVEN,
            say("runs that break even"),
            float((months >= 0).mean()),
            say("Share of runs within the plan."),
            runs=rule.simulation.runs,
        )
    )
    never = len(clock.months)
    middle = int(np.quantile(np.where(months < 0, never, months), 0.5, method="higher"))
    rows.append(
        _month(Key.BREAK_EVEN_MEDIAN, say("break-even, median of runs"), -1 if middle == never else middle, clock)
    )
    return rows


def _losses(worth: Floats, money: Money, rule: SeasonRule) -> Figure:
    """Say in one breath how often the draws end at a loss, and how all-low ends, which no draw comes near."""
    losses, runs = int((worth < 0).sum()), rule.simulation.runs
    low = float(net_present_value(money.cash["net_low"], rule.discount_rate_pct / 100))
    told = {"pct": 100 * losses / runs, "runs": runs, "low": low, "money": rule.currency}
    reading = (
        Sentence("{pct:.1f} % of {runs} draws; with everything at its worst end {low:.0f} {money}", **told)
        if losses
        else Sentence("none of {runs} draws; with everything at its worst end {low:.0f} {money}", **told)
    )
    meaning = say(
        "Share of runs with net present value below 0. Drawn are yields, prices and hours, within the ranges given and nothing "
        "else: no failed season, lost market or new cost. The worst end is low yields, low prices and high hours at once, in "
        "all years; draws hardly ever come near it, real years may."
    )
    return Key.RUNS_WITH_LOSS, say("runs with a loss"), 100 * losses / runs, "%", reading, meaning


def _count(key: Key, name: str, value: float, unit: str, definition: str) -> Figure:
    if np.isnan(float(value)):
        return key, name, np.nan, unit, say("not within the plan"), definition
    digits = 0 if abs(float(value)) >= 100 or float(value).is_integer() else 1
    return key, name, float(value), unit, _reading(float(value), digits, unit), definition


_COUNTED = {"", "pieces", "people", "plants"}
"""What a figure's own name says already."""


def _reading(value: float, digits: int, unit: str) -> Sentence:
    if unit in _COUNTED:
        return Sentence("{x:.1f}", x=value) if digits else Sentence("{x:.0f}", x=value)
    told = {"x": value, "unit": Sentence(unit)}
    return Sentence("{x:.1f} {unit}", **told) if digits else Sentence("{x:.0f} {unit}", **told)


def _share(key: Key, name: str, value: float, definition: str, *, runs: int) -> Figure:
    pct = 100 * value
    return key, name, pct, "%", Sentence("{pct:.1f} % of {runs} runs", pct=pct, runs=runs), definition


def _month(key: Key, name: str, month: int, clock: Clock) -> Figure:
    definition = say("Months from the start until the balance stays at or above zero; empty if not within the plan.")
    if month < 0:
        return key, name, np.nan, "months", say("not within the plan"), definition
    since = month - clock.start_month
    return (
        key,
        name,
        float(since),
        "months",
        Sentence("{month} (month {n})", month=Month(clock.months[month]), n=since),
        definition,
    )
