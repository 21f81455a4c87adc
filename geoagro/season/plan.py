"""The season plan, step by step."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

import numpy as np
import pandas as pd

from geoagro.season.calendars import bed_calendar, dated_tasks, planting_calendar
from geoagro.season.clock import Clock, last_day
from geoagro.season.crew import level_with_crew, people_by_day
from geoagro.season.crops import SeasonCrop, season_crops
from geoagro.season.figures import key_figures
from geoagro.season.findings import all_findings
from geoagro.season.lots import field_lots, walking_order
from geoagro.season.material import material_by_crop, material_by_day
from geoagro.season.money import full_places, material_costs, plan_money, work_by_day, work_by_month
from geoagro.season.occupancy import bed_months, free_beds, standing
from geoagro.season.rates import BedRates, bed_rates
from geoagro.season.tasks import all_tasks
from geoagro.season.weeding import bed_cover
from geoagro.season.windows import planting_days
from geoagro.values.beds import Beds
from geoagro.values.plants import Plants
from geoagro.values.progress import Progress, silent
from geoagro.values.recipe import Crop
from geoagro.values.season import SeasonRule
from geoagro.values.season_tables import RATES, SeasonPlan


def plan_season(
    plants: Plants,
    beds: Beds,
    crops: Mapping[str, Crop],
    cover: Any,
    rule: SeasonRule,
    *,
    name: str,
    start: date,
    area_ha: float,
    progress: Progress = silent,
) -> SeasonPlan:
    """Plan material, work, harvest and money from what stands where.

    Parameters
    ----------
    crops
        Complete record of every crop that is planted, by code.
    cover
        Frame of layer COVER: ground cover of every planted bed by month.
    start
        Day on which week 0 begins.
    area_ha
        Area of the field, for costs and figures per hectare.

    Raises
    ------
    DesignError
        Where the season names crops that aren't there, or a window leaves a crop no day.
    LayoutError
        Where nothing is planted, or ground cover is missing.
    """
    progress("season: tasks", 0.0)
    settled = season_crops(plants.frame["crop"].unique(), crops, rule)
    last = last_day(start, rule.years)
    perennials = [code for code, crop in settled.items() if crop.perennial]
    lots = field_lots(plants.frame, beds, rule.vegetables, last=last, perennials=perennials)
    clock = Clock(start, _first_day(settled, rule), last)
    shares = bed_cover(cover, lots["bed"].unique().tolist())
    days = planting_days(settled, rule.windows, clock)
    rates = bed_rates(rule.hours)
    tasks, moved = all_tasks(lots, settled, cover=shares, days=days, rule=rule, rates=rates)
    progress("season: levelling the work", 0.2)
    people, plan, late = level_with_crew(tasks, rule.crew, days.allowed, clock)
    progress("season: tables", 0.7)
    dated = dated_tasks(tasks, plan, late)
    stands = standing(tasks, plan, moved, settled, clock)
    order = _bed_list(beds, lots)
    by_day = work_by_day(tasks, plan, people_by_day(rule.crew, clock, people), rule, clock)
    material_days = material_by_day(tasks, plan, settled, clock)
    material = material_by_crop(material_days, settled)
    calendar = planting_calendar(dated, clock)
    paid = material_costs(material_days, settled, clock)
    places = full_places(tasks, plan, settled, clock)
    labour = work_by_month(by_day, rule)
    money = plan_money(places, labour, material=paid, area_ha=area_ha, crops=settled, rule=rule, clock=clock)
    return SeasonPlan(
        name=name,
        start=start,
        rule=rule,
        people=people,
        material=material,
        material_days=material_days,
        calendar=calendar,
        bed_tasks=bed_calendar(dated, clock),
        days=by_day,
        labour=money.labour,
        yields=money.yields,
        cash=money.cash,
        years=money.years,
        figures=key_figures(
            money, rule, clock, material=material, calendar=calendar, days=by_day, people=people, area_ha=area_ha
        ),
        bed_months=bed_months(stands, order, clock),
        free_beds=free_beds(stands, order, clock),
        findings=all_findings(
            lots=lots, dated=dated, stands=stands, crops=settled, days=days, people=people, rule=rule
        ),
        rates=_rate_table(settled, rates, rule),
    )


def _first_day(crops: dict[str, SeasonCrop], rule: SeasonRule) -> int:
    """Day of the earliest work there can be: the longest nursery or the making of beds before the start."""
    lead = max([round(7 * rule.prepare_lead_weeks), *(crop.nursery_days for crop in crops.values())])
    return -lead


def _bed_list(beds: Beds, lots: Any) -> Any:
    """Bed, row and walk of the beds, in walking order; beds that no recipe uses are in it too: they are free."""
    every = pd.concat([beds.tree_beds[["bed", "row"]], beds.beds[["bed", "row"]]], ignore_index=True)
    order = pd.DataFrame(every).merge(walking_order(beds), on="bed").sort_values("walk", ignore_index=True)
    unused_trees = ~order["bed"].isin(lots["bed"]) & order["bed"].astype(str).str.contains("-T")
    return order[~unused_trees].reset_index(drop=True)


def _rate_table(crops: dict[str, SeasonCrop], rates: BedRates, rule: SeasonRule) -> Any:
    rows = [("all beds", *row) for row in rates.sources]
    for crop in crops.values():
        rows += [(crop.code, *row) for row in crop.sources]
    drawn = rule.simulation
    rows += [
        ("money", "discount rate", f"{rule.discount_rate:g}", "a year", "design file or its default"),
        (
            "work",
            "labour range",
            " ".join(f"{v:g}" for v in rule.labour_range.values),
            "x rates",
            "design file or default",
        ),
        (
            "weeding",
            "bare weeks per round",
            f"{rule.weeding.bare_weeks:g}",
            "weeks",
            "design file or default (own rule)",
        ),
        (
            "simulation",
            "distribution",
            f"{drawn.shape}, correlation {drawn.correlation:g}",
            "",
            "design file or default",
        ),
    ]
    columns = list(zip(*rows, strict=True))
    return RATES.frame({key: np.array(columns[k], dtype=object) for k, key in enumerate(RATES.columns)})
