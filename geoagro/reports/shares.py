"""Which crop stands in which bed, and how a bed's area is shared out to its crops."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

import geopandas as gpd
import numpy as np
import pandas as pd

from geoagro.arrays import Floats
from geoagro.errors import LayoutError
from geoagro.reports.records.account import BED_CROPS
from geoagro.reports.rounding import apportion
from geoagro.values.report import CropFacts, LaidOut
from geoagro.values.rules.bed_kinds import TREE, VEGETABLE

Basis = Literal["canopy", "plants"]


def share_basis(wanted: Literal["auto", "canopy", "plants"], crops: Mapping[str, CropFacts]) -> Basis:
    """Choose by what beds are shared out; "auto" takes the crowns where every crop's width is known.

    Raises LayoutError if crowns are asked for and a crop's width is unknown.
    """
    unknown = sorted(code for code, crop in crops.items() if not crop.canopy_width_m)
    if wanted == "canopy" and unknown:
        raise LayoutError(
            f"report.mixture_share is canopy, but the crown's width is unknown for {', '.join(unknown)}. "
            "Give crops.NAME.canopy_width_m, or set report.mixture_share to plants."
        )
    return "plants" if wanted == "plants" or unknown else "canopy"


def crown_m2(crop: CropFacts) -> float:
    """Area of one crown at full size, m²; NaN where its width is unknown."""
    return float("nan") if crop.canopy_width_m is None else np.pi / 4 * crop.canopy_width_m**2


def bed_table(laid: LaidOut, totals: Mapping[str, float]) -> gpd.GeoDataFrame:
    """Every bed once: id, kind, row and its area, rounded so that each kind adds up to `totals`."""
    kinds = ((TREE.code, "tree_beds", laid.tree_beds), (VEGETABLE.code, "vegetable_beds", laid.beds))
    parts = []
    for kind, item, layer in kinds:
        part = layer[["bed", "row"]].assign(kind=kind, exact=layer.geometry.area.to_numpy())
        if abs(part["exact"].sum() - totals[item]) > 0.06 + 1e-9 * totals[item]:
            raise LayoutError(
                f"Layer {item} covers {part['exact'].sum():.1f} m², but the table area_summary says {totals[item]:.1f}. "
                "The layer was edited after the layout was made; run `geoagro layout` again before reporting."
            )
        parts.append(part.assign(bed_area_m2=apportion(part["exact"], totals[item])))
    return pd.concat(parts, ignore_index=True)


def bed_crops(laid: LaidOut, beds: gpd.GeoDataFrame, basis: Basis) -> pd.DataFrame:
    """Table BED_CROPS: each crop of each bed with its plants and share; beds without plants have one empty line."""
    counts = laid.plants.groupby(["bed", "crop"], sort=False, observed=True).size().rename("plants").reset_index()
    counts = counts.astype({"bed": object, "crop": object})
    strays = sorted(set(counts["bed"]) - set(beds["bed"]))
    if strays:
        raise LayoutError(
            f"Plants stand in bed {strays[0]}, which no bed layer holds. Layers were edited after the layout was made; "
            "run `geoagro layout` again before reporting."
        )
    table = beds.merge(counts, on="bed", how="left").sort_values(["row", "kind", "bed", "crop"], ignore_index=True)
    table["plants"] = table["plants"].fillna(0).astype("int64")
    weights = {code: crown_m2(crop) if basis == "canopy" else 1.0 for code, crop in laid.crops.items()}
    table["share_area_m2"] = _shares(table, table["crop"].map(weights).fillna(0.0) * table["plants"])
    columns = {name: table[name] for name in BED_CROPS.columns}
    planted = [code if count else None for code, count in zip(table["crop"], table["plants"], strict=True)]
    return BED_CROPS.frame(columns | {"crop": planted})


def _shares(table: pd.DataFrame, weights: pd.Series) -> Floats:
    """Share out each bed's area by weight, to 0.1 m², so that each bed adds up."""
    whole = weights.groupby(table["bed"]).transform("sum")
    exact = np.where(whole > 0, table["bed_area_m2"] * weights / whole.where(whole > 0, 1.0), 0.0)
    rounded = np.zeros(len(table))
    for places in table.groupby("bed", sort=False).indices.values():
        if whole.iloc[places[0]] > 0:
            rounded[places] = apportion(exact[places], float(table["bed_area_m2"].iloc[places[0]]))
    return rounded
