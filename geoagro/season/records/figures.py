"""The key figures of a plan, by which other rooms and products find them."""

from __future__ import annotations

from enum import StrEnum


class Key(StrEnum):
    """Names of the key figures for programs; they stay when the words change."""

    PLACES = "planting_places"
    AT_ONCE = "at_once"
    PIECES = "pieces"
    PEOPLE = "people"
    FIRST_YEAR_WORK = "work_first_year"
    FIRST_YEAR_WORK_PER_HA = "work_first_year_per_ha"
    ALL_WORK = "work_all_years"
    BUSIEST_WEEK = "busiest_week"
    PLANTING_SPAN = "planting_span"
    LATEST_PLANTING = "latest_planting"
    HARVEST_LOW = "harvest_low"
    HARVEST = "harvest_likely"
    HARVEST_HIGH = "harvest_high"
    INCOME_LOW = "income_low"
    INCOME = "income_likely"
    INCOME_HIGH = "income_high"
    MATERIAL_COST = "material_cost"
    LABOUR_COST = "labour_cost"
    OTHER_COSTS = "other_costs"
    WORTH_LOW = "net_present_value_low"
    WORTH = "net_present_value_likely"
    WORTH_HIGH = "net_present_value_high"
    INTERNAL_RATE = "internal_rate"
    BREAK_EVEN_LOW = "break_even_low"
    BREAK_EVEN = "break_even_likely"
    BREAK_EVEN_HIGH = "break_even_high"
    FREE_UPKEEP = "free_beds_upkeep"
    DEEPEST_BALANCE = "deepest_balance"
    WORTH_P10 = "net_present_value_p10"
    WORTH_P50 = "net_present_value_p50"
    WORTH_P90 = "net_present_value_p90"
    WORTH_MEAN = "net_present_value_mean"
    WORTH_ERROR = "net_present_value_error"
    RUNS_WITH_LOSS = "runs_with_loss_pct"
    RUNS_BREAKING_EVEN = "runs_breaking_even_pct"
    BREAK_EVEN_MEDIAN = "break_even_median"


TOLD = (
    Key.PLACES, Key.AT_ONCE, Key.PIECES, Key.PEOPLE, Key.FIRST_YEAR_WORK, Key.BUSIEST_WEEK, Key.HARVEST, Key.INCOME, Key.WORTH,
    Key.FREE_UPKEEP, Key.RUNS_WITH_LOSS, Key.BREAK_EVEN, Key.DEEPEST_BALANCE,
)  # fmt: skip
"""Those that short accounts show."""
