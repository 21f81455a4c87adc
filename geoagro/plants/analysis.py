"""All that the recipe means through time, from the plants as they stand."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd

from geoagro.plants.advice import recipe_warnings
from geoagro.plants.crowding import crowding_table
from geoagro.plants.crowns import cover_table, ground_cover, kind_cover_table, strata_table, weeding_table
from geoagro.plants.kinds import moments, months_of_rounds, stand_of
from geoagro.plants.neighbours import choose_subjects
from geoagro.plants.records.recipe_analysis import RecipeAnalysis
from geoagro.plants.root_harm import conflict_layer, harm_findings, harms
from geoagro.plants.root_report import pair_table
from geoagro.plants.root_shares import root_shares
from geoagro.plants.root_turns import Roots
from geoagro.plants.strips import strips_of
from geoagro.plants.timeline import bare_beds, timeline_table
from geoagro.values.beds import Beds
from geoagro.values.plants import Plants
from geoagro.values.progress import Progress, silent
from geoagro.values.recipe import Crop, Planting, Stratum
from geoagro.values.rules.bed_kinds import TREE, VEGETABLE
from geoagro.values.season import Weeding
from geoagro.values.timeline import Timeline


def analyse_recipe(
    plants: Plants,
    beds: Beds,
    crops: Mapping[str, Crop],
    plantings: Sequence[Planting],
    *,
    timeline: Timeline | None = None,
    months: int = 36,
    conflict_share: float = 0.25,
    bare_weeks: int = 4,
    most_plants: int = 12_000,
    weeding: Weeding | None = None,
    reference_pct: Mapping[Stratum, float] | None = None,
    progress: Progress = silent,
) -> RecipeAnalysis:
    """Look at roots, crowns and times of a recipe as it was placed.

    Parameters
    ----------
    timeline
        All rounds on the places of `plants`; without it each place is planted once.
    months
        Looked at month by month this far (ground cover to the end of the last round), then once a year until every
        plant is grown.
    conflict_share
        Share of a plant's root zone, dug up when another crop is lifted, from which it is a conflict.
    bare_weeks
        Beds bare for longer are warned of.
    most_plants
        With more plants than this, root and crown-meeting figures come from stretches of bed spread over the
        field; `RecipeAnalysis.sampling` says so.
    weeding
        When weeds call for a round; as in `season.weeding` of the design, or its defaults.
    reference_pct
        Shares of ground per stratum to set the recipe beside; none if left out.

    Raises
    ------
    DesignError
        Where a crop lacks a size or time that a figure needs.
    """
    frame = plants.frame
    stand = stand_of(frame, plantings, crops, timeline)
    month, weeks = moments(stand.kinds, months)
    subjects = choose_subjects(frame, most_plants)
    progress("comparing root zones", 0.1)
    shares = root_shares(stand, subjects.index, weeks)
    names = {code: crop.name or code for code, crop in crops.items()}
    roots = Roots(frame, stand, strips_of(beds), shares, month, names, conflict_share)
    harmed = harms(roots)
    progress("counting ground under crowns", 0.6)
    polygons, area, bed_names, bed_kinds = _ground(beds)
    cover_month, cover_weeks = moments(stand.kinds, max(months, months_of_rounds(stand.kinds)))
    cover = ground_cover(stand, polygons, area, cover_weeks)
    warnings = recipe_warnings(plantings, crops) + harm_findings(harmed)
    return RecipeAnalysis(
        conflicts=conflict_layer(roots, harmed),
        root_pairs=pair_table(roots),
        cover=cover_table(cover, bed_names, cover_month, beds_until=months),
        kind_cover=kind_cover_table(cover, bed_kinds, cover_month),
        strata=strata_table(cover, cover_month, reference_pct),
        crowding=crowding_table(stand, subjects.index, month, weeks),
        timeline=timeline_table(frame, stand),
        weeding=weeding_table(cover, bed_names, cover_month, weeding or Weeding()),
        sampling=subjects.text,
        warnings=(*warnings, *bare_beds(frame, stand, bare_weeks)),
    )


def cover_of_beds(
    plants: Plants,
    beds: Beds,
    crops: Mapping[str, Crop],
    plantings: Sequence[Planting],
    *,
    timeline: Timeline | None = None,
    months: int = 36,
) -> pd.DataFrame:
    """Layer COVER alone, for those who need no more of the analysis; beds need no axis for it."""
    stand = stand_of(plants.frame, plantings, crops, timeline)
    month, weeks = moments(stand.kinds, max(months, months_of_rounds(stand.kinds)))
    polygons, area, names, _ = _ground(beds)
    return cover_table(ground_cover(stand, polygons, area, weeks), names, month)


def _ground(beds: Beds) -> tuple[Any, Any, list[str | None], list[str | None]]:
    """Polygons of beds and paths, their areas, and names and kinds of the beds (None for paths)."""
    layers = (beds.tree_beds, beds.beds, beds.paths)
    polygons = np.concatenate([np.asarray(layer.geometry) for layer in layers])
    area = np.concatenate([layer.geometry.area for layer in layers])
    names = [*beds.tree_beds["bed"], *beds.beds["bed"], *[None] * len(beds.paths)]
    kinds = [TREE.code] * len(beds.tree_beds) + [VEGETABLE.code] * len(beds.beds)
    return polygons, area, names, [*kinds, *[None] * len(beds.paths)]
