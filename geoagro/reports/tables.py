"""The attribute tables of a layout: areas, and plants by crop and by row."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike

from geoagro.arrays import Floats
from geoagro.reports.kinds import Kind, measure_kinds
from geoagro.values.beds import Beds
from geoagro.values.ground import Ground
from geoagro.values.layout import AREA_SUMMARY, CROP_SUMMARY, ROW_SUMMARY, Tables
from geoagro.values.measures import Measures
from geoagro.values.plants import Plants
from geoagro.values.results.stored_plants import StoredPlants
from geoagro.values.site import Site
from geoagro.values.terrain import Terrain
from geoagro.values.timeline import Timeline


def layout_tables(  # noqa: PLR0917
    site: Site,
    terrain: Terrain,
    ground: Ground,
    beds: Beds,
    plants: Plants | StoredPlants,
    unplanted: pd.DataFrame,
    *,
    quality: Measures,
    timeline: Timeline | None = None,
) -> Tables:
    """Add up a layout: areas by kind of ground, plants by crop, plants by row and crop.

    Areas are in m2 rounded to 0.1 (geoagro.reports.kinds tells how they are measured and why their sums
    hold), densities in plants per hectare of the field and of the plantable ground as measured.

    Parameters
    ----------
    unplanted
        Layer UNPLANTED, complete.
    quality
        As the rows' room measured it; passed on as it is.
    """
    kinds = measure_kinds(site, terrain, ground, beds, unplanted)
    plan = {kind.item: kind.areas.plan_m2 for kind in kinds}
    return Tables(
        area_summary=area_summary(kinds),
        crop_summary=crop_summary(
            plants, timeline or plants.timeline(), field_m2=plan["field"], plantable_m2=plan["plantable"]
        ),
        row_summary=row_summary(plants),
        layout_quality=quality,
    )


def area_summary(kinds: tuple[Kind, ...]) -> pd.DataFrame:
    """Table AREA_SUMMARY from measured kinds."""
    triples = [kind.areas.triple for kind in kinds]
    return AREA_SUMMARY.frame(
        {
            "item": [kind.item for kind in kinds],
            "part_of": [kind.part_of for kind in kinds],
            "definition": [kind.definition for kind in kinds],
            "area_m2": [plan for plan, _, _ in triples],
            "ground_area_m2": [slope for _, slope, _ in triples],
            "geodesic_area_m2": [geodesic for _, _, geodesic in triples],
        }
    )


def crop_summary(
    plants: Plants | StoredPlants, timeline: Timeline, *, field_m2: float, plantable_m2: float
) -> pd.DataFrame:
    """Table CROP_SUMMARY: how many planting points each crop has, also per hectare (to 0.1)."""
    counts = plants.per_crop()
    return CROP_SUMMARY.frame(
        {
            "crop": counts.index,
            "plants": counts.to_numpy(),
            "standing_at_once": [timeline.most_at_once(str(code)) for code in counts.index],
            "all_plantings": [timeline.all_plantings(str(code)) for code in counts.index],
            "per_ha_field": per_hectare(counts.to_numpy(), field_m2),
            "per_ha_plantable": per_hectare(counts.to_numpy(), plantable_m2),
        }
    )


def row_summary(plants: Plants | StoredPlants) -> pd.DataFrame:
    """Table ROW_SUMMARY: plants of each crop in a row's own bed and the beds measured from it."""
    counts = plants.per_row_and_crop()
    return ROW_SUMMARY.frame({name: counts[name] for name in ROW_SUMMARY.columns})


def per_hectare(counts: ArrayLike, area_m2: float) -> Floats:
    """Plants per hectare, to 0.1; NaN on no ground.

    >>> float(per_hectare(625, 100 * 100.0))
    625.0
    """
    plants = np.asarray(counts)
    return np.round(plants / (area_m2 / 10_000), 1) if area_m2 > 0 else np.full(plants.shape, np.nan)
