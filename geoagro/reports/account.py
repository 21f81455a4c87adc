"""The account of a field: every number of the report, computed once from the layout."""

from __future__ import annotations

from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from geoagro.arrays import Floats
from geoagro.crs import geodesic_area_m2, name_of
from geoagro.errors import LayoutError
from geoagro.planar.area_error import writing_sd
from geoagro.planar.inside import owners_of
from geoagro.reports.by_zone import zone_crops, zone_ground
from geoagro.reports.canopy import canopy_cover
from geoagro.reports.cautions import cautions
from geoagro.reports.claim.claim import claim_for
from geoagro.reports.crop_account import crop_account, is_tree, row_account, strata_account, tree_crops
from geoagro.reports.records.account import AREAS, PARTS, ROWS, Account, Headline
from geoagro.reports.records.kinds import ground_kind
from geoagro.reports.rounding import apportion
from geoagro.reports.shares import bed_crops, bed_table, share_basis
from geoagro.reports.survival import built_table, found_table, survival_table
from geoagro.reports.uncertainty import boundary_sd, uncertainty_table
from geoagro.values.layout import ROW_SUMMARY
from geoagro.values.plants import places_of
from geoagro.values.progress import Progress, silent
from geoagro.values.report import LaidOut, ReportRule
from geoagro.values.terrain import Terrain
from geoagro.values.timeline import Timeline


def account_for(
    laid: LaidOut, rule: ReportRule, *, terrain: Terrain | None = None, progress: Progress = silent
) -> Account:
    """Add up a layout into the account that every file of the report shows.

    Areas are those of the layout's own table `area_summary`; beds, plants and rows are counted from the
    layers, and must agree with it.

    Parameters
    ----------
    terrain
        For the uncertainty from cell size; left out where None.

    Raises
    ------
    LayoutError
        Where layers and tables disagree (a layer was edited after the layout), or crowns are asked for and
        a width is unknown.
    """
    progress("counting plants and beds", 0.0)
    plan = dict(zip(laid.area_summary["item"], laid.area_summary["area_m2"], strict=True))
    basis = share_basis(rule.mixture_share, {code: laid.crops[code] for code in laid.plants["crop"].unique()})
    beds = bed_table(laid, plan)
    mixed = bed_crops(laid, beds, basis)
    trees = is_tree(laid)
    planted_m2 = round(float(mixed["share_area_m2"].sum()), 1)
    crops = crop_account(laid, mixed, field_m2=plan["field"], plantable_m2=plan["plantable"], planted_m2=planted_m2)
    progress("spreading crowns", 0.4)
    cover_m2 = canopy_cover(places_of(laid.plants, trees), _full_widths(laid, trees), laid.boundary)
    rows = row_account(laid, beds, trees)
    progress("weighing uncertainty", 0.7)
    uncertainty = uncertainty_table(laid, rule, terrain)
    headline = _headline(laid, rule, rows, planted_m2=planted_m2, cover_m2=cover_m2, trees=int(trees.sum()))
    survival = survival_table(laid.surveys)
    progress("counting done", 1.0)
    return Account(
        name=laid.name,
        crs_name=name_of(laid.crs),
        spacing_m=laid.spacing_m,
        headline=headline,
        parts=parts_of(laid, trees, headline),
        areas=areas(laid, headline),
        crops=crops,
        strata=strata_account(crops, planted_m2=planted_m2),
        rows=ROWS.frame({name: rows[name] for name in ROWS.columns}),
        row_crops=_row_crops(laid),
        bed_crops=mixed,
        uncertainty=uncertainty,
        quality=laid.quality,
        survival=survival,
        built=built_table(laid.surveys),
        found=found_table(laid.surveys, planted_m2=planted_m2, trees=_tree_codes(laid, trees)),
        sources=laid.sources,
        findings=laid.findings,
        share_basis=basis,
        trees_basis="habit" if tree_crops(laid)[1] else "bed",
        cautions=cautions(laid, rule, headline, basis=basis, surveyed=len(laid.surveys) > 0),
        zones=zone_ground(laid, trees, field_m2=plan["field"]),
        zone_crops=zone_crops(laid),
        area_sd_m2=writing_sd(laid.boundary, rule.boundary_error_m, correlation_m=rule.boundary_correlation_m),
        claim=claim_for(laid, rule, trees, field_m2=plan["field"], survival=survival),
    )


def _full_widths(laid: LaidOut, trees: Any) -> Floats:
    """Crowns' widths of trees at full size; NaN where unknown."""
    widths = {code: crop.canopy_width_m for code, crop in laid.crops.items()}
    found: Floats = laid.plants["crop"][trees].map(widths).to_numpy(dtype=float)
    return found


def _tree_codes(laid: LaidOut, trees: Any) -> frozenset[str]:
    """Crops all of whose plants count as trees."""
    whole = pd.Series(np.asarray(trees), index=laid.plants.index).groupby(laid.plants["crop"], observed=True).all()
    return frozenset(str(code) for code in whole.index[whole])


def _headline(
    laid: LaidOut, rule: ReportRule, rows: gpd.GeoDataFrame, *, planted_m2: float, cover_m2: float, trees: int
) -> Headline:
    table = laid.area_summary.set_index("item")
    plan = table["area_m2"]
    timeline = laid.timeline or Timeline.of(laid.plants)
    return Headline(
        field_m2=float(plan["field"]),
        field_geodesic_m2=float(table["geodesic_area_m2"]["field"]),
        field_ground_m2=float(table["ground_area_m2"]["field"]),
        field_sd_m2=boundary_sd(laid, rule),
        plantable_m2=float(plan["plantable"]),
        planted_m2=planted_m2,
        empty_beds_m2=round(float(plan["tree_beds"] + plan["vegetable_beds"]) - planted_m2, 1),
        canopy_cover_m2=cover_m2,
        plants=len(laid.plants),
        standing_at_once=timeline.most_at_once(),
        all_plantings=timeline.all_plantings(),
        trees=trees,
        crops=int(laid.plants["crop"].nunique()),
        rows=len(rows),
        row_length_m=round(float(rows["length_m"].sum()), 1),
        trees_per_ha_field=_density(trees, float(plan["field"])),
        trees_per_ha_planted=_density(trees, planted_m2),
    )


def _density(count: int, area_m2: float) -> float:
    return round(count / area_m2 * 10_000, 1) if area_m2 > 0 else float("nan")


def areas(laid: LaidOut, headline: Headline) -> pd.DataFrame:
    """Table AREAS: the layout's areas, then planted beds and crowns, which lie over them and aren't added."""
    table = laid.area_summary.copy()
    over = pd.DataFrame(
        {
            "item": ["planted", "tree_canopy"],
            "part_of": ["", ""],
            "definition": [
                ground_kind("planted").definition,
                ground_kind("tree_canopy").definition,
            ],
            "area_m2": [headline.planted_m2, headline.canopy_cover_m2],
            "ground_area_m2": [np.nan, np.nan],
            "geodesic_area_m2": [np.nan, np.nan],
        }
    )
    table = pd.concat([table, over], ignore_index=True)
    table["field_pct"] = (table["area_m2"] / headline.field_m2 * 100).round(2)
    return AREAS.frame({name: table[name] for name in AREAS.columns})


def parts_of(laid: LaidOut, trees: Any, headline: Headline) -> Any:
    """Layer PARTS: the separate parts of the field, the largest first, with their plants.

    Raises LayoutError if a plant stands outside the field.
    """
    parts = np.array(sorted(shapely.get_parts(laid.boundary), key=lambda part: (-part.area, part.bounds)), dtype=object)
    first = owners_of(places_of(laid.plants), parts)
    if (first < 0).any():
        stray = laid.plants.iloc[int(np.argmax(first < 0))]
        raise LayoutError(
            f"Plant {stray['plant']} ({stray['crop']}, bed {stray['bed']}) stands outside the field. "
            "A layer was edited after the layout was made; run `geoagro layout` again before reporting."
        )
    geodesic = [geodesic_area_m2(shape, laid.crs) for shape in parts]
    return PARTS.frame(
        {
            "part": [f"{k:02d}" for k in range(1, len(parts) + 1)],
            "area_m2": apportion(shapely.area(parts), headline.field_m2),
            "geodesic_area_m2": apportion(geodesic, headline.field_geodesic_m2),
            "perimeter_m": np.round(shapely.length(parts), 1),
            "holes": shapely.get_num_interior_rings(parts),
            "plants": np.bincount(first, minlength=len(parts)),
            "trees": np.bincount(first[trees.to_numpy()], minlength=len(parts)),
        },
        geometry=list(parts),
        crs=laid.crs,
    )


def _row_crops(laid: LaidOut) -> pd.DataFrame:
    counts = laid.plants.groupby(["row", "crop"], sort=True, observed=True).size().reset_index(name="plants")
    return ROW_SUMMARY.frame({name: counts[name] for name in ROW_SUMMARY.columns})
