"""The season plan."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from geoagro.pipeline.steps import crops_of, timeline_of
from geoagro.pipeline.yields import bearings_of, yields_of
from geoagro.plants.analysis import cover_of_beds
from geoagro.season.compare import compare_plans
from geoagro.season.plan import plan_season
from geoagro.season.records.tables import SeasonPlan
from geoagro.season.rule import season_section
from geoagro.values.beds import Beds
from geoagro.values.design import Design
from geoagro.values.plants import Plants
from geoagro.values.progress import Progress, silent
from geoagro.values.recipe import Crop


def season_of(
    design: Design,
    plants: Plants,
    beds: Beds,
    library: Mapping[str, Crop],
    *,
    area_ha: float,
    latitude_deg: float | None = None,
    progress: Progress = silent,
) -> SeasonPlan:
    """Plan material, work, harvest and money of a layout; raises DesignError where the design doesn't ask for it."""
    rule, start = season_section(design)
    crops = crops_of(design, library)
    progress("season: ground cover", 0.0)
    timeline = timeline_of(design, plants, crops)
    months = min(36, 12 * rule.years)
    cover = cover_of_beds(plants, beds, crops, design.plantings, timeline=timeline, months=months)
    yields = yields_of(
        design, crops, latitude_deg=latitude_deg, bearings=bearings_of(beds.tree_beds), progress=progress
    )
    return plan_season(
        plants,
        beds,
        crops,
        cover,
        rule,
        timeline=timeline,
        yields=yields,
        name=design.name,
        start=start,
        area_ha=area_ha,
        progress=progress,
    )


def season_comparison(first: SeasonPlan, second: SeasonPlan) -> Any:
    """Key figures of two plans side by side: table COMPARISON."""
    return compare_plans(first, second)
