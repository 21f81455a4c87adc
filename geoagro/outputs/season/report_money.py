"""Tables of the season report on harvest and money, as text."""

from __future__ import annotations

from typing import Any

from geoagro.outputs.season.names import Names
from geoagro.outputs.season.report_tables import Table, span, table
from geoagro.outputs.words.say import NOTHING
from geoagro.values.base.records import records
from geoagro.values.words import meant, say


def money_tables(names: Names) -> dict[str, Any]:
    """Tables of wood, harvest, zones, years, months and key figures."""
    return {
        "wood": _wood(names),
        "harvest": _harvest(names),
        "by_zone": _by_zone(names),
        "years": _years(names),
        "months": _months(names),
        "figures": _figures(names),
    }


def _wood(names: Names) -> Table:
    """Sum by calendar year and tree."""
    words, wood = names.words, names.plan.wood
    keys = [wood["month"].dt.year, wood["crop"], wood["use"]]
    means = wood.groupby(keys)[["height_m", "diameter_cm"]].mean()
    ends = [f"{stem}_{end}" for stem in ("dry_kg", "m3", "income") for end in ("low", "likely", "high")]
    sums = wood.groupby(keys)[["trees", *ends]].sum().join(means)
    rows = [
        [
            str(row.whole("year")),
            names.crop(row.text("crop")),
            words.number(row.whole("trees")),
            words(say("{height:.1f} m, {stem:.0f} cm"), height=row.number("height_m"), stem=row.number("diameter_cm")),
            span(names, [row.number(f"dry_kg_{end}") / 1000 for end in ("low", "high")], 1),
            span(names, [row.number(f"m3_{end}") for end in ("low", "high")], 1),
            names.cell("use", row.text("use")),
            words.number(row.number("income_likely")) if row.text("use") == "sold" else NOTHING,
        ]
        for row in records(sums.reset_index(names=["year", "crop", "use"]))
    ]
    head = (
        say("Year"),
        say("Tree"),
        say("Felled"),
        say("Height, stem"),
        say("Dry wood, t"),
        say("Volume, m³"),
        say("Use"),
    )
    income = words(say("Income, {money}"), money=names.plan.rule.currency)
    return table([*(words(text) for text in head), income], rows, align="llRlRRlR")


def _harvest(names: Names) -> Table:
    words, plan = names.words, names.plan
    sums = plan.yields.groupby("crop")[[c for c in plan.yields.columns if "_" in c]].sum()
    rows = [
        [names.crop(str(code)), *(words.number(v) for v in row)]
        for code, row in zip(sums.index, sums.to_numpy(), strict=True)
    ]
    total = [words(say("Sum")), *(words.number(v) for v in sums.sum())]
    head = [
        words(say("Crop, all years")),
        *(words(text) for text in (say("kg low"), say("kg likely"), say("kg high"))),
        words(say("Income low, {money}"), money=plan.rule.currency),
        words(say("likely")),
        words(meant("range", "high")),
    ]
    return table(head, rows, align="Lrrrrrr", sum_row=total)


def _by_zone(names: Names) -> Table:
    words, zones, money = names.words, names.plan.by_zone, names.plan.rule.currency
    columns = list(zones.columns[1:])
    rows = [
        [names.cell("zone", str(r["zone"])), *(words.number(r[k]) for k in columns)] for r in zones.to_dict("records")
    ]
    total = [words(say("Sum")), *(words.number(v) for v in zones[columns].sum(min_count=1))]
    head = [
        words(say("Zone")),
        words(say("Planting points")),
        words(say("Work, h")),
        words(say("Wages, {money}"), money=money),
        words(say("Harvest, kg")),
        words(say("Income, {money}"), money=money),
    ]
    return table(head, rows, align="Lrrrrr", sum_row=total)


def _years(names: Names) -> Table:
    words, years = names.words, names.plan.years
    keys = ["income_likely", "material", "labour_likely", "other", "net_likely"]
    ends = ["balance_low", "balance_p10", "balance_p50", "balance_likely", "balance_p90", "balance_high"]
    rows = [[str(r.whole("year")), *(words.number(r.number(k)) for k in keys + ends)] for r in records(years)]
    total = [words(say("Sum")), *(words.number(years[k].sum()) for k in keys), *[""] * len(ends)]
    head = (
        say("Year"),
        say("Income"),
        say("Material"),
        say("Labour"),
        say("Other"),
        say("Net"),
        say("Balance low"),
        say("1 of 10"),
        say("median"),
        say("likely"),
        say("9 of 10"),
        meant("range", "high"),
    )
    return table([words(text) for text in head], rows, align="l" + "r" * 11, sum_row=total)


def _months(names: Names) -> Table:
    words = names.words
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
    frame = names.plan.cash[names.plan.cash["year"] <= 2]
    rows = []
    for r in records(frame):
        month = r.day("month")
        assert month is not None  # every line of the table has its month
        rows.append([words.month(month), *(words.number(r.number(k)) for k in keys)])
    head = (
        say("Month"),
        say("Income"),
        say("Material"),
        say("Labour"),
        say("Other"),
        say("Net low"),
        say("Net likely"),
        say("Net high"),
        say("Balance"),
    )
    return table([words(text) for text in head], rows, align="W" + "R" * 8)


def _figures(names: Names) -> Table:
    words = names.words
    rows = [
        [words.title(words(r.text("figure"))), words(r.text("reading")), words(r.text("definition"))]
        for r in records(names.plan.figures)
    ]
    return table([words(t) for t in (say("Figure"), say("Value"), say("How it is computed"))], rows, align="lLW")
