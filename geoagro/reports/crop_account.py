"""Plants, planted area and density by crop and by stratum."""

from __future__ import annotations

from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd

from geoagro.reports.records.account import CROPS, STRATA
from geoagro.reports.shares import crown_m2
from geoagro.reports.tables import per_hectare
from geoagro.values.report import LaidOut
from geoagro.values.rules.bed_kinds import lasting_kinds
from geoagro.values.timeline import Timeline

STRATUM_ORDER = ("emergent", "high", "medium", "low", "ground")


def crop_account(
    laid: LaidOut, bed_crops: pd.DataFrame, *, field_m2: float, plantable_m2: float, planted_m2: float
) -> pd.DataFrame:
    """Table CROPS, in order of stratum from the top, then of name."""
    planted = bed_crops[bed_crops["plants"] > 0]
    sums = planted.groupby("crop").agg(
        plants=("plants", "sum"),
        rows=("row", "nunique"),
        beds=("bed", "nunique"),
        bed_area_m2=("bed_area_m2", "sum"),
        share_area_m2=("share_area_m2", "sum"),
    )
    sums[["bed_area_m2", "share_area_m2"]] = sums[["bed_area_m2", "share_area_m2"]].round(1)
    facts = [laid.crops[code] for code in sums.index]
    seen = strata_seen(laid)
    table = sums.reset_index().assign(
        name=[fact.name for fact in facts],
        habit=[fact.habit or "" for fact in facts],
        stratum=[fact.stratum or seen.get(code) or "" for code, fact in zip(sums.index, facts, strict=True)],
        notes=pd.Series([fact.notes for fact in facts], dtype=object),  # a sentence stays one
        canopy_m2=np.round(sums["plants"].to_numpy() * [crown_m2(fact) for fact in facts], 1),
    )
    timeline = laid.timeline or Timeline.of(laid.plants)
    table["standing_at_once"] = [timeline.most_at_once(code) for code in table["crop"]]
    table["all_plantings"] = [timeline.all_plantings(code) for code in table["crop"]]
    for name, area in (("field", field_m2), ("plantable", plantable_m2), ("planted", planted_m2)):
        table[f"per_ha_{name}"] = per_hectare(table["plants"].to_numpy(), area)
    table["per_ha_own_beds"] = (table["plants"] / (table["bed_area_m2"] / 10_000)).round(1)
    table = table.assign(order=table["stratum"].map(order_of)).sort_values(["order", "name", "crop"], ignore_index=True)
    return CROPS.frame({name: table[name] for name in CROPS.columns})


def strata_account(crops: pd.DataFrame, *, planted_m2: float) -> pd.DataFrame:
    """Table STRATA, from the top down: its crops' figures added up."""
    sums = (
        crops.groupby("stratum")
        .agg(
            crops=("crop", "size"),
            plants=("plants", "sum"),
            share_area_m2=("share_area_m2", "sum"),
            canopy_m2=("canopy_m2", lambda column: column.sum(skipna=False)),
        )
        .reset_index()
    )
    sums[["share_area_m2", "canopy_m2"]] = sums[["share_area_m2", "canopy_m2"]].round(1)
    sums["per_ha_planted"] = per_hectare(sums["plants"].to_numpy(), planted_m2)
    sums = sums.sort_values("stratum", key=lambda column: column.map(order_of), ignore_index=True)
    return STRATA.frame({name: sums[name] for name in STRATA.columns})


def order_of(stratum: Any) -> int:
    """Place of a stratum from the top down; unknown ones come last."""
    return STRATUM_ORDER.index(stratum) if stratum in STRATUM_ORDER else len(STRATUM_ORDER)


def tree_crops(laid: LaidOut) -> tuple[set[str], bool]:
    """Return the codes of trees, and whether habits decided it.

    Where every crop's habit is known, trees are the crops whose habit is tree; else all crops of tree beds.
    """
    used = sorted(laid.plants["crop"].unique())
    habits = {code: laid.crops[code].habit for code in used}
    if all(habits.values()):
        return {code for code, habit in habits.items() if habit == "tree"}, True
    return set(laid.plants["crop"][_lasting(laid)].unique()), False


def is_tree(laid: LaidOut) -> Any:
    """Tell for each plant whether it counts as a tree."""
    codes, by_habit = tree_crops(laid)
    chosen = laid.plants["crop"].isin(codes)
    return chosen if by_habit else chosen & _lasting(laid)


def _lasting(laid: LaidOut) -> Any:
    return laid.plants["bed_kind"].isin(lasting_kinds())


def strata_seen(laid: LaidOut) -> dict[str, str]:
    """Stratum of each crop where its plants have one."""
    pairs = laid.plants[["crop", "stratum"]].drop_duplicates().dropna().drop_duplicates("crop")
    return {str(crop): str(stratum) for crop, stratum in pairs.itertuples(index=False)}


def row_account(laid: LaidOut, beds: gpd.GeoDataFrame, trees: Any) -> gpd.GeoDataFrame:
    """Table ROWS: each row with its beds and what stands in them."""
    by_row = beds.groupby("row").agg(beds=("bed", "size"), bed_area_m2=("bed_area_m2", "sum"))
    table = laid.tree_rows[["row", "length_m", "elevation_m", "grade_p95_pct"]].set_index("row")
    table = table.join(by_row).assign(
        plants=laid.plants.groupby("row").size(), trees=trees.groupby(laid.plants["row"]).sum()
    )
    whole = ["beds", "plants", "trees"]
    table[whole] = table[whole].fillna(0).astype("int64")
    table = table.assign(
        bed_area_m2=table["bed_area_m2"].fillna(0.0).round(1),
        length_m=table["length_m"].round(1),
        elevation_m=table["elevation_m"].round(1),
        grade_p95_pct=table["grade_p95_pct"].round(2),
    )
    return table.sort_index().reset_index()
