"""The account by zone: ground, rows and plants of each, which add up to the field."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd

from geoagro.planar.inside import owners_of
from geoagro.reports.records.account import ZONE_CROP_ACCOUNT, ZONE_GROUND
from geoagro.reports.rounding import apportion
from geoagro.values.plants import places_of
from geoagro.values.report import LaidOut
from geoagro.values.timeline import Timeline
from geoagro.values.zones import REST

_STRIPS = ("tree_beds", "vegetable_beds", "paths")


def zone_ground(laid: LaidOut, trees: Any, *, field_m2: float) -> Any:
    """Table ZONE_GROUND; empty where the layout has no zones."""
    if laid.zones is None:
        return ZONE_GROUND.empty()
    layer, areas = laid.zones.zones.set_index("zone"), laid.zones.areas
    names = [*layer.index, REST]
    wide = areas.assign(item=areas["item"].where(areas["item"].isin(_STRIPS), "other"))
    wide = wide.pivot_table(index="zone", columns="item", values="area_m2", aggfunc="sum")
    wide = wide.reindex(index=names, columns=[*_STRIPS, "other"]).fillna(0.0)
    shares = apportion(wide.to_numpy().ravel(), field_m2).reshape(wide.shape)
    whole = np.round(shares.sum(axis=1), 1)
    inside = _inside(laid)
    counts = {
        "plants": np.bincount(inside, minlength=len(names)),
        "trees": np.bincount(inside[trees.to_numpy()], minlength=len(names)),
        "all_plantings": np.bincount(inside, weights=_rounds(laid), minlength=len(names)).astype(np.int64),
    }
    said = layer.reindex(names)
    columns = {
        "zone": names,
        "purpose": [str(purpose) for purpose in said["purpose"].fillna("crops")],
        "row_spacing_m": said["row_spacing_m"].where(said.index != REST, laid.spacing_m),
        "rows": [*(int(n) for n in layer["rows"]), _rows_of_rest(laid)],
        "area_m2": whole,
        "field_pct": np.round(100 * whole / field_m2, 2),
        **{f"{item}_m2": shares[:, k] for k, item in enumerate([*_STRIPS, "other"])},
        **counts,
    }
    return ZONE_GROUND.frame({name: columns[name] for name in ZONE_GROUND.columns})


def zone_crops(laid: LaidOut) -> Any:
    """Table ZONE_CROP_ACCOUNT, by zone in the order of the design, then by crop."""
    if laid.zones is None:
        return ZONE_CROP_ACCOUNT.empty()
    names = [*laid.zones.zones["zone"], REST]
    table = pd.DataFrame({"zone": _inside(laid), "crop": laid.plants["crop"].array, "all": _rounds(laid)})
    sums = (
        table.groupby(["zone", "crop"], sort=True, observed=True)
        .agg(plants=("all", "size"), rounds=("all", "sum"))
        .reset_index()
    )
    return ZONE_CROP_ACCOUNT.frame(
        {
            "zone": [names[k] for k in sums["zone"]],
            "crop": sums["crop"].astype(object),
            "name": [_name(laid, code) for code in sums["crop"]],
            "plants": sums["plants"],
            "all_plantings": sums["rounds"],
        }
    )


def _name(laid: LaidOut, code: str) -> str:
    crops: Mapping[str, Any] = laid.crops
    return str(crops[code].name)


def _inside(laid: LaidOut) -> Any:
    assert laid.zones is not None
    zones = list(laid.zones.zones.geometry)
    return owners_of(places_of(laid.plants), zones, otherwise=len(zones))


def _rounds(laid: LaidOut) -> Any:
    """How often each place is planted."""
    timeline = laid.timeline or Timeline.of(laid.plants)
    return np.array([len(kind.stays) for kind in timeline.kinds], dtype=np.int64)[timeline.kind]


def _rows_of_rest(laid: LaidOut) -> int:
    """Rows with ground of a bed outside all zones."""
    assert laid.zones is not None
    held = laid.zones.zones.union_all().buffer(1e-3)
    outside = ~laid.tree_beds.within(held)
    return int(laid.tree_beds["row"][outside].nunique())
