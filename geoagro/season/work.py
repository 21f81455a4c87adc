"""Everything settled before tables are written: crops, days, tasks, and the levelled schedule."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date

import geopandas as gpd
import pandas as pd

from geoagro.arrays import Floats
from geoagro.errors import DesignError
from geoagro.season.clock import Clock, Days, last_day
from geoagro.season.company import in_company, year_shares
from geoagro.season.crew import level_with_crew, people_by_day
from geoagro.season.crops import SeasonCrop, season_crops
from geoagro.season.husbandry.free_ground import covers_asked
from geoagro.season.lots import bed_list, field_lots
from geoagro.season.rates import BedRates, bed_rates
from geoagro.season.records.tables import COVER_PLANTING
from geoagro.season.schedule import NEVER, Schedule
from geoagro.season.tasks import Setting, Tasks, all_tasks
from geoagro.season.weeding import bed_cover
from geoagro.season.windows import PlantingDays, planting_days
from geoagro.values.beds import Beds
from geoagro.values.progress import Progress
from geoagro.values.recipe import Crop
from geoagro.values.season import SeasonRule
from geoagro.values.timeline import Timeline
from geoagro.values.yields import YieldsInCompany


@dataclass(frozen=True, eq=False)
class Work:
    """What is to be done, and when it is done.

    Attributes
    ----------
    wanted
        Lots with the days that the recipe wants.
    timeline
        All rounds on the places of the layout.
    lots
        The same lots, moved to the first day that the weather windows allow.
    people
        Crew that the schedule was levelled with.
    late
        Days by which each task ends after its latest day.
    enough
        Fewest people with whom no task is later than it must be; `people` where nothing is late.
    """

    rule: SeasonRule
    clock: Clock
    crops: dict[str, SeasonCrop]
    days: PlantingDays
    rates: BedRates
    timeline: Timeline
    wanted: pd.DataFrame
    lots: pd.DataFrame
    tasks: Tasks
    people: float
    plan: Schedule
    late: Days
    enough: float

    @property
    def present(self) -> Floats:
        """People at work on each day of the plan."""
        return people_by_day(self.rule.crew, self.clock, self.people)


def plan_work(
    plants: gpd.GeoDataFrame,
    beds: Beds,
    crops: Mapping[str, Crop],
    cover: pd.DataFrame,
    rule: SeasonRule,
    *,
    timeline: Timeline,
    yields: YieldsInCompany | None,
    start: date,
    progress: Progress,
) -> Work:
    """Settle crops and days, list the tasks, and level them; see `plan_season` for the arguments."""
    progress("season: tasks", 0.0)
    codes = [*plants["crop"].unique(), *covers_asked(rule)]
    settled = in_company(season_crops(codes, crops, rule), timeline, yields)
    clock = Clock(start, _first_day(settled, rule), last_day(start, rule.years))
    wanted = field_lots(plants, beds, timeline, rule.vegetables, last=clock.last, yields=yields)
    shares = bed_cover(cover, wanted["bed"].unique().tolist())
    days = planting_days(settled, rule.windows, clock)
    rates = bed_rates(rule.hours)
    by_year = year_shares(timeline, yields, rule.years)
    order = bed_list(beds, wanted)
    at = Setting(settled, crops, shares, days, rule, rates, by_year, order)
    tasks, lots = all_tasks(wanted, at)
    settled = _standing(settled, lots)
    progress("season: levelling the work", 0.2)
    people, plan, late = level_with_crew(tasks, rule.crew, days.allowed, clock)
    if not (plan.begin[(tasks.frame["task"] == "plant").to_numpy()] != NEVER).any():
        raise DesignError(
            "Nothing can be planted within the plan: season.crew (people, weekdays, pauses) and season.windows leave no "
            "working day for it. Shorten the pauses or widen the windows."
        )
    enough = people
    if late.any() and rule.crew.people != "auto":
        progress("season: looking for a crew in time", 0.5)
        enough = level_with_crew(tasks, rule.crew.model_copy(update={"people": "auto"}), days.allowed, clock)[0]
    return Work(rule, clock, settled, days, rates, timeline, wanted, lots, tasks, people, plan, late, enough)


def _standing(crops: dict[str, SeasonCrop], lots: pd.DataFrame) -> dict[str, SeasonCrop]:
    """Crops that stand in the plan; of those that only cover free beds nothing is harvested."""
    recipe = set(lots.loc[lots["planting"] != COVER_PLANTING, "crop"])
    there = set(lots["crop"])
    return {
        code: crop if code in recipe else replace(crop, yield_kg=None) for code, crop in crops.items() if code in there
    }


def _first_day(crops: dict[str, SeasonCrop], rule: SeasonRule) -> int:
    """Day of the earliest work there can be: the longest nursery or the making of beds before the start."""
    lead = max([round(7 * rule.prepare_lead_weeks), *(crop.nursery_days for crop in crops.values())])
    return -lead
