"""The order of the work: which room is called after which, a module for each piece of work."""

from geoagro.pipeline.account import account_of, crop_facts, portfolio_of
from geoagro.pipeline.layout import lay_out, layout, limit_costs_of
from geoagro.pipeline.recipe import bed_sheets_of, recipe_of, recipe_on_model
from geoagro.pipeline.rows import difficulty_of, rows_compared, rows_of
from geoagro.pipeline.season import season_comparison, season_of
from geoagro.pipeline.stakes import built_of, plots_of, stakes_of
from geoagro.pipeline.steps import crops_of, ground_of, terrain_of

__all__ = [
    "account_of",
    "bed_sheets_of",
    "built_of",
    "crop_facts",
    "crops_of",
    "difficulty_of",
    "ground_of",
    "lay_out",
    "layout",
    "limit_costs_of",
    "plots_of",
    "portfolio_of",
    "recipe_of",
    "recipe_on_model",
    "rows_compared",
    "rows_of",
    "season_comparison",
    "season_of",
    "stakes_of",
    "terrain_of",
]
