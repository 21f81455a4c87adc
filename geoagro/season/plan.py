"""The season plan, step by step."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

import numpy as np
import pandas as pd

from geoagro.season.by_zone import zone_table
from geoagro.season.calendars import bed_calendar, dated_tasks, planting_calendar, work_spells
from geoagro.season.crops import SeasonCrop
from geoagro.season.figures import key_figures
from geoagro.season.findings import all_findings
from geoagro.season.husbandry.climate import climate_findings
from geoagro.season.husbandry.free_ground import upkeep_findings, with_upkeep
from geoagro.season.husbandry.nutrients import nutrient_findings, nutrient_table
from geoagro.season.husbandry.orders import orders
from geoagro.season.husbandry.outlets import outlet_findings
from geoagro.season.husbandry.rotation import rotation_findings
from geoagro.season.husbandry.task_cautions import work_cautions
from geoagro.season.husbandry.wood import sold_wood, wood_findings, wood_places, wood_table
from geoagro.season.load import load_by_week
from geoagro.season.lots import bed_list
from geoagro.season.material import material_by_crop, material_by_day
from geoagro.season.money import Money, full_places, material_costs, plan_money, work_by_day, work_by_month
from geoagro.season.occupancy import bed_months, free_beds, standing
from geoagro.season.rates import rate_table
from geoagro.season.records.tables import COVER_PLANTING, FREE_BEDS, SeasonPlan
from geoagro.season.schedule import NEVER
from geoagro.season.work import Work, plan_work
from geoagro.values.beds import Beds
from geoagro.values.plants import Plants
from geoagro.values.progress import Progress, silent
from geoagro.values.recipe import Crop
from geoagro.values.season import Climate, SeasonRule
from geoagro.values.timeline import Timeline
from geoagro.values.words import CropName, Sentence
from geoagro.values.yields import YieldsInCompany


def plan_season(
    plants: Plants,
    beds: Beds,
    crops: Mapping[str, Crop],
    cover: pd.DataFrame,
    rule: SeasonRule,
    *,
    timeline: Timeline | None = None,
    yields: YieldsInCompany | None = None,
    climate: Climate | None = None,
    zones: Any = None,
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
    timeline
        All rounds on the places of `plants`; worked out here where it isn't given.
    cover
        Frame of layer COVER: ground cover of every planted bed by month.
    yields
        What company and shade leave of each crop's yield; where None every place yields as if it stood alone.
    start
        Day on which week 0 begins.
    climate
        The user's monthly climate, for what is said of dry spells.
    area_ha
        Area of the field, for costs and figures per hectare.
    zones
        Layer ZONES of the layout, for the table by zone; None where there are none.

    Raises
    ------
    DesignError
        Where the season names crops that aren't there, or a window leaves a crop no day.
    LayoutError
        Where nothing is planted, or ground cover is missing.
    """
    timeline = timeline or Timeline.of(plants.frame, crops, rule, start=start)
    work = plan_work(
        plants.frame, beds, crops, cover, rule, timeline=timeline, yields=yields, start=start, progress=progress
    )
    progress("season: tables", 0.7)
    when = _when(work)
    what = _what(work)
    wood = wood_table(_by_month(work), work.crops)
    sold = sold_wood(wood, work.crops)
    money = _money(work, what, when["days"], area_ha, wood=wood, sold=sold)
    books = {
        "labour": money.labour,
        "yields": money.yields,
        "cash": money.cash,
        "years": money.years,
        "sensitivity": money.sensitivity,
    }
    stands = standing(work.tasks, work.plan, work.lots, work.crops, work.clock)
    free = _free(work, beds, stands)
    figures = key_figures(
        money,
        rule,
        work.clock,
        material=what["material_days"][what["material_days"]["planting"] != COVER_PLANTING],
        calendar=when["calendar"],
        days=when["days"],
        people=work.people,
        area_ha=area_ha,
        standing=timeline.most_at_once(),
    )
    ground = _ground(work, beds, money, area_ha, climate, stands=stands, free=free, yields=yields, wood=wood, sold=sold)
    own = zone_table(work, plants.frame, zones)
    names = {
        code: crop.name if isinstance(crop.name, Sentence) else CropName(crop.name)
        for code, crop in (work.crops | sold).items()
    }
    return SeasonPlan(
        name, start, rule, work.people, figures=figures, by_zone=own, names=names, **when, **what, **books, **ground
    )


def _when(work: Work) -> dict[str, Any]:
    """Tables of time and work."""
    dated = dated_tasks(work.tasks, work.plan, work.late)
    hours_per_day = work.rule.crew.hours_per_day
    return {
        "calendar": planting_calendar(dated, work.crops, work.clock, machine=work.rule.hours.tool == "machine"),
        "spells": work_spells(work.tasks, work.plan, work.clock),
        "bed_tasks": bed_calendar(dated, work.clock),
        "days": work_by_day(work.tasks, work.plan, work.present, work.rule, work.clock),
        "weeks": load_by_week(work.tasks, work.plan, work.present, hours_per_day, work.clock),
    }


def _what(work: Work) -> dict[str, Any]:
    """Tables of material and rates."""
    days = material_by_day(work.tasks, work.plan, work.crops, work.clock)
    return {
        "material_days": days,
        "orders": orders(days, work.crops),
        "material": material_by_crop(days, work.crops),
        "rates": rate_table(work.crops, work.rates, work.rule),
    }


def _money(
    work: Work,
    what: dict[str, Any],
    days: pd.DataFrame,
    area_ha: float,
    *,
    wood: pd.DataFrame,
    sold: dict[str, SeasonCrop],
) -> Money:
    """Tables of money; wood that is sold stands among the crops, by codes of its own."""
    places = full_places(work.tasks, work.plan, work.crops, work.clock)
    return plan_money(
        np.vstack([places, wood_places(wood, list(sold), work.clock)]),
        work_by_month(days, work.rule),
        material=material_costs(what["material_days"], work.crops, work.clock),
        area_ha=area_ha,
        crops=work.crops | sold,
        rule=work.rule,
        clock=work.clock,
    )


def _free(work: Work, beds: Beds, stands: pd.DataFrame) -> pd.DataFrame:
    """Table FREE_BEDS."""
    free = free_beds(stands, bed_list(beds, work.lots), work.clock)
    return FREE_BEDS.of(with_upkeep(free, work.tasks.frame, work.plan.begin, work.days, work.rule))


def _ground(
    work: Work,
    beds: Beds,
    money: Money,
    area_ha: float,
    climate: Climate | None,
    *,
    stands: pd.DataFrame,
    free: pd.DataFrame,
    yields: YieldsInCompany | None,
    wood: pd.DataFrame,
    sold: dict[str, SeasonCrop],
) -> dict[str, Any]:
    """Tables of the ground, and what was found."""
    order, company = bed_list(beds, work.lots), yields is not None
    uncorrected = [
        (
            "note",
            kind.planting,
            Sentence("Its yield isn't corrected for company and shade: {why}.", why=Sentence.of(why)),
        )
        for kind, why in (yields.uncorrected if yields is not None else ())
    ]
    nutrients = nutrient_table(_by_month(work), money.yields, work.crops)
    more = [
        *rotation_findings(stands, work.crops, work.rule),
        *outlet_findings(money.yields, work.crops | sold),
        *upkeep_findings(free, _hours_of(money, "cut"), work.rates, work.rule),
        *(climate_findings(stands, work.crops, climate, work.clock) if climate is not None else ()),
        *wood_findings(wood),
        *nutrient_findings(nutrients, work.crops, area_ha, work.rule.years),
        *work_cautions(
            work.tasks.frame["task"].unique(), work.crops.values(), machine=work.rule.hours.tool == "machine"
        ),
    ]
    return {
        "bed_months": bed_months(stands, order, work.clock),
        "free_beds": free,
        "nutrients": nutrients,
        "wood": wood,
        "findings": all_findings(work, stands, money.sensitivity, [*more, *uncorrected], company=company),
    }


def _hours_of(money: Money, task: str) -> float:
    return float(money.labour.loc[money.labour["task"] == task, "hours"].sum())


def _by_month(work: Work) -> pd.DataFrame:
    """Tasks with the month in which the levelled plan begins them."""
    begin = work.plan.begin
    month = work.clock.dates(np.where(begin == NEVER, 0, begin)).astype("datetime64[M]").astype("datetime64[D]")
    return work.tasks.frame.assign(month=np.where(begin == NEVER, np.datetime64("NaT"), month))
