"""The tables of a season plan, and the plan that carries them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any, ClassVar

import pandas as pd

from geoagro.season.records.figures import Key
from geoagro.season.records.wood import WOOD
from geoagro.values.base.records import Record, records
from geoagro.values.base.value import Value
from geoagro.values.layers import Field, LayerSpec
from geoagro.values.rules.bed_kinds import KIND_WORDS
from geoagro.values.season import SeasonRule
from geoagro.values.words import say

COVER_PLANTING = say("cover crop")
"""Planting of the cover crops that free beds are sown with."""

_CROP = Field("crop", "text", "Crop code.")
_PLANTING = Field("planting", "text", "Name of the planting in the design file.")
_BED = Field("bed", "text", "Bed id.")
_ROW = Field("row", "int", "Tree row that the bed is measured from.")
_MONTH = Field("month", "date", "First day of the month.")
_TASK = Field(
    "task", "text", "fence, nursery, prepare, plant, replace, water, mulch, weed, cut, prune, fell or harvest."
)
_HOURS = Field("hours", "float", "Hours of work of one person.", "h")


def _three(stem: str, description: str, unit: str) -> tuple[Field, ...]:
    return tuple(Field(f"{stem}_{k}", "float", f"{description}, {k}.", unit) for k in ("low", "likely", "high"))


MATERIAL = LayerSpec(
    "season_material",
    "Planting material by crop",
    "none",
    (
        _CROP,
        Field("material", "text", "What is planted."),
        Field("places", "int", "Planting points, each as often as it is planted."),
        Field("pieces", "int", "Pieces that must stand: planting points x pieces at each."),
        Field("spares", "int", "More pieces, from the expected losses."),
        Field("total", "int", "Pieces to get: pieces + spares."),
        Field("weight_kg", "float", "Weight of the total; empty where pieces aren't weighed.", "kg"),
        Field("mothers", "int", "Mother plants (cassava: stems) to cut the total from; 0 where none are cut."),
        Field("nursery_sown", "int", "Pieces to sow in the nursery for the total; 0 without a nursery."),
        Field("first_sowing", "date", "First day of nursery work; empty without a nursery."),
        Field("first_planting", "date", "First day of planting by the levelled plan."),
        Field("last_planting", "date", "Last day of planting by the levelled plan."),
        Field("cost", "float", "Cost of the total; empty where no unit cost is given.", "money"),
    ),
)

MATERIAL_DAYS = LayerSpec(
    "season_material_days",
    "Planting material by day and bed",
    "none",
    (
        Field("day", "date", "Day of planting by the levelled plan."),
        _ROW,
        _BED,
        _PLANTING,
        _CROP,
        Field("material", "text", "What is planted."),
        Field("places", "int", "Planting points done on this day in this bed."),
        Field("total", "int", "Pieces to bring, with spares."),
        Field("weight_kg", "float", "Weight of the pieces; empty where they aren't weighed.", "kg"),
        Field("sow_on", "date", "Day to sow them in the nursery; empty without a nursery."),
    ),
)

ORDERS = LayerSpec(
    "season_orders",
    "What to order by when",
    "none",
    (
        Field("order_by", "date", "Order, or begin the nursery, by this day: 4 weeks or the nursery before planting."),
        Field("needed_on", "date", "First day of planting of this wave by the levelled plan."),
        Field("needed_to", "date", "Last day of planting of this wave."),
        _CROP,
        Field("material", "text", "What is planted."),
        Field("beds", "text", "First to last bed of this wave."),
        Field("total", "int", "Pieces, with spares for losses."),
        Field("own", "int", "Of these, cuttings from the field's own earlier plants of the crop."),
        Field("to_get", "int", "Pieces to get: total - own."),
        Field("packs", "int", "Whole packs of `pack` pieces; 0 where no pack is given."),
        Field("weight_kg", "float", "Weight of the total; empty where pieces aren't weighed.", "kg"),
        Field("ask", "text", "What to ask the seller or the authorities."),
        Field("notes", "text", "What is worth knowing of the crop."),
    ),
)

_N, _P, _K = ("nitrogen (N)", "phosphorus (P)", "potassium (K)")

NUTRIENTS = LayerSpec(
    "season_nutrients",
    "Nutrients given and taken",
    "none",
    (
        _MONTH,
        Field("way", "text", "'given' by prunings left as mulch, or 'taken' with the harvest."),
        _CROP,
        Field("kg", "float", "Fresh prunings, or harvest (likely).", "kg"),
        *(
            Field(f"{element}_{end}", "float", f"{words}, {end} estimate; below 0 what is taken.", "kg")
            for element, words in (("n", _N), ("p", _P), ("k", _K))
            for end in ("low", "high")
        ),
    ),
)

_WHEN = (
    Field("earliest", "date", "First day on which it may begin if all goes as wanted."),
    Field("likely_from", "date", "First day by the levelled plan; empty if never reached."),
    Field("likely_to", "date", "Last day by the levelled plan; empty if never reached."),
    Field("latest", "date", "Last day on which it does no harm."),
    _HOURS,
    Field("late_days", "int", "Days by which the levelled plan passes the latest day.", "d"),
)

CALENDAR = LayerSpec(
    "season_calendar",
    "Calendar by planting",
    "none",
    (
        _TASK,
        _PLANTING,
        _CROP,
        Field("bed_kind", "text", KIND_WORDS),
        Field(
            "planting_no",
            "int",
            "1 for the first planting of the beds, 2 for the next one, ...; from 101 on cover crops; year of a cut.",
        ),
        Field("round", "int", "Number of the round, 1 for tasks that are done once."),
        Field("beds", "int", "Beds in which it is done."),
        Field("places", "int", "Planting points."),
        *_WHEN,
        Field("caution", "text", "What can hurt people; empty where there is no usual caution."),
    ),
)

SPELLS = LayerSpec(
    "season_spells",
    "Days of work by task",
    "none",
    (
        _TASK,
        _PLANTING,
        _CROP,
        Field("bed_kind", "text", KIND_WORDS),
        Field("planting_no", "int", "As in the calendar by planting."),
        Field("round", "int", "Number of the round, 1 for tasks that are done once."),
        Field(
            "spell", "int", "1 for the first run of days on which the task is worked at without a break, then 2, ..."
        ),
        Field("first", "date", "First day of the run."),
        Field("last", "date", "Last day of the run; work is done on every day from first to last."),
        Field("hours", "float", "Hours of work in the run.", "h"),
    ),
)

BED_TASKS = LayerSpec(
    "season_bed_tasks",
    "Calendar by bed",
    "none",
    (
        _BED,
        _ROW,
        _TASK,
        _PLANTING,
        _CROP,
        Field(
            "planting_no",
            "int",
            "1 for the first planting of the bed, 2 for the next one, ...; from 101 on cover crops; year of a cut.",
        ),
        Field("round", "int", "Number of the round, 1 for tasks that are done once."),
        *_WHEN,
    ),
)

DAYS = LayerSpec(
    "season_days",
    "Work by day",
    "none",
    (
        Field("day", "date", "Working day."),
        _TASK,
        _HOURS,
        Field("person_days", "float", "Hours / hours per day.", "d"),
        Field("people", "float", "People there on this day."),
    ),
)

WEEKS = LayerSpec(
    "season_weeks",
    "Load by week",
    "none",
    (
        Field("week", "date", "Monday of the week."),
        Field("wanted", "float", "Person-days if each task were done evenly from its earliest to its latest day.", "d"),
        Field("person_days", "float", "Person-days of the levelled plan.", "d"),
        Field("capacity", "float", "Person-days that the crew can work, with helpers, without pauses.", "d"),
    ),
)

LABOUR = LayerSpec(
    "season_labour",
    "Work by month",
    "none",
    (
        _MONTH,
        _TASK,
        _HOURS,
        Field("person_days", "float", "Hours / hours per day.", "d"),
        Field("cost", "float", "Hours x wage; empty without a wage.", "money"),
    ),
)

YIELDS = LayerSpec(
    "season_yield",
    "Harvest by month and crop",
    "none",
    (
        _MONTH,
        _CROP,
        *_three("kg", "Harvest", "kg"),
        *_three("income", "Harvest x share sold x price; 0 without a price", "money"),
    ),
)

_CASH = (
    *_three("income", "Income", "money"),
    Field("material", "float", "Cost of planting material.", "money"),
    *_three("labour", "Cost of labour: hours x wage x labour range", "money"),
    Field("other", "float", "Other costs of the design file.", "money"),
    *_three("net", "Income - costs (low: low income with high labour)", "money"),
    *_three("balance", "Sum of net up to here", "money"),
)

_RUNS = (
    Field("balance_p10", "float", "Balance below which 1 of 10 simulated runs lies.", "money"),
    Field("balance_p50", "float", "Median balance of the simulated runs.", "money"),
    Field("balance_p90", "float", "Balance above which 1 of 10 simulated runs lies.", "money"),
)

CASH = LayerSpec(
    "season_cash",
    "Money by month",
    "none",
    (
        _MONTH,
        Field("year", "int", "Year of the plan; what comes before the start counts to year 1."),
        *_CASH,
        *_RUNS,
    ),
)

YEARS = LayerSpec(
    "season_years",
    "Money and work by year",
    "none",
    (
        Field("year", "int", "Year of the plan."),
        _HOURS,
        *_three("kg", "Harvest of all crops", "kg"),
        *_CASH,
        *_RUNS,
    ),
)

FIGURES = LayerSpec(
    "season_figures",
    "Key figures",
    "none",
    (
        Field("figure", "text", "Name."),
        Field("value", "float", "Value in `unit`; empty where there is none."),
        Field("unit", "text", "Unit."),
        Field("reading", "text", "The same in words."),
        Field("definition", "text", "How it is computed."),
        Field("key", "text", "Name of the figure for programs; it stays when the words change."),
    ),
)

SENSITIVITY = LayerSpec(
    "season_sensitivity",
    "What matters most",
    "none",
    (
        Field("subject", "text", "Crop, all work, or all crops (all their yields, or prices, at once)."),
        Field("item", "text", "'yield', 'price' or 'hours'."),
        Field(
            "whose",
            "text",
            "Whose assumption it is: 'yours' (design file), 'library' (good practice, model) or 'both'.",
        ),
        Field("at_low", "float", "Net present value with this at its low end in all years, all else likely.", "money"),
        Field(
            "at_high", "float", "Net present value with this at its high end in all years, all else likely.", "money"
        ),
        Field("swing", "float", "Difference of the two, without sign.", "money"),
        Field("likely", "float", "Likely value; 1 where all crops are moved by one multiple."),
        Field("zero_at", "float", "Value at which the net present value is zero, all else likely; empty below 0."),
        Field("turns", "bool", "Whether this value alone, within its range, decides between gain and loss."),
    ),
)

BED_MONTHS = LayerSpec(
    "season_beds",
    "Which crop stands in which bed, by month",
    "none",
    (
        _BED,
        _ROW,
        _MONTH,
        Field("crops", "text", "Crops that stand there for at least a day, joined by +; empty if free."),
        Field("free_days", "int", "Days of the month on which nothing stands there.", "d"),
    ),
)

FREE_BEDS = LayerSpec(
    "season_free_beds",
    "When beds stand free",
    "none",
    (
        _BED,
        _ROW,
        Field("free_from", "date", "First day without a crop."),
        Field("free_to", "date", "Last day before the next planting, or of the plan."),
        Field("weeks", "float", "Length."),
        Field("next_planting", "text", "What is planted next; empty if nothing."),
        Field("hours", "float", "Cutting what grows there (task `cut`), counted in the plan.", "h"),
        Field("cost", "float", "The same in money; empty without a wage.", "money"),
        Field("cover_crop", "text", "Library crops that have time to cover it; empty if none has."),
    ),
)

FINDINGS = LayerSpec(
    "season_findings",
    "Conflicts, gaps and cautions",
    "none",
    (
        Field("severity", "text", "'warning' (act on it), 'note' (know it) or 'caution' (can hurt people)."),
        Field("subject", "text", "What it is about."),
        Field("text", "text", "What was found and what to do."),
    ),
)

BY_ZONE = LayerSpec(
    "season_by_zone",
    "Season by zone",
    "none",
    (
        Field("zone", "text", "Name of the zone; 'rest of the field' for what no zone holds."),
        Field("places", "int", "Planting points of the plan, each as often as it is planted."),
        Field("hours", "float", "Work over the plan; work on a whole bed or the field is shared out by plants.", "h"),
        Field("wages", "float", "Hours times the wage; empty without a wage.", "currency"),
        Field("kg_likely", "float", "Harvest over the plan, likely.", "kg"),
        Field("income_likely", "float", "Income over the plan, likely.", "currency"),
    ),
)

RATES = LayerSpec(
    "season_rates",
    "Rates and assumptions",
    "none",
    (
        Field("subject", "text", "Crop or task."),
        Field("item", "text", "What the value is."),
        Field("value", "text", "Value; three numbers are low, likely, high."),
        Field("unit", "text", "Unit."),
        Field("whose", "text", "'yours' (design file) or 'library' (default of the program)."),
        Field("source", "text", "Where it comes from."),
    ),
)


SEASON_TABLES = (
    FIGURES, FINDINGS, MATERIAL, MATERIAL_DAYS, ORDERS, CALENDAR, SPELLS, BED_TASKS, DAYS, WEEKS, LABOUR, YIELDS, CASH, YEARS,
    SENSITIVITY, BED_MONTHS, FREE_BEDS, NUTRIENTS, WOOD, BY_ZONE, RATES,
)  # fmt: skip
"""All tables in reading order."""


@dataclass(frozen=True, eq=False, repr=False)
class SeasonPlan(Value):
    """Everything that follows from layout and recipe over the years of the plan.

    `name` is the design's name; `start` the day that week 0 begins on; `rule` what was asked; `people` the crew that the plan was levelled with
    (found, where `auto` was asked); `names` are the crops' by code; each other attribute is a frame of the layer named beside it.

    >>> from geoagro import example_layout, read_crop_library, season_of
    >>> import tempfile
    >>> from datetime import date
    >>> from geoagro.values.season import SeasonRule
    >>> laid, library = example_layout(), read_crop_library()
    >>> season = {"season": SeasonRule(years=1), "start_date": date(2027, 3, 1)}
    >>> design = laid.design.model_copy(update=season)
    >>> plan = season_of(design, laid.plants, laid.beds, library, area_ha=0.16)
    >>> plan.material["crop"].tolist()
    ['apple', 'lettuce']
    """

    LAYERS: ClassVar[Mapping[str, LayerSpec]] = {
        "material": MATERIAL,
        "material_days": MATERIAL_DAYS,
        "orders": ORDERS,
        "calendar": CALENDAR,
        "spells": SPELLS,
        "bed_tasks": BED_TASKS,
        "days": DAYS,
        "weeks": WEEKS,
        "labour": LABOUR,
        "yields": YIELDS,
        "cash": CASH,
        "years": YEARS,
        "figures": FIGURES,
        "sensitivity": SENSITIVITY,
        "bed_months": BED_MONTHS,
        "free_beds": FREE_BEDS,
        "nutrients": NUTRIENTS,
        "wood": WOOD,
        "findings": FINDINGS,
        "rates": RATES,
    }

    name: str
    start: date
    rule: SeasonRule
    people: float
    material: pd.DataFrame  # MATERIAL
    material_days: pd.DataFrame  # MATERIAL_DAYS
    orders: pd.DataFrame  # ORDERS
    calendar: pd.DataFrame  # CALENDAR
    spells: pd.DataFrame  # SPELLS
    bed_tasks: pd.DataFrame  # BED_TASKS
    days: pd.DataFrame  # DAYS
    weeks: pd.DataFrame  # WEEKS
    labour: pd.DataFrame  # LABOUR
    yields: pd.DataFrame  # YIELDS
    cash: pd.DataFrame  # CASH
    years: pd.DataFrame  # YEARS
    figures: pd.DataFrame  # FIGURES
    sensitivity: pd.DataFrame  # SENSITIVITY
    bed_months: pd.DataFrame  # BED_MONTHS
    free_beds: pd.DataFrame  # FREE_BEDS
    nutrients: pd.DataFrame  # NUTRIENTS
    wood: pd.DataFrame  # WOOD
    findings: pd.DataFrame  # FINDINGS
    rates: pd.DataFrame  # RATES
    by_zone: pd.DataFrame  # BY_ZONE
    names: Mapping[str, str]

    def tables(self) -> Iterator[tuple[LayerSpec, Any]]:
        """Each table with its declaration, in reading order."""
        yield from (
            (FIGURES, self.figures),
            (FINDINGS, self.findings),
            (MATERIAL, self.material),
            (MATERIAL_DAYS, self.material_days),
            (ORDERS, self.orders),
            (CALENDAR, self.calendar),
            (SPELLS, self.spells),
            (BED_TASKS, self.bed_tasks),
            (DAYS, self.days),
            (WEEKS, self.weeks),
            (LABOUR, self.labour),
            (YIELDS, self.yields),
            (CASH, self.cash),
            (YEARS, self.years),
            (SENSITIVITY, self.sensitivity),
            (BED_MONTHS, self.bed_months),
            (FREE_BEDS, self.free_beds),
            (NUTRIENTS, self.nutrients),
            (WOOD, self.wood),
            (BY_ZONE, self.by_zone),
            (RATES, self.rates),
        )

    def figure(self, key: Key) -> float:
        """Value of one key figure."""
        return self._line(key).number("value")

    def reading(self, key: Key) -> str:
        """One key figure in words."""
        return self._line(key).text("reading")

    def _line(self, key: Key) -> Record:
        return next(line for line in records(self.figures) if line.text("key") == key)
