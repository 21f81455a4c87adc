"""Tables of the season report on work, material and ground, as text."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import pandas as pd

from geoagro.outputs.season.names import Names
from geoagro.outputs.tables.cited import cited
from geoagro.outputs.words.say import NOTHING
from geoagro.season.records.tables import SeasonPlan
from geoagro.values.base.records import records
from geoagro.values.season import TASKS
from geoagro.values.words import say

_MOST_DAYS, _MOST_FREE, _MOST_ORDERS, _LEAST_WEEKS = 45, 40, 40, 4

Table = dict[str, Any]


def work_tables(names: Names) -> dict[str, Any]:
    """Tables of tasks, material, orders and beds, with their notes."""
    return {
        "calendar": _calendar(names),
        "cautions": _cautions(names),
        "material": _material(names),
        "orders": _orders(names),
        "orders_note": _orders_note(names),
        "nutrients": _nutrients(names),
        "planting_days": _planting_days(names),
        "planting_note": _planting_note(names),
        "labour": _labour(names),
        "free": _free(names),
        "free_note": _free_note(names),
        "rates": _rates(names),
    }


def table(head: Sequence[str], rows: list[list[str]], *, align: str, sum_row: list[str] | None = None) -> Table:
    """Put a table together; `align` holds l or r for each column, a capital for one that takes free width.

    L and R take one part of the free width, W (left) two.
    """
    parts = {"L": 1, "R": 1, "W": 2}
    widths = [parts.get(a, 0) for a in align]
    if not any(widths):
        widths = [1] * len(align)
    sides = ["r" if a in "rR" else "l" for a in align]
    return {"head": list(head), "rows": rows, "align": sides, "widths": widths, "sum": sum_row or []}


def _calendar(names: Names) -> Table:
    words, plan = names.words, names.plan
    rows = plan.calendar[(plan.calendar["planting_no"] == 1) & (plan.calendar["round"] == 1)]
    lines = []
    for row in records(rows):
        crop, planting = row.text("crop"), row.text("planting")
        what = names.planting(crop, planting) if crop else words.title(names.beds(row.text("bed_kind")))
        days = [words.short_day(row.day(key)) for key in ("earliest", "likely_from", "likely_to", "latest")]
        lines.append([names.task(row.text("task")), what, *days, words.number(row.number("hours"))])
    head = (
        say("Task"),
        say("What"),
        say("Earliest"),
        say("Likely from"),
        say("Likely to"),
        say("Latest"),
        say("Hours"),
    )
    return table([words(text) for text in head], lines, align="LLllllr")


def _cautions(names: Names) -> Table:
    """Put what can hurt people beside the tasks in which it can; tasks of one caution stand in one line."""
    told = names.plan.calendar[names.plan.calendar["caution"].fillna("") != ""].drop_duplicates(
        ["task", "crop", "caution"]
    )
    what = [
        f"{names.task(task)} ({names.words.crop(names.plan.names[crop])})" if crop else names.task(task)
        for task, crop in zip(told["task"], told["crop"].fillna(""), strict=True)
    ]
    groups = told.assign(what=what).groupby("caution", sort=False)
    rows = [  # the caution is taken from the table, as a group's key is a plain text
        [", ".join(dict.fromkeys(part["what"])), names.words(str(part["caution"].iloc[0]))] for _, part in groups
    ]
    return table([names.words(say("Task")), names.words(say("Take care"))], rows, align="LW")


def _material(names: Names) -> Table:
    words = names.words
    rows = [
        [
            names.crop(r.text("crop")),
            names.cell("material", r.text("material")),
            *(words.number(r.number(key)) for key in ("pieces", "spares", "total")),
            words.number(r.number("weight_kg"), 1),
            *(words.number(r.number(key)) if r.number(key) else NOTHING for key in ("mothers", "nursery_sown")),
            words.short_day(r.day("first_sowing")),
            words.number(r.number("cost")),
        ]
        for r in records(names.plan.material)
    ]
    head = (
        say("Crop"),
        say("Planting material"),
        say("Needed"),
        say("Spares"),
        say("Total"),
        say("kg"),
        say("Mother plants"),
        say("Sow in nursery"),
        say("First sowing"),
    )
    cost = words(say("Cost, {money}"), money=names.plan.rule.currency)
    return table([*(words(text) for text in head), cost], rows, align="LLrrrrrrlr")


def _orders(names: Names) -> Table:
    words, orders = names.words, names.plan.orders
    packs = bool((orders["packs"] > 0).any())
    rows = [
        [
            words.short_day(r.day("order_by")),
            words.days(r.day("needed_on"), r.day("needed_to")),
            names.crop(r.text("crop")),
            names.cell("material", r.text("material")),
            words.number(r.number("total")),
            words.number(r.number("own")) if r.number("own") else NOTHING,
            words.number(r.number("to_get")),
            *([words.number(r.number("packs")) if r.number("packs") else NOTHING] if packs else []),
            words.number(r.number("weight_kg"), 1),
        ]
        for r in records(orders.head(_MOST_ORDERS))
    ]
    first = (say("Order by"), say("Needed"), say("Crop"), say("Kind"), say("Total"), say("Own"), say("To get"))
    head = (*first, *((say("Packs"),) if packs else ()), say("kg"))
    return table([words(text) for text in head], rows, align="llLlrrr" + ("r" if packs else "") + "r")


def _orders_note(names: Names) -> str:
    """Say what to ask, by crops, and where the rest of a long list is."""
    words, orders = names.words, names.plan.orders
    asked = orders[orders["ask"].fillna("") != ""]
    told = [
        words(
            say("{name}: {text}"),
            name=", ".join(names.crop(code) for code in dict.fromkeys(part["crop"])),
            text=words(str(part["ask"].iloc[0])),
        )
        for _, part in asked.groupby("ask", sort=False)
    ]
    hidden = len(orders) - _MOST_ORDERS
    more = [words(say("Later orders in table season_orders: {n}."), n=hidden)] if hidden > 0 else []
    return " ".join([words(say("Own: cut from the field's own earlier plants.")), *told, *more])


def span(names: Names, ends: Sequence[float], decimals: int = 0) -> str:
    """Write two numbers as a span."""
    words, (low, high) = names.words, ends
    return words(say("{low} to {high}"), low=words.number(low, decimals), high=words.number(high, decimals))


def _nutrients(names: Names) -> Table:
    """Sum by calendar year and way; what is taken is written without its sign, the column says it."""
    nutrients = names.plan.nutrients
    keys = [nutrients["month"].dt.year, nutrients["way"]]
    ends = [f"{e}_{k}" for e in ("n", "p", "k") for k in ("low", "high")]
    sums = nutrients.groupby(keys)[["kg", *ends]].sum()
    rows = []
    for row in records(sums.reset_index(names=["year", "way"])):
        spans = [sorted((abs(row.number(f"{e}_low")), abs(row.number(f"{e}_high")))) for e in ("n", "p", "k")]
        told = [span(names, ends) for ends in spans]
        way = names.cell("way", row.text("way"))
        rows.append([str(row.whole("year")), way, names.words.number(row.number("kg")), *told])
    head = (
        say("Year"),
        say("Way"),
        say("Fresh weight, kg"),
        say("Nitrogen (N), kg"),
        say("Phosphorus (P), kg"),
        say("Potassium (K), kg"),
    )
    return table([names.words(text) for text in head], rows, align="llRRRR")


def _planting_days(names: Names) -> Table:
    words, rows = names.words, []
    for _, part in list(names.plan.material_days.groupby("day"))[:_MOST_DAYS]:
        sums = part.groupby("crop", sort=False)["total"].sum()
        what = ", ".join(f"{names.crop(str(crop))} {words.number(n)}" for crop, n in sums.items())
        rows.append([words.weekday(part["day"].iloc[0]), bed_span(names, part["bed"].drop_duplicates().tolist()), what])
    head = (say("Day"), say("Beds"), say("Pieces with spares"))
    return table([words(text) for text in head], rows, align="llL")


def bed_span(names: Names, beds: list[str]) -> str:
    """Name the first and the last of some beds in walking order."""
    return beds[0] if len(beds) == 1 else names.words(say("{low} to {high}"), low=beds[0], high=beds[-1])


def _planting_note(names: Names) -> str:
    days = names.plan.material_days["day"].nunique()
    more = names.words(say("The first {shown} of {days} planting days."), shown=_MOST_DAYS, days=days)
    rest = names.words(say("Bed by bed in table season_material_days."))
    return f"{more} {rest}" if days > _MOST_DAYS else rest


def _labour(names: Names) -> Table:
    words, plan = names.words, names.plan
    first = plan.labour.merge(plan.cash[["month", "year"]], on="month")
    grid = first.pivot_table(index="year", columns="task", values="hours", aggfunc="sum", fill_value=0.0)
    tasks = [task for task in TASKS if task in grid.columns]
    rows = [
        [
            words(say("Year {n}"), n=int(year)),
            *(words.number(grid.loc[year, t]) for t in tasks),
            words.number(grid.loc[year].sum()),
        ]
        for year in grid.index
    ]
    total = [
        words(say("Sum")),
        *(words.number(grid[t].sum()) for t in tasks),
        words.number(float(grid.to_numpy().sum())),
    ]
    head = [words(say("Hours")), *(names.task(t) for t in tasks), words(say("All"))]
    return table(head, rows, align="l" + "r" * (len(tasks) + 1), sum_row=total)


def _free(names: Names) -> Table:
    words = names.words
    frame = _long_free(names.plan)
    keys = [frame["free_from"].dt.to_period("M"), frame["free_to"].dt.to_period("M"), frame["next_planting"]]
    spans = {"begin": ("free_from", "min"), "end": ("free_to", "max")}
    parts = {"beds": ("bed", "size"), "first": ("bed", "first"), "last": ("bed", "last")}
    groups = frame.groupby(keys, sort=False).agg(**parts, **spans)
    rows = []
    for row in records(groups.head(_MOST_FREE).reset_index(level=-1)):
        count, first = row.number("beds"), row.text("first")
        named = bed_span(names, [first] if count == 1 else [first, row.text("last")])
        days = [words.short_day(row.day("begin")), words.short_day(row.day("end"))]
        planting = row.text("next_planting")
        rows.append([named, words.number(count), *days, names.label(planting) if planting else NOTHING])
    head = (say("Beds"), say("Number"), say("Free from"), say("Free to"), say("Next planting"))
    return table([words(text) for text in head], rows, align="Lrlll")


def _long_free(plan: SeasonPlan) -> pd.DataFrame:
    return plan.free_beds[plan.free_beds["weeks"] >= _LEAST_WEEKS]


def _free_note(names: Names) -> str:
    first = say(
        "Spans of at least {weeks} weeks; those that begin and end in the same months stand in one line. Spans of a week and "
        "more, bed by bed, are in table season_free_beds: {n} in all."
    )
    return names.words(first, weeks=_LEAST_WEEKS, n=len(names.plan.free_beds))


def _rates(names: Names) -> Table:
    """Crops that share a rate and its source stand in one line."""
    rates, words = names.plan.rates, names.words
    keys = ["item", "value", "unit", "whose", "source"]
    groups = rates.groupby(keys, sort=False)["subject"].agg(list).reset_index()
    order = {item: k for k, item in enumerate(rates["item"].unique())}
    rows = []
    for line in sorted(groups.to_dict("records"), key=lambda line: order[line["item"]]):
        subjects = ", ".join(names.cell("subject", str(subject)) for subject in line["subject"])
        item, unit = (names.cell(key, line[key]) if line[key] else "" for key in ("item", "unit"))
        source = cited(str(line["source"] or ""), words)
        whose = names.cell("whose", str(line["whose"]))
        rows.append([item, subjects, _value(names, str(line["value"])), unit, whose, source])
    head = (say("What"), say("For"), say("Value"), say("Unit"), say("Whose"), say("Source"))
    return table([words(text) for text in head], rows, align="LLLLlW")


def _value(names: Names, value: str) -> str:
    """Write the numbers of a rate as the language does; a word as it is told."""
    try:
        numbers = [float(part) for part in value.split()]
    except ValueError:
        return names.words(value)
    return "  ".join(names.words("{x:.4g}", x=number) for number in numbers)
