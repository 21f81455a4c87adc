"""The planting recipe on paper and in the field."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import TypedDict

from geoagro.pipeline.steps import crops_of, timeline_of
from geoagro.plants.analysis import analyse_recipe
from geoagro.plants.bed_sheet import bed_sheets, model_stand
from geoagro.plants.records.recipe_analysis import RecipeAnalysis
from geoagro.plants.records.sheet import BedSheet
from geoagro.values.base.doors import door
from geoagro.values.beds import Beds
from geoagro.values.design import Design
from geoagro.values.layout import Layout
from geoagro.values.plants import Plants
from geoagro.values.progress import Progress, silent
from geoagro.values.recipe import Crop, Stratum
from geoagro.values.results.stored_plants import StoredPlants
from geoagro.values.season import Weeding
from geoagro.values.words import Sentence

_MOST_ANALYSED = 500_000
"""Plants that are analysed of a field whose plants come in blocks: whole rows, spread over it (our choice)."""
_MODEL_ROW_M = 24.0
"""Length of the rows that a recipe is looked at on before there is a field."""


def bed_sheets_of(design: Design, library: Mapping[str, Crop]) -> tuple[BedSheet, ...]:
    """Sheets to plant from, one for each different bed of the recipe; needs no field.

    >>> from geoagro import bed_sheets_of, example_layout, read_crop_library
    >>> laid, library = example_layout(), read_crop_library()
    >>> len(bed_sheets_of(laid.design, library))
    2
    """
    crops = crops_of(design, library)
    return bed_sheets(design.name, design.beds, design.rows.spacing_m, crops, design.plantings, season=design.season)


def recipe_on_model(design: Design, library: Mapping[str, Crop]) -> tuple[Plants, RecipeAnalysis]:
    """Place and analyse the recipe on straight rows on an even slope; needs no field.

    >>> from geoagro import example_layout, read_crop_library, recipe_on_model
    >>> laid, library = example_layout(), read_crop_library()
    >>> analysis, plants = recipe_on_model(laid.design, library)[1::-1]
    >>> sorted(plants.by_crop())
    ['apple', 'lettuce']
    """
    crops = crops_of(design, library)
    beds, plants = model_stand(design.beds, design.rows.spacing_m, crops, design.plantings, _MODEL_ROW_M)
    timeline = timeline_of(design, plants, crops)
    return plants, analyse_recipe(plants, beds, crops, design.plantings, timeline=timeline, **_asked(design))


@door
def recipe_of(laid: Layout, library: Mapping[str, Crop], *, progress: Progress = silent) -> RecipeAnalysis:
    """Analyse the recipe as it stands in the field: roots, cover, crowding, weeding, warnings.

    Raises DesignError where an own crop lacks a size that placing didn't need.

    >>> from geoagro import example_layout, read_crop_library, recipe_of
    >>> laid, library = example_layout(), read_crop_library()
    >>> recipe_of(laid, library).timeline["crop"].tolist()
    ['apple', 'lettuce']
    """
    crops = crops_of(laid.design, library)
    if isinstance(laid.plants, StoredPlants):
        return _on_some_rows(laid, laid.plants, crops, progress)
    timeline = timeline_of(laid.design, laid.plants, crops)
    return analyse_recipe(
        laid.plants,
        laid.beds,
        crops,
        laid.design.plantings,
        timeline=timeline,
        **_asked(laid.design),
        progress=progress,
    )


def _on_some_rows(laid: Layout, stored: StoredPlants, crops: Mapping[str, Crop], progress: Progress) -> RecipeAnalysis:
    """Analyse rows spread over a field whose plants don't fit at once; cover by bed is that of their beds."""
    plants, which = stored.spread(_MOST_ANALYSED)
    rows = plants.frame["row"].unique()
    layers = (laid.beds.tree_beds, laid.beds.beds, laid.beds.paths)
    tree_beds, vegetable, paths = (layer[layer["row"].isin(list(rows))].reset_index(drop=True) for layer in layers)
    beds = Beds(tree_beds, vegetable, paths)
    timeline = timeline_of(laid.design, plants, crops)
    found = analyse_recipe(
        plants, beds, crops, laid.design.plantings, timeline=timeline, **_asked(laid.design), progress=progress
    )
    return replace(
        found, sampling=Sentence("{which}; roots and crowns that meet: {plants}", which=which, plants=found.sampling)
    )


class _Asked(TypedDict):
    weeding: Weeding | None
    reference_pct: Mapping[Stratum, float] | None


def _asked(design: Design) -> _Asked:
    """Take what the design asks of the analysis."""
    return {"weeding": design.season.weeding if design.season else None, "reference_pct": design.reference_shares}
