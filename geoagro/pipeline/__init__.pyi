"""The functions of the pipeline, each loaded from its module when it is first asked for."""

from .account import account_of as account_of
from .account import crop_facts as crop_facts
from .account import portfolio_of as portfolio_of
from .example import ExampleField as ExampleField
from .example import example_field as example_field
from .planting import beds_of as beds_of
from .planting import plants_of as plants_of
from .recipe import bed_sheets_of as bed_sheets_of
from .recipe import recipe_of as recipe_of
from .recipe import recipe_on_model as recipe_on_model
from .rows import difficulty_of as difficulty_of
from .rows import rows_compared as rows_compared
from .rows import rows_of as rows_of
from .season import season_comparison as season_comparison
from .season import season_of as season_of
from .stakes import built_of as built_of
from .stakes import plots_of as plots_of
from .stakes import stakes_of as stakes_of
from .steps import contours_of as contours_of
from .steps import crops_of as crops_of
from .steps import ground_of as ground_of
from .steps import terrain_of as terrain_of
from .steps import tree_rows_of as tree_rows_of
from .whole_layout import lay_out as lay_out
from .whole_layout import layout as layout
from .whole_layout import limit_costs_of as limit_costs_of
