"""The words and numbers of the season report, written from the tables of the plan."""

from __future__ import annotations

from typing import Any

import pandas as pd

from geoagro.outputs.season.chart_style import TASK_WORDS, crop_words, planting_words
from geoagro.season.records.figures import Key
from geoagro.season.records.tables import SeasonPlan
from geoagro.values.base.records import Record, records
from geoagro.values.season import TASKS

NOTHING = "–"
_MOST_FINDINGS, _MOST_DAYS, _MOST_FREE, _MOST_ORDERS, _LEAST_WEEKS = 12, 45, 40, 40, 4
_LEVELS = {"warning": "Warning", "caution": "Caution", "note": "Note"}


def report_data(plan: SeasonPlan) -> dict[str, Any]:
    """Everything that the template prints, as text."""
    findings = plan.findings
    shown = findings[findings["level"] != "note"].head(_MOST_FINDINGS)
    shown = pd.concat([shown, findings[findings["level"] == "note"]])
    hidden = len(findings) - len(shown)
    return {
        "title": plan.name,
        "subtitle": f"Crop and work plan from {plan.start} over {plan.rule.years} years",
        "currency": plan.rule.currency,
        "tiles": _tiles(plan),
        "findings": [_finding(row) for row in records(shown)],
        "more_findings": f"{hidden} more in table season_findings." if hidden else "",
        "calendar": _calendar(plan),
        "calendar_note": "Later rounds and years are in table season_calendar and in the calendar file.",
        "cautions": _cautions(plan),
        "material": _material(plan),
        "orders": _orders(plan),
        "orders_note": _orders_note(plan),
        "nutrients": _nutrients(plan),
        "wood": _wood(plan),
        "planting_days": _planting_days(plan),
        "planting_note": _planting_note(plan),
        "labour": _labour(plan),
        "harvest": _harvest(plan),
        "by_zone": _by_zone(plan),
        "years": _years(plan),
        "months": _months(plan),
        "figures": _figures(plan),
        "free": _free(plan),
        "free_note": _free_note(plan),
        "rates": _rates(plan),
    }


def number(value: float, decimals: int = 0) -> str:
    """Write a number with thousands; a dash where there is none.

    >>> number(1234.5, 1), number(float("nan"))
    ('1,234.5', '–')
    """
    return NOTHING if pd.isna(value) else f"{value:,.{decimals}f}"


def day(value: pd.Timestamp | None) -> str:
    """Write a date as year-month-day; a dash where there is none."""
    return NOTHING if value is None or pd.isna(value) else f"{value:%Y-%m-%d}"


def table(head: list[str], rows: list[list[str]], *, align: str, sum_row: list[str] | None = None) -> dict[str, Any]:
    """Put a table together; `align` holds l or r for each column, a capital for one that takes free width.

    L and R take one part of the free width, W (left) two.
    """
    parts = {"L": 1, "R": 1, "W": 2}
    widths = [parts.get(a, 0) for a in align]
    if not any(widths):
        widths = [1] * len(align)
    sides = ["r" if a in "rR" else "l" for a in align]
    return {"head": head, "rows": rows, "align": sides, "widths": widths, "sum": sum_row or []}


def _span(begin: pd.Timestamp | None, end: pd.Timestamp | None) -> str:
    """Write two days; the year of the second is left out where it is that of the first."""
    if begin is None or end is None or pd.isna(begin) or pd.isna(end):
        return f"{day(begin)} to {day(end)}"
    return f"{begin:%Y-%m-%d} to {end:%m-%d}" if begin.year == end.year else f"{day(begin)} to {day(end)}"


def _tiles(plan: SeasonPlan) -> list[dict[str, str]]:
    read = plan.reading
    planting = plan.calendar[(plan.calendar["task"] == "plant") & (plan.calendar["cycle"] == 1)]
    begin, end = planting["likely_from"].min(), planting["likely_to"].max()
    span = _span(begin, end)
    tiles = [
        ("Planting points", read(Key.PLACES), "all rounds"),
        ("Planting", span, f"first round, {read(Key.PEOPLE)}"),
        (
            "Work in the first year",
            read(Key.FIRST_YEAR_WORK),
            f"busiest week of the whole plan: {read(Key.BUSIEST_WEEK)}",
        ),
        ("Harvest, likely", read(Key.HARVEST), f"{read(Key.HARVEST_LOW)} to {read(Key.HARVEST_HIGH)}, all years"),
        ("Breaks even, likely", read(Key.BREAK_EVEN), f"half of the runs by {read(Key.BREAK_EVEN_MEDIAN)}"),
        (
            "Net present value, likely",
            read(Key.WORTH),
            f"a loss in {read(Key.RUNS_WITH_LOSS)}; yields, prices and hours are drawn, nothing else",
        ),
    ]
    return [{"name": name, "value": value, "note": note} for name, value, note in tiles]


def _finding(row: Record) -> dict[str, str]:
    level, about = row.text("level"), row.text("subject")
    plain = about.replace("_", " ")
    subject = plain if level == "caution" else TASK_WORDS.get(about, plain)  # caution "water": of streams
    return {"level": level, "word": _LEVELS[level], "subject": subject, "text": row.text("text")}


def _calendar(plan: SeasonPlan) -> dict[str, Any]:
    rows = plan.calendar[(plan.calendar["cycle"] == 1) & (plan.calendar["round"] == 1)]
    lines = []
    for row in records(rows):
        crop, planting = row.text("crop"), row.text("planting")
        what = planting_words(crop, planting) if crop else f"{row.text('bed_kind')} beds"
        days = [day(row.day(key)) for key in ("earliest", "likely_from", "likely_to", "latest")]
        lines.append([TASK_WORDS[row.text("task")], what, *days, number(row.number("hours"))])
    head = ["Task", "What", "Earliest", "Likely from", "Likely to", "Latest", "Hours"]
    return table(head, lines, align="lLllllr")


def _cautions(plan: SeasonPlan) -> dict[str, Any]:
    """Put what can hurt people beside the tasks in which it can; tasks of one caution stand in one line."""
    told = plan.calendar[plan.calendar["caution"].fillna("") != ""].drop_duplicates(["task", "crop", "caution"])
    what = [
        TASK_WORDS[task] + (f" {crop_words(crop)}" if crop else "")
        for task, crop in zip(told["task"], told["crop"].fillna(""), strict=True)
    ]
    groups = (
        told.assign(what=what).groupby("caution", sort=False)["what"].agg(lambda names: ", ".join(dict.fromkeys(names)))
    )
    return table(["Task", "Take care"], [[str(names), str(caution)] for caution, names in groups.items()], align="LW")


def _material(plan: SeasonPlan) -> dict[str, Any]:
    rows = [
        [
            crop_words(r.text("crop")),
            r.text("material"),
            *(number(r.number(key)) for key in ("pieces", "spares", "total")),
            number(r.number("weight_kg"), 1),
            *(number(r.number(key)) if r.number(key) else NOTHING for key in ("mothers", "nursery_sown")),
            day(r.day("first_sowing")),
            number(r.number("cost")),
        ]
        for r in records(plan.material)
    ]
    head = [
        "Crop",
        "Planting material",
        "Needed",
        "Spares",
        "Total",
        "kg",
        "Mother plants",
        "Sow in nursery",
        "First sowing",
        f"Cost, {plan.rule.currency}",
    ]
    return table(head, rows, align="Llrrrrrrlr")


def _orders(plan: SeasonPlan) -> dict[str, Any]:
    packs = bool((plan.orders["packs"] > 0).any())
    rows = [
        [
            day(r.day("order_by")),
            _span(r.day("needed_on"), r.day("needed_to")),
            crop_words(r.text("crop")),
            r.text("material"),
            number(r.number("total")),
            number(r.number("own")) if r.number("own") else NOTHING,
            number(r.number("to_get")),
            *([number(r.number("packs")) if r.number("packs") else NOTHING] if packs else []),
            number(r.number("weight_kg"), 1),
        ]
        for r in records(plan.orders.head(_MOST_ORDERS))
    ]
    head = ["Order by", "Needed", "Crop", "Kind", "Total", "Own", "To get", *(["Packs"] if packs else []), "kg"]
    return table(head, rows, align="llLlrrr" + ("r" if packs else "") + "r")


def _orders_note(plan: SeasonPlan) -> str:
    """Say what to ask, by crops, and where the rest of a long list is."""
    asked = plan.orders[plan.orders["ask"].fillna("") != ""]
    groups = asked.groupby("ask", sort=False)["crop"].agg(
        lambda codes: ", ".join(map(crop_words, dict.fromkeys(codes)))
    )
    told = [f"{crops}: {ask}" for ask, crops in groups.items()]
    hidden = len(plan.orders) - _MOST_ORDERS
    more = [f"{hidden} later orders are in table season_orders."] if hidden > 0 else []
    return " ".join(["Own: cut from the field's own earlier plants.", *told, *more])


def _nutrients(plan: SeasonPlan) -> dict[str, Any]:
    """Sum by calendar year and way; what is taken is written without its sign, the column says it."""
    keys = [plan.nutrients["month"].dt.year, plan.nutrients["way"]]
    ends = [f"{e}_{k}" for e in ("n", "p", "k") for k in ("low", "high")]
    sums = plan.nutrients.groupby(keys)[["kg", *ends]].sum()
    rows = []
    for row in records(sums.reset_index(names=["year", "way"])):
        spans = [sorted((abs(row.number(f"{e}_low")), abs(row.number(f"{e}_high")))) for e in ("n", "p", "k")]
        told = [f"{number(a)} to {number(b)}" for a, b in spans]
        rows.append([str(row.whole("year")), row.text("way"), number(row.number("kg")), *told])
    head = ["Year", "Way", "Fresh weight, kg", "Nitrogen (N), kg", "Phosphorus (P), kg", "Potassium (K), kg"]
    return table(head, rows, align="llRRRR")


def _wood(plan: SeasonPlan) -> dict[str, Any]:
    """Sum by calendar year and tree."""
    keys = [plan.wood["month"].dt.year, plan.wood["crop"], plan.wood["use"]]
    means = plan.wood.groupby(keys)[["height_m", "diameter_cm"]].mean()
    ends = [f"{stem}_{end}" for stem in ("dry_kg", "m3", "income") for end in ("low", "likely", "high")]
    sums = plan.wood.groupby(keys)[["trees", *ends]].sum().join(means)
    rows = []
    for row in records(sums.reset_index(names=["year", "crop", "use"])):
        size = f"{number(row.number('height_m'), 1)} m, {number(row.number('diameter_cm'))} cm"
        tonnes = " to ".join(number(row.number(f"dry_kg_{end}") / 1000, 1) for end in ("low", "high"))
        volume = " to ".join(number(row.number(f"m3_{end}"), 1) for end in ("low", "high"))
        income = number(row.number("income_likely")) if row.text("use") == "sold" else NOTHING
        said = [row.text("use"), income]
        rows.append(
            [
                str(row.whole("year")),
                crop_words(row.text("crop")),
                number(row.whole("trees")),
                size,
                tonnes,
                volume,
                *said,
            ]
        )
    head = [
        "Year",
        "Tree",
        "Felled",
        "Height, stem",
        "Dry wood, t",
        "Volume, m³",
        "Use",
        f"Income, {plan.rule.currency}",
    ]
    return table(head, rows, align="llRlRRlR")


def _planting_days(plan: SeasonPlan) -> dict[str, Any]:
    rows = []
    for _, part in list(plan.material_days.groupby("day"))[:_MOST_DAYS]:
        when = part["day"].iloc[0]
        sums = part.groupby("crop", sort=False)["total"].sum()
        beds = part["bed"].drop_duplicates()
        span = str(beds.iloc[0]) if len(beds) == 1 else f"{beds.iloc[0]} to {beds.iloc[-1]}"
        what = ", ".join(f"{crop_words(str(crop))} {number(n)}" for crop, n in sums.items())
        rows.append([f"{when:%a} {day(when)}", span, what])
    return table(["Day", "Beds", "Pieces with spares"], rows, align="llL")


def _planting_note(plan: SeasonPlan) -> str:
    days = plan.material_days["day"].nunique()
    more = f"The first {_MOST_DAYS} of {days} planting days. " if days > _MOST_DAYS else ""
    return f"{more}Bed by bed in table season_material_days."


def _labour(plan: SeasonPlan) -> dict[str, Any]:
    first = plan.labour.merge(plan.cash[["month", "year"]], on="month")
    grid = first.pivot_table(index="year", columns="task", values="hours", aggfunc="sum", fill_value=0.0)
    tasks = [task for task in TASKS if task in grid.columns]
    rows = [
        [f"Year {year}", *(number(grid.loc[year, t]) for t in tasks), number(grid.loc[year].sum())]
        for year in grid.index
    ]
    total = ["Sum", *(number(grid[t].sum()) for t in tasks), number(grid.to_numpy().sum())]
    return table(
        ["Hours", *(TASK_WORDS[t] for t in tasks), "All"], rows, align="l" + "r" * (len(tasks) + 1), sum_row=total
    )


def _harvest(plan: SeasonPlan) -> dict[str, Any]:
    sums = plan.yields.groupby("crop")[[c for c in plan.yields.columns if "_" in c]].sum()
    rows = [
        [crop_words(str(code)), *(number(v) for v in row)]
        for code, row in zip(sums.index, sums.to_numpy(), strict=True)
    ]
    total = ["Sum", *(number(v) for v in sums.sum())]
    money = plan.rule.currency
    head = ["Crop, all years", "kg low", "kg likely", "kg high", f"Income low, {money}", "likely", "high"]
    return table(head, rows, align="Lrrrrrr", sum_row=total)


def _by_zone(plan: SeasonPlan) -> dict[str, Any]:
    columns = list(plan.by_zone.columns[1:])
    rows = [[str(r["zone"]), *(number(r[k]) for k in columns)] for r in plan.by_zone.to_dict("records")]
    total = ["Sum", *(number(v) for v in plan.by_zone[columns].sum(min_count=1))]
    money = plan.rule.currency
    head = ["Zone", "Planting points", "Work, h", f"Wages, {money}", "Harvest, kg", f"Income, {money}"]
    return table(head, rows, align="Lrrrrr", sum_row=total)


def _years(plan: SeasonPlan) -> dict[str, Any]:
    keys = ["income_likely", "material", "labour_likely", "other", "net_likely"]
    ends = ["balance_low", "balance_p10", "balance_p50", "balance_likely", "balance_p90", "balance_high"]
    rows = [[str(r.whole("year")), *(number(r.number(k)) for k in keys + ends)] for r in records(plan.years)]
    total = ["Sum", *(number(plan.years[k].sum()) for k in keys), *[""] * len(ends)]
    head = [
        "Year",
        "Income",
        "Material",
        "Labour",
        "Other",
        "Net",
        "Balance low",
        "1 of 10",
        "median",
        "likely",
        "9 of 10",
        "high",
    ]
    return table(head, rows, align="l" + "r" * 11, sum_row=total)


def _months(plan: SeasonPlan) -> dict[str, Any]:
    keys = [
        "income_likely",
        "material",
        "labour_likely",
        "other",
        "net_low",
        "net_likely",
        "net_high",
        "balance_likely",
    ]
    frame = plan.cash[plan.cash["year"] <= 2]
    rows = [[f"{r.day('month'):%Y-%m}", *(number(r.number(k)) for k in keys)] for r in records(frame)]
    head = ["Month", "Income", "Material", "Labour", "Other", "Net low", "Net likely", "Net high", "Balance"]
    return table(head, rows, align="l" + "r" * 8)


def _figures(plan: SeasonPlan) -> dict[str, Any]:
    rows = [[r.text("figure").capitalize(), r.text("reading"), r.text("definition")] for r in records(plan.figures)]
    return table(["Figure", "Value", "How it is computed"], rows, align="lLW")


def _free(plan: SeasonPlan) -> dict[str, Any]:
    frame = plan.free_beds[plan.free_beds["weeks"] >= _LEAST_WEEKS]
    keys = [frame["free_from"].dt.to_period("M"), frame["free_to"].dt.to_period("M"), frame["next_planting"]]
    spans = {"begin": ("free_from", "min"), "end": ("free_to", "max")}
    parts = {"beds": ("bed", "size"), "first": ("bed", "first"), "last": ("bed", "last")}
    groups = frame.groupby(keys, sort=False).agg(**parts, **spans)
    rows = []
    for row in records(groups.head(_MOST_FREE).reset_index(level=-1)):
        count, first = row.number("beds"), row.text("first")
        names = first if count == 1 else f"{first} to {row.text('last')}"
        days = [day(row.day("begin")), day(row.day("end"))]
        rows.append([names, number(count), *days, row.text("next_planting") or NOTHING])
    return table(["Beds", "Number", "Free from", "Free to", "Next planting"], rows, align="Lrlll")


def _free_note(plan: SeasonPlan) -> str:
    return (
        f"Spans of at least {_LEAST_WEEKS} weeks; those that begin and end in the same months stand in one line. All "
        f"{len(plan.free_beds)} spans of a week and more, bed by bed, are in table season_free_beds."
    )


def _rates(plan: SeasonPlan) -> dict[str, Any]:
    """Crops that share a rate and its source stand in one line."""
    keys = ["item", "value", "unit", "whose", "source"]
    groups = plan.rates.groupby(keys, sort=False)["subject"].agg(", ".join).reset_index()
    order = {item: k for k, item in enumerate(plan.rates["item"].unique())}
    lines = sorted(records(groups), key=lambda line: order[line.text("item")])
    rows = [
        [
            *(line.text(key).replace("_", " ") for key in ("item", "subject")),
            *(line.text(key) for key in ("value", "unit", "whose", "source")),
        ]
        for line in lines
    ]
    return table(["What", "For", "Value", "Unit", "Whose", "Source"], rows, align="LLLLlW")
