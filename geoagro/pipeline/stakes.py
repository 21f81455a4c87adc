"""Marks in the field, sample plots and what was built."""

from __future__ import annotations

from typing import Any

import shapely

from geoagro.stakeout.as_built import Covers, as_built
from geoagro.stakeout.plots import PlotRule, lay_plots
from geoagro.stakeout.records.as_built import AsBuilt, SampleSize
from geoagro.stakeout.records.stakes import StakeOut
from geoagro.stakeout.stake_out import stake_out
from geoagro.values.base.doors import door
from geoagro.values.beds import Beds
from geoagro.values.design import Design
from geoagro.values.progress import Progress, silent
from geoagro.values.rows import TreeRows
from geoagro.values.site import Site
from geoagro.values.survey import Survey
from geoagro.values.terrain import Terrain

__all__ = ["PlotRule", "built_of", "plots_of", "stakes_of"]


@door
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
    """Everything needed to mark a layout in the field; `earlier` marks keep their names and places.

    >>> from geoagro import example_layout, stakes_of
    >>> laid = example_layout()
    >>> len(stakes_of(laid.design, laid.site, laid.rows, laid.beds, laid.terrain).marks)
    24
    """
    return stake_out(
        rows,
        beds,
        site,
        terrain,
        design.stakeout,
        spacing_tolerance_pct=design.rows.spacing_tolerance_pct,
        earlier=earlier,
        progress=progress,
    )


@door
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
    undo: bool = False,
) -> AsBuilt:
    """Match a survey with the layout: what was built, what is missing, what to plant again.

    `undo` corrects the survey by what moved all its points alike.

    >>> from pathlib import Path
    >>> from geoagro import built_of, example_layout, read_survey
    >>> import tempfile
    >>> laid = example_layout()
    >>> trees = laid.plants.by_crop()["apple"]
    >>> with tempfile.TemporaryDirectory() as folder:  # all trees but the first, each 10 cm farther east
    ...     file = Path(folder, "survey.csv")
    ...     found = trees.iloc[1:].assign(name=trees["plant"], x=trees["x"] + 0.1, date="2031-05-02")
    ...     _ = file.write_text(found[["name", "x", "y", "date"]].to_csv(index=False))
    ...     survey = read_survey(file, laid.site, what="plants")
    >>> built = built_of(
    ...     survey, laid.rows, laid.beds, marks=None, plants=laid.plants.frame, plots=None, covers=None, crops=("apple",), within_m=1.0
    ... )
    >>> built.plants.loc[built.plants["crop"] == "apple", "state"].value_counts().to_dict()
    {'alive': 89, 'missing': 1}
    """
    return as_built(
        survey, rows, beds, marks=marks, plants=plants, plots=plots, covers=covers, crops=crops, within_m=within_m,
        undo=undo,
    )  # fmt: skip


@door
def plots_of(beds: Beds, plants: Any, rule: PlotRule) -> tuple[Any, SampleSize]:
    """Sample plots over all planted ground, with the number that a precision needs.

    >>> from geoagro import PlotRule, example_layout, plots_of
    >>> laid = example_layout()
    >>> plots, size = plots_of(laid.beds, laid.plants.frame, PlotRule(radius_m=3.0))
    >>> len(plots)
    18
    """
    planted = shapely.union_all([*beds.tree_beds.geometry, *beds.beds.geometry, *beds.paths.geometry])
    return lay_plots(planted, plants[["x", "y"]].to_numpy(), crs=plants.crs, rule=rule)
