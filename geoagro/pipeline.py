"""The order of the work: one room after another, about one line each."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from geoagro.ground.plantable import plantable_ground
from geoagro.plants.analysis import analyse_recipe, cover_of_beds
from geoagro.plants.bed_sheet import bed_sheets, model_stand
from geoagro.plants.crops import choose_crops
from geoagro.season.compare import compare_plans
from geoagro.season.plan import plan_season
from geoagro.season.rule import season_section
from geoagro.terrain.build import build_terrain
from geoagro.values.bed_sheet import BedSheet
from geoagro.values.beds import Beds
from geoagro.values.design import Design
from geoagro.values.ground import Ground
from geoagro.values.plants import Plants
from geoagro.values.progress import Progress, silent
from geoagro.values.recipe import Crop
from geoagro.values.recipe_analysis import RecipeAnalysis
from geoagro.values.season_tables import SeasonPlan
from geoagro.values.site import Site
from geoagro.values.terrain import GroundSource, Terrain

_MODEL_ROW_M = 24.0
"""Length of the rows that a recipe is looked at on before there is a field."""


def terrain_of(design: Design, site: Site, source: GroundSource, *, progress: Progress = silent) -> Terrain:
    """Shape of the ground at the scale of the design's rows; raises LayoutError where it can't be told."""
    return build_terrain(
        source,
        site.boundary,
        spacing_m=design.rows.spacing_m,
        smoothing_m=design.rows.smoothing_m,
        largest_gap_m=design.ground.largest_gap_m,
        progress=progress,
    )


def ground_of(design: Design, site: Site, terrain: Terrain) -> Ground:
    """Ground that may be planted; raises LayoutError where there is none."""
    return plantable_ground(site, terrain, design.ground)


def crops_of(design: Design, library: Mapping[str, Crop]) -> dict[str, Crop]:
    """Crops that the design uses, with its own values over the library's; DesignError for an unknown one."""
    return choose_crops(library, design.crops, design.plantings)


def bed_sheets_of(design: Design, library: Mapping[str, Crop]) -> tuple[BedSheet, ...]:
    """Sheets to plant from, one for each different bed of the recipe; needs no field."""
    crops = crops_of(design, library)
    return bed_sheets(design.name, design.beds, design.rows.spacing_m, crops, design.plantings)


def recipe_on_model(design: Design, library: Mapping[str, Crop]) -> tuple[Plants, RecipeAnalysis]:
    """Place and analyse the recipe on straight rows on an even slope; needs no field."""
    crops = crops_of(design, library)
    beds, plants = model_stand(design.beds, design.rows.spacing_m, crops, design.plantings, _MODEL_ROW_M)
    return plants, analyse_recipe(plants, beds, crops, design.plantings)


def season_of(
    design: Design,
    plants: Plants,
    beds: Beds,
    library: Mapping[str, Crop],
    *,
    area_ha: float,
    progress: Progress = silent,
) -> SeasonPlan:
    """Plan material, work, harvest and money of a layout; raises DesignError where the design doesn't ask for it."""
    rule, start = season_section(design)
    crops = crops_of(design, library)
    progress("season: ground cover", 0.0)
    cover = cover_of_beds(plants, beds, crops, design.plantings, months=min(36, 12 * rule.years))
    return plan_season(
        plants, beds, crops, cover, rule, name=design.name, start=start, area_ha=area_ha, progress=progress
    )


def season_comparison(first: SeasonPlan, second: SeasonPlan) -> Any:
    """Key figures of two plans side by side: table COMPARISON."""
    return compare_plans(first, second)
