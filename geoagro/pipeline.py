"""The order of the work: one room after another, about one line each."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import shapely

from geoagro.beds.layout import lay_beds
from geoagro.ground.leftover import ground_without_rows, leftover_ground
from geoagro.ground.limit_costs import limit_costs
from geoagro.ground.plantable import plantable_ground
from geoagro.inputs.crop_library import read_crop_library
from geoagro.inputs.design_file import read_design
from geoagro.inputs.ground_source import read_ground_source
from geoagro.inputs.site import read_site
from geoagro.plants.analysis import analyse_recipe, cover_of_beds
from geoagro.plants.bed_sheet import bed_sheets, model_stand
from geoagro.plants.crops import choose_crops
from geoagro.plants.placement import place_plants
from geoagro.reports.account import account_for
from geoagro.reports.crop_facts import facts_of
from geoagro.reports.portfolio import portfolio_for
from geoagro.reports.tables import layout_tables
from geoagro.rows.comparison import compare_settings, settings_around
from geoagro.rows.layout import lay_rows
from geoagro.rows.quality_table import quality_table
from geoagro.season.compare import compare_plans
from geoagro.season.plan import plan_season
from geoagro.season.rule import season_section
from geoagro.stakeout.as_built import Covers, as_built
from geoagro.stakeout.plots import lay_plots
from geoagro.stakeout.stake_out import stake_out
from geoagro.terrain.build import build_terrain
from geoagro.terrain.contours import contour_lines
from geoagro.terrain.difficulty import terrain_difficulty
from geoagro.terrain.difficulty_zones import difficulty_zones
from geoagro.terrain.drainage import drainage
from geoagro.values.bed_sheet import BedSheet
from geoagro.values.beds import Beds
from geoagro.values.design import Design
from geoagro.values.ground import Ground
from geoagro.values.layout import Layout
from geoagro.values.plants import Plants
from geoagro.values.portfolio import Portfolio
from geoagro.values.progress import Progress, silent
from geoagro.values.recipe import Crop
from geoagro.values.recipe_analysis import RecipeAnalysis
from geoagro.values.report import Account, CropFacts, LaidOut, ReportRule
from geoagro.values.row_plan import DIFFICULTY_ZONES, RowPlan
from geoagro.values.rows import TreeRows
from geoagro.values.season_tables import SeasonPlan
from geoagro.values.site import Site
from geoagro.values.stakeout import StakeOut
from geoagro.values.survey import AsBuilt, SampleSize, Survey
from geoagro.values.terrain import Difficulty, GroundSource, Terrain

_MODEL_ROW_M = 24.0
"""Length of the rows that a recipe is looked at on before there is a field."""


def crops_of(design: Design, library: Mapping[str, Crop]) -> dict[str, Crop]:
    """Crops that the design uses, complete; raises DesignError for one that nobody describes."""
    return choose_crops(library, design.crops, design.plantings)


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
    rule = design.rows
    lines = (
        drainage(terrain, least_ha=rule.drainage_area_ha, width_m=rule.spacing_m) if rule.break_at_drainage else None
    )
    return plantable_ground(site, terrain, design.ground, drainage=lines)


def lay_out(
    design: Design, site: Site, source: GroundSource, library: Mapping[str, Crop], *, progress: Progress = silent
) -> Layout:
    """Lay out a field from what was read: terrain, ground, rows, beds, plants, tables.

    Raises DesignError or LayoutError where the design can't be laid out on this ground.
    """
    crops = crops_of(design, library)
    terrain = terrain_of(design, site, source, progress=progress)
    ground = ground_of(design, site, terrain)
    rows = lay_rows(ground, terrain, design.rows, guides=site.guides, outlet=site.outlet, progress=progress)
    beds = lay_beds(rows, ground.plantable, design.beds, progress=progress)
    plants = place_plants(beds, terrain, crops, design.plantings, start=design.start, progress=progress)
    unplanted = leftover_ground(ground, beds, rows.cut, spacing_m=design.rows.spacing_m)
    quality = quality_table(rows, ground.plantable, terrain, design.rows)
    return Layout(
        design=design,
        site=site,
        terrain=terrain,
        ground=ground,
        rows=rows,
        beds=beds,
        plants=plants,
        unplanted=unplanted,
        contours=contour_lines(terrain, site.boundary, design.output.contour_interval_m),
        tables=layout_tables(site, terrain, ground, beds, plants, unplanted, quality_frame=quality),
    )


def layout(design: Design | Path | str, *, progress: Progress = silent) -> Layout:
    """Read a design (or take one already read) and its files, and lay out the field.

    Raises InputError, CrsError, DesignError or LayoutError, each saying what to put right; writes nothing.
    """
    asked = design if isinstance(design, Design) else read_design(Path(design))
    site = read_site(asked)
    source = read_ground_source(asked, site)
    return lay_out(asked, site, source, read_crop_library(), progress=progress)


def bed_sheets_of(design: Design, library: Mapping[str, Crop]) -> tuple[BedSheet, ...]:
    """Sheets to plant from, one for each different bed of the recipe; needs no field."""
    crops = crops_of(design, library)
    return bed_sheets(design.name, design.beds, design.rows.spacing_m, crops, design.plantings)


def recipe_on_model(design: Design, library: Mapping[str, Crop]) -> tuple[Plants, RecipeAnalysis]:
    """Place and analyse the recipe on straight rows on an even slope; needs no field."""
    crops = crops_of(design, library)
    beds, plants = model_stand(design.beds, design.rows.spacing_m, crops, design.plantings, _MODEL_ROW_M)
    return plants, analyse_recipe(plants, beds, crops, design.plantings)


def recipe_of(laid: Layout, library: Mapping[str, Crop], *, progress: Progress = silent) -> RecipeAnalysis:
    """Analyse the recipe as it stands in the field: roots, cover, crowding, weeding, warnings.

    Raises DesignError where an own crop lacks a size that placing didn't need.
    """
    crops = crops_of(laid.design, library)
    return analyse_recipe(laid.plants, laid.beds, crops, laid.design.plantings, progress=progress)


def limit_costs_of(design: Design, ground: Ground, unplanted: Any) -> Any:
    """Add up what each limit of the design costs in ground, beds laid: table LIMIT_COSTS."""
    return limit_costs(ground, unplanted, design, rest="too narrow for a bed, row ends")


def difficulty_of(design: Design, terrain: Terrain, ground: Ground) -> Difficulty:
    """Tell what the ground demands of rows at the design's limits; raises LayoutError where heights are unknown."""
    rule = design.rows
    return terrain_difficulty(
        terrain,
        ground.plantable,
        spacing_m=rule.spacing_m,
        spacing_tolerance=rule.spacing_tolerance,
        max_grade_pct=rule.max_grade_pct,
    )


def rows_of(design: Design, site: Site, source: GroundSource, *, progress: Progress = silent) -> RowPlan:
    """Lay tree rows only, with their measures, what each limit cost, and how hard the ground is."""
    terrain = terrain_of(design, site, source, progress=progress)
    ground = ground_of(design, site, terrain)
    rule = design.rows
    rows = lay_rows(ground, terrain, rule, guides=site.guides, outlet=site.outlet, progress=progress)
    unplanted = ground_without_rows(
        ground, list(rows.frame.geometry), rows.cut, spacing_m=rule.spacing_m, tolerance=rule.spacing_tolerance
    )
    difficulty = None if terrain.heights is None else difficulty_of(design, terrain, ground)
    return RowPlan(
        design=design,
        site=site,
        terrain=terrain,
        ground=ground,
        rows=rows,
        unplanted=unplanted,
        quality=quality_table(rows, ground.plantable, terrain, rule),
        costs=limit_costs(ground, unplanted, design, rest="edges of the field, row ends"),
        contours=contour_lines(terrain, site.boundary, design.output.contour_interval_m),
        difficulty=difficulty,
        zones=DIFFICULTY_ZONES.empty(site.crs)
        if difficulty is None
        else difficulty_zones(difficulty, ground.plantable, spacing_m=rule.spacing_m),
    )


def rows_compared(
    design: Design,
    site: Site,
    source: GroundSource,
    *,
    grades_pct: Sequence[float] = (),
    tolerances: Sequence[float] = (),
    progress: Progress = silent,
) -> Any:
    """Lay rows at settings around the design's own, all on the same ground: table ROW_COMPARISON."""
    rule, guides = design.rows, site.guides
    rules = settings_around(rule, grades_pct=grades_pct, tolerances=tolerances, with_guide=bool(guides))
    terrain = terrain_of(design, site, source, progress=progress)
    ground = ground_of(design, site, terrain)
    return compare_settings(ground, terrain, rules, own=rule, guides=guides, progress=progress)


def crop_facts(design: Design, library: Mapping[str, Crop]) -> dict[str, CropFacts]:
    """Gather what reports say about the crops of a design; raises DesignError for an unknown crop."""
    chosen = choose_crops(library, design.crops, design.plantings)
    return {code: facts_of(code, crop) for code, crop in chosen.items()}


def account_of(
    laid: LaidOut, rule: ReportRule, *, terrain: Terrain | None = None, progress: Progress = silent
) -> Account:
    """Every number of a field's report; raises LayoutError where layers and tables of the layout disagree."""
    return account_for(laid, rule, terrain=terrain, progress=progress)


def portfolio_of(accounts: Sequence[Account]) -> Portfolio:
    """Add up many fields; raises LayoutError where two have one name."""
    return portfolio_for(accounts)


def stakes_of(
    design: Design,
    site: Site,
    rows: TreeRows,
    beds: Beds,
    terrain: Terrain | None,
    *,
    earlier: Any | None = None,
    progress: Progress = silent,
) -> StakeOut:
    """Everything needed to mark a layout in the field; `earlier` marks keep their names and places."""
    return stake_out(
        rows,
        beds,
        site,
        terrain,
        design.stakeout,
        spacing_tolerance=design.rows.spacing_tolerance,
        earlier=earlier,
        progress=progress,
    )


def built_of(
    survey: Survey,
    rows: TreeRows,
    beds: Beds,
    *,
    marks: Any | None,
    plants: Any | None,
    plots: Any | None,
    covers: Covers | None,
    crops: tuple[str, ...],
    within_m: float | None,
) -> AsBuilt:
    """Match a survey with the layout: what was built, what is missing, what to plant again."""
    return as_built(
        survey, rows, beds, marks=marks, plants=plants, plots=plots, covers=covers, crops=crops, within_m=within_m
    )  # fmt: skip


def plots_of(
    beds: Beds,
    plants: Any,
    *,
    radius_m: float,
    expected: float,
    precision: float,
    correlation: float,
    by_chance: bool,
    seed: int,
) -> tuple[Any, SampleSize]:
    """Sample plots over all planted ground, with the number that a precision needs."""
    planted = shapely.union_all([*beds.tree_beds.geometry, *beds.beds.geometry, *beds.paths.geometry])
    return lay_plots(
        planted,
        plants[["x", "y"]].to_numpy(),
        crs=plants.crs,
        radius_m=radius_m,
        expected=expected,
        precision=precision,
        correlation=correlation,
        by_chance=by_chance,
        seed=seed,
    )


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
