"""Accounts and portfolios."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from geoagro.plants.crops import choose_crops
from geoagro.reports.account import account_for
from geoagro.reports.crop_facts import facts_of
from geoagro.reports.portfolio import portfolio_for
from geoagro.reports.portfolio import portfolio_from_store as _from_store
from geoagro.reports.records.account import Account
from geoagro.reports.records.portfolio import Portfolio
from geoagro.values.base.doors import door
from geoagro.values.design import Design
from geoagro.values.progress import Progress, silent
from geoagro.values.recipe import Crop
from geoagro.values.report import CropFacts, LaidOut, ReportRule
from geoagro.values.terrain import Terrain

if TYPE_CHECKING:
    import geopandas as gpd
    import pandas as pd


def crop_facts(design: Design, library: Mapping[str, Crop]) -> dict[str, CropFacts]:
    """Gather what reports say about the crops of a design; raises DesignError for an unknown crop."""
    chosen = choose_crops(library, design.crops, design.plantings)
    return {code: facts_of(code, crop) for code, crop in chosen.items()}


@door
def account_of(
    laid: LaidOut, rule: ReportRule, *, terrain: Terrain | None = None, progress: Progress = silent
) -> Account:
    """Every number of a field's report; raises LayoutError where layers and tables of the layout disagree."""
    return account_for(laid, rule, terrain=terrain, progress=progress)


def portfolio_of(accounts: Sequence[Account]) -> Portfolio:
    """Add up many fields; raises LayoutError where two have one name."""
    return portfolio_for(accounts)


def portfolio_from_store(fields: gpd.GeoDataFrame, crops: pd.DataFrame) -> Portfolio:
    """Take what a store of many fields has added up; raises LayoutError where none of them was laid out."""
    return _from_store(fields, crops)
