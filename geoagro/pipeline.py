"""The order of the work: one room after another, about one line each."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from geoagro.ground.plantable import plantable_ground
from geoagro.plants.crops import choose_crops
from geoagro.reports.account import account_for
from geoagro.reports.crop_facts import facts_of
from geoagro.reports.portfolio import portfolio_for
from geoagro.terrain.build import build_terrain
from geoagro.values.design import Design
from geoagro.values.ground import Ground
from geoagro.values.progress import Progress, silent
from geoagro.values.recipe import Crop
from geoagro.values.report import Account, CropFacts, LaidOut, Portfolio, ReportRule
from geoagro.values.site import Site
from geoagro.values.terrain import GroundSource, Terrain


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
