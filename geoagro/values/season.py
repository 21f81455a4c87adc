"""The section `season:` of the design file: dates, crew, weather windows, rates, prices and risks."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Annotated, Any, Literal, get_args

import numpy as np
from pydantic import AfterValidator, Field, GetJsonSchemaHandler, model_validator
from pydantic.json_schema import JsonSchemaValue
from pydantic_core import CoreSchema

from geoagro.arrays import Floats
from geoagro.values.model import MOST_WEEKS, Day, Model, Name, PercentShare, Share
from geoagro.values.recipe import Habit, HarvestKind, Material
from geoagro.values.words import say

Amount = Annotated[float, Field(ge=0, le=1e12)]
Lead = Annotated[float, Field(ge=0, le=520)]
Weekday = Literal["mon", "tue", "wed", "thu", "fri", "sat", "sun"]
Task = Literal[
    "fence", "nursery", "prepare", "plant", "replace", "water", "mulch", "weed", "cut", "prune", "fell", "harvest"
]
TASKS: tuple[Task, ...] = get_args(Task)


def month_day(value: str) -> str:
    """Check that a text is a month and a day, such as 03-15.

    >>> month_day("03-15")
    '03-15'
    """
    try:
        date.fromisoformat(f"2001-{value}")
    except ValueError:
        raise ValueError(f"'{value}' is not a month and day; write e.g. 03-15 for 15 March") from None
    return value


MonthDay = Annotated[str, AfterValidator(month_day)]
"""MM-DD; 29 February is refused, since it isn't there every year."""


class Range(Model):
    """An uncertain value: low, likely, high. A single number means that nothing is uncertain.

    >>> Range.model_validate(3).high
    3.0
    >>> Range.model_validate([1, 2, 4]).likely
    2.0
    """

    low: float = Field(allow_inf_nan=False, description="Seldom less.")
    likely: float = Field(allow_inf_nan=False, description="Most likely.")
    high: float = Field(allow_inf_nan=False, description="Seldom more.")

    @model_validator(mode="before")
    @classmethod
    def _from_number_or_three(cls, value: Any) -> Any:
        if isinstance(value, (int, float)) and not isinstance(value, bool):
            value = (value, value, value)
        if isinstance(value, (list, tuple)):
            if len(value) != 3:
                raise ValueError("give one number, or three: [low, likely, high]")
            return dict(zip(("low", "likely", "high"), value, strict=True))
        if not isinstance(value, (dict, Range)):
            raise ValueError(f"give one number, or three: [low, likely, high] (found {value!r})")
        return value

    @classmethod
    def __get_pydantic_json_schema__(cls, core_schema: CoreSchema, handler: GetJsonSchemaHandler) -> JsonSchemaValue:
        """Say in the schema that one number or three will do."""
        number = {"type": "number", "minimum": 0}
        three = {"type": "array", "items": number, "minItems": 3, "maxItems": 3}
        return {
            "description": "One number, or three: [low, likely, high].",
            "anyOf": [number, three, handler(core_schema)],
        }

    @model_validator(mode="after")
    def _rises(self) -> Range:
        if not 0 <= self.low <= self.likely <= self.high:
            raise ValueError(f"low, likely, high must rise and not be below 0 (found {list(self.values)})")
        return self

    @property
    def values(self) -> tuple[float, float, float]:
        """Low, likely, high."""
        return self.low, self.likely, self.high


class CropSeason(Model):
    """What the season needs to know of a crop beyond the recipe; values left out come from `season/defaults`."""

    losses_pct: Annotated[float, Field(ge=0, lt=100)] | None = Field(
        None, description="Percent of the material that doesn't become a standing plant; spares cover it."
    )
    per_mother: Annotated[int, Field(ge=1)] | None = Field(
        None, description="Pieces cut from one mother plant (for cassava: from one stem)."
    )
    nursery_weeks: Lead | None = Field(None, description="Weeks in the nursery before planting; 0 for none.")
    nursery_losses_pct: Annotated[float, Field(ge=0, lt=100)] | None = Field(
        None, description="Percent of what is sown in the nursery that doesn't reach planting."
    )
    slack_weeks: Lead | None = Field(None, description="Weeks that planting may slip without harm.")
    frost_tender: bool | None = Field(None, description="Killed by frost while it stands.")
    bearing_pct: tuple[Amount, ...] | None = Field(
        None,
        description="For perennials: percent of the full yield in years 1, 2, ... after planting; the last one stays. "
        "Empty: the crop is harvested once, whatever its life.",
    )
    harvest_months: tuple[Annotated[int, Field(ge=1, le=12)], ...] | None = Field(
        None, description="For perennials: calendar months of harvest; all year round if left out."
    )
    prune_rounds: Annotated[int, Field(ge=0, le=12)] | None = Field(None, description="Prunings a year.")
    prune_months: tuple[Annotated[int, Field(ge=1, le=12)], ...] | None = Field(
        None, description="Calendar months of pruning; evenly over the year if left out."
    )
    prunings_kg: Amount | None = Field(
        None,
        description="Fresh prunings of one grown plant in a pruning, left as mulch; those of mulch trees are known.",
    )
    coppice_years: Annotated[int, Field(ge=1, le=60)] | None = Field(
        None, description="Cut to the stump every so many years, from where it grows again."
    )
    deaths_pct: tuple[Annotated[float, Field(ge=0, le=50)], ...] | None = Field(
        None,
        description="For what stays for years: percent of the places whose plant dies in year 1, 2, ... after planting and is "
        "planted again a year later.",
    )
    yield_kg: Range | None = Field(
        None, description="Per place grown alone at its usual density, instead of the recipe's."
    )
    region_yield_pct: PercentShare | None = Field(None, description="As in `season`, for this crop.")
    price: Range | None = Field(None, description="Money per kilogram at the farm gate.")
    wood_price: Range | None = Field(
        None, description="Money per m3 of wood of felled trees; without it the wood is reported and stays on the farm."
    )
    wood_kg_per_m3: Range | None = Field(
        None, description="Dry mass of a m3 of its wood; 400, 600, 800 if left out (most species, from memory)."
    )
    sold_pct: PercentShare | None = Field(None, description="Percent of the harvest that is sold.")
    weekly_kg: Annotated[float, Field(gt=0)] | None = Field(
        None, description="Most that the outlet takes in a week; the harvest is reported where it is more."
    )
    pack: Annotated[int, Field(ge=1)] | None = Field(
        None, description="Pieces in a pack, for whole packs in the order."
    )
    unit_cost: Amount | None = Field(None, description="Money per piece of planting material, or per kg where weighed.")
    hours: dict[Task, Amount] = Field(
        default_factory=dict,
        description="Own rates: plant, nursery, prune (hours per place, prune per round) and harvest (hours per kg).",
    )


class Pause(Model):
    """Days of a year on which nobody works, or on which more or fewer people do."""

    name: Name = Field(description="What it is.")
    first: Day = Field(description="First day.")
    last: Day = Field(description="Last day.")

    @model_validator(mode="after")
    def _in_order(self) -> Pause:
        if self.last < self.first:
            raise ValueError(f"last ({self.last}) must not be before first ({self.first})")
        return self


class Helpers(Pause):
    """Extra hands between two dates."""

    people: Annotated[float, Field(gt=0, le=10_000)] = Field(description="Extra people.")


class Crew(Model):
    """Who works, and when."""

    people: Annotated[float, Field(gt=0, le=10_000)] | Literal["auto"] = Field(
        "auto", description="People in the field; auto: the fewest with which nothing is late."
    )
    hours_per_day: Annotated[float, Field(gt=0, le=16)] = Field(7.0, description="Working hours of a day.")
    weekdays: tuple[Weekday, ...] = Field(
        ("mon", "tue", "wed", "thu", "fri"), min_length=1, description="Days of the week that are worked."
    )
    pauses: tuple[Pause, ...] = Field((), description="Dates without work.")
    helpers: tuple[Helpers, ...] = Field((), description="Dates with extra people.")


class Window(Model):
    """Days of each year that planting must fall into (rains), or must keep out of (frost)."""

    name: Name = Field(description="What it is called.")
    kind: Literal["rains", "frost"] = Field(
        description="rains: planting waits for them; frost: tender crops stay out of it."
    )
    first: MonthDay = Field(description="First day, as month-day (04-15).")
    last: MonthDay = Field(description="Last day, as month-day.")
    crops: tuple[str, ...] = Field(
        (), description="Crops it holds for. If left out: all for rains, the frost-tender ones for frost."
    )


class ClimateRule(Model):
    """The user's monthly climate, from which planting windows are taken where none are given."""

    file: Path = Field(description="CSV with columns month, rain_mm, t_mean_c, t_min_c: one line for each month.")
    frost_below_c: float = Field(2.0, description="Frost must be reckoned with where the mean daily minimum is lower.")


class Hours(Model):
    """Labour rates that hold for all crops; each can be overridden per crop under `season.crops`."""

    tool: Literal["hand", "machine"] = Field(
        "hand", description="machine: beds with a two-wheel tractor, felling with a chainsaw."
    )
    prepare_h_per_m2: Amount | None = Field(None, description="Loosening and shaping a bed.")
    mulch_h_per_m2: Amount | None = Field(None, description="Cutting, carrying and spreading mulch.")
    weed_h_per_m2: Amount | None = Field(None, description="One round on bare ground; scaled by the bare share.")
    cut_h_per_m2: Amount | None = Field(None, description="One cut of what grows on beds that stand free.")
    sow_h_per_m2: Amount | None = Field(None, description="Sowing a cover crop broadcast and raking it in.")
    plant_h: dict[Material, Amount] = Field(default_factory=dict, description="Per place, by kind of material.")
    harvest_h_per_kg: dict[HarvestKind, Amount] = Field(default_factory=dict, description="By kind: uproot, cut, pick.")
    nursery_h: Amount | None = Field(None, description="Per plant raised.")
    fence_h_per_m: Amount | None = Field(None, description="Per metre of fence.")
    water_h: Amount | None = Field(None, description="Per place and watering.")
    prune_h: dict[Habit, Amount] = Field(default_factory=dict, description="Per place and round, by habit.")


class Watering(Model):
    """Watering what was planted to stay for years, until its roots have taken."""

    weeks: Annotated[int, Field(ge=1, le=104)] = Field(12, description="Weeks after planting.")
    times_a_week: Annotated[float, Field(gt=0, le=14)] = Field(1.0, description="Rounds in a week.")


class Weeding(Model):
    """When weeds call for a round: five in the first 20 weeks on bare ground (common practice, no source)."""

    bare_weeks: Annotated[float, Field(gt=0, le=520)] = Field(
        4.0, description="A round is due when bare share x weeks since the last one reaches this."
    )
    closed_cover_pct: Annotated[float, Field(gt=0, le=100)] = Field(
        80.0, description="At this ground cover and above, weeding is taken to stop."
    )
    free_cuts_a_year: Annotated[float, Field(ge=0, le=52)] = Field(
        3.0, description="Cuts a year of what grows on beds that stand free (common practice, no source)."
    )

    def bare(self, cover: Floats) -> Floats:
        """Share of the ground on which weeds come up, from the share that crowns cover."""
        return np.where(cover >= self.closed_cover_pct / 100, 0.0, 1.0 - cover)


class FreeBeds(Model):
    """What is done with beds while they stand free."""

    cover: Literal["none", "auto"] | tuple[str, ...] = Field(
        "none",
        description="Cover crops to sow, by code, all of them together; auto: what has time to grow there; none: what grows "
        "is cut `weeding.free_cuts_a_year` times a year.",
    )
    least_weeks: Annotated[float, Field(ge=4, le=520)] = Field(
        7.0, description="Beds that stand free for less aren't sown."
    )


class Repeat(Model):
    """Planting the vegetable beds again."""

    every_weeks: Annotated[int, Field(ge=1, le=MOST_WEEKS)] = Field(52, description="From one planting to the next.")
    by_planting: dict[str, Annotated[int, Field(ge=1, le=MOST_WEEKS)]] = Field(
        default_factory=dict,
        description="Own interval of a planting, by its name, so that plantings take turns: 156 for every third year.",
    )
    years: Annotated[int, Field(ge=1, le=40)] = Field(1, description="Plant the vegetable beds in years 1 to this.")
    yield_pct: tuple[PercentShare, ...] = Field(
        (100.0,),
        description="Your own percent of the yield in planting no. 1, 2, ...; the last one stays. Goes before what the model says of "
        "plantings; left out, the model says how trees shade them.",
    )


class Cost(Model):
    """A cost beside planting material and labour."""

    name: Name = Field(description="What it is for.")
    amount: Amount = Field(description="In season.currency.")
    per: Literal["field", "ha"] = Field("field", description="For the whole field, or for each planted hectare.")
    when: Literal["once", "monthly", "yearly"] = Field("once", description="Paid once, each month or each year.")
    from_year: Annotated[int, Field(ge=1, le=100)] = Field(1, description="First year in which it is paid.")
    to_year: Annotated[int, Field(ge=1, le=100)] | None = Field(
        None, description="The last year of the plan if left out."
    )


class Simulation(Model):
    """How uncertainty is drawn."""

    runs: Annotated[int, Field(ge=100, le=200_000)] = Field(4000, description="How many runs are drawn.")
    seed: Annotated[int, Field(ge=0)] = Field(
        1, description="Number from which chance starts: the same gives the same runs."
    )
    shape: Literal["triangular", "pert"] = Field("pert", description="Distribution between low, likely and high.")
    correlation: Share = Field(
        0.3, description="How far the crops' yields of one year move together (weather); 0: each on its own."
    )
    lasting: Share = Field(
        0.5,
        description="How far yields and prices of a run are high or low in all its years (site, hands, market); 0: each year "
        "anew. Judgement, no source.",
    )


class SeasonRule(Model):
    """The season plan. Prices, wages and yields are the user's assumptions, never the program's."""

    years: Annotated[int, Field(ge=1, le=40)] = Field(10, description="Years that are planned.")
    currency: str = Field("money", max_length=12, description="Short name of the money.")
    wage_per_hour: Amount | None = Field(None, description="Pay of an hour; without it work is reported in hours only.")
    labour_range: Range = Field(
        Range(low=0.8, likely=1.0, high=1.4), description="Real hours as a multiple of the rates."
    )
    discount_rate_pct: Annotated[float, Field(gt=-100, le=100)] = Field(
        8.0, description="A year, for net present value."
    )
    crew: Crew = Field(Crew(), description="Who works, when.")
    windows: tuple[Window, ...] = Field((), description="Times of rain and frost, by month and day.")
    climate: ClimateRule | None = Field(None, description="Monthly rain and temperature; windows follow from it.")
    hours: Hours = Field(Hours(), description="Own rates of work, by task.")
    carry_m: Amount = Field(100.0, description="Way from the beds to where the harvest is loaded; 0 leaves it out.")
    fence_m: Amount = Field(0.0, description="Metres of fence to put up before the first planting.")
    watering: Watering | None = Field(None, description="Watering of young trees; left out if not given.")
    weeding: Weeding = Field(Weeding(), description="When weeds call for a round.")
    mulch: Literal["never", "at planting", "yearly"] = Field("at planting", description="Mulch on the beds.")
    prepare_lead_weeks: Lead = Field(2.0, description="Beds are made ready at most this long before planting.")
    vegetables: Repeat = Field(Repeat(), description="Whether and how often vegetable beds are planted again.")
    free_beds: FreeBeds = Field(FreeBeds(), description="What is done with vegetable beds that stand free.")
    region_yield_pct: PercentShare = Field(
        100.0,
        description="Yields of the region in percent of the library's good-practice yields; scales these, never your own.",
    )
    rotation_years: dict[str, Amount] = Field(
        default_factory=dict, description="Years that a bed stays without a family, where not the usual ones."
    )
    crops: dict[str, CropSeason] = Field(default_factory=dict, description="Prices, costs and market of each crop.")
    costs: tuple[Cost, ...] = Field((), description="Costs that no crop causes alone.")
    simulation: Simulation = Field(Simulation(), description="Runs with values drawn from your ranges.")


MONTH_NAMES = (
    say("Jan"), say("Feb"), say("Mar"), say("Apr"), say("May"), say("Jun"), say("Jul"), say("Aug"), say("Sep"), say("Oct"), say("Nov"),
    say("Dec"),
)  # fmt: skip


@dataclass(frozen=True)
class Climate:
    """Means of January to December: rain (mm), temperature and mean daily minimum (degrees Celsius).

    `file` is the name of the file that it was read from.
    """

    file: str
    rain_mm: tuple[float, ...]
    mean_c: tuple[float, ...]
    min_c: tuple[float, ...]

    def dry(self) -> tuple[bool, ...]:
        """Say of each month whether it is dry: rain in mm below twice the temperature (Gaussen and Bagnouls 1953)."""
        return tuple(rain < 2 * mean for rain, mean in zip(self.rain_mm, self.mean_c, strict=True))

    def frosty(self, below_c: float) -> tuple[bool, ...]:
        """Say of each month whether frost must be reckoned with: a mean daily minimum below `below_c`."""
        return tuple(cold < below_c for cold in self.min_c)
