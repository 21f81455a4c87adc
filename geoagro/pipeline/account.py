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
    """Gather what reports say about the crops of a design; raises DesignError for an unknown crop.

    >>> from geoagro import crop_facts, example_layout, read_crop_library
    >>> laid, library = example_layout(), read_crop_library()
    >>> sorted(crop_facts(laid.design, library))
    ['apple', 'lettuce']
    """
    chosen = choose_crops(library, design.crops, design.plantings)
    return {code: facts_of(code, crop) for code, crop in chosen.items()}


@door
def account_of(
    laid: LaidOut, rule: ReportRule, *, terrain: Terrain | None = None, progress: Progress = silent
) -> Account:
    """Every number of a field's report; raises LayoutError where layers and tables of the layout disagree.

    >>> from pathlib import Path
    >>> from geoagro import account_of, crop_facts, example_layout, read_crop_library, read_laid_out, read_layout_file, write_layout
    >>> import tempfile
    >>> laid, library = example_layout(), read_crop_library()
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     file = read_layout_file(write_layout(laid, Path(folder))[0])
    ...     account = account_of(read_laid_out(file, crop_facts(laid.design, library), design=laid.design), laid.design.report)
    ...     print(account.headline.plants)
    5490
    """
    return account_for(laid, rule, terrain=terrain, progress=progress)


def portfolio_of(accounts: Sequence[Account]) -> Portfolio:
    """Add up many fields; raises LayoutError where two have one name.

    >>> from geoagro import portfolio_of
    >>> portfolio_of([])
    Traceback (most recent call last):
    geoagro.errors.LayoutError: A portfolio needs at least one field; name the design files.
    """
    return portfolio_for(accounts)


def portfolio_from_store(fields: gpd.GeoDataFrame, crops: pd.DataFrame) -> Portfolio:
    """Take what a store of many fields has added up; raises LayoutError where none of them was laid out.

    >>> from geoagro import portfolio_from_store
    >>> from geoagro.reports.records.portfolio import PORTFOLIO_CROPS
    >>> from geoagro.values.results.field_result import FIELD_RESULTS
    >>> portfolio_from_store(FIELD_RESULTS.empty(None), PORTFOLIO_CROPS.empty())
    Traceback (most recent call last):
    geoagro.errors.LayoutError: No field of the store was laid out; fields.csv says why. Run `geoagro batch` again.
    """
    return _from_store(fields, crops)
