"""Work, harvest and income of a season by zone: every task is shared out by where its plants stand."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from geoagro.arrays import Floats
from geoagro.planar.inside import owners_of
from geoagro.season.records.tables import BY_ZONE
from geoagro.season.work import Work
from geoagro.values.plants import places_of
from geoagro.values.season import Range
from geoagro.values.zones import REST

_NONE = Range(low=0, likely=0, high=0)


def zone_table(work: Work, plants: Any, zones: Any) -> Any:
    """Table BY_ZONE; empty without zones.

    Parameters
    ----------
    plants
        Frame of layer PLANTS.
    zones
        Layer ZONES, or None.
    """
    if zones is None:
        return BY_ZONE.empty()
    names = [*zones["zone"], REST]
    inside = owners_of(places_of(plants), list(zones.geometry), otherwise=len(zones))
    done = np.bincount(work.plan.task, weights=work.plan.share, minlength=len(work.tasks.frame))
    share = _shares(work.tasks.frame, plants, inside, len(names))
    hours = done * work.tasks.frame["hours"].to_numpy()
    amount = done * work.tasks.frame["full_places"].to_numpy()
    kg, income = _worth(work, amount)
    wage = np.nan if work.rule.wage_per_hour is None else work.rule.wage_per_hour
    planted = np.where(
        (work.tasks.frame["task"] == "plant").to_numpy(), work.tasks.frame["places"].to_numpy() * done, 0.0
    )
    by_zone = share.T @ np.column_stack([planted, hours, kg, income])
    return BY_ZONE.frame(
        {
            "zone": names,
            "places": np.round(by_zone[:, 0]).astype(np.int64),
            "hours": by_zone[:, 1],
            "wages": by_zone[:, 1] * wage,
            "kg_likely": by_zone[:, 2],
            "income_likely": by_zone[:, 3],
        }
    )


def _worth(work: Work, amount: Floats) -> tuple[Floats, Floats]:
    """Likely kilograms and income of each task."""
    code = work.tasks.frame["crop"]
    kg = {c: (crop.yield_kg or _NONE).likely for c, crop in work.crops.items()}
    price = {c: (crop.price or _NONE).likely * crop.sold for c, crop in work.crops.items()}
    weight: Floats = amount * code.map(kg).fillna(0.0).to_numpy(dtype=float)
    return weight, weight * code.map(price).fillna(0.0).to_numpy(dtype=float)


def _shares(tasks: Any, plants: Any, inside: Any, zones: int) -> Floats:
    """Share of each task in each zone: by its plants, else by those of its bed, of its planting, of the field."""
    result = np.full((len(tasks), zones), np.nan)
    for keys in (["bed", "planting", "crop"], ["bed"], ["planting", "crop"]):
        open_ = np.isnan(result[:, 0])
        if open_.any():
            counts = pd.crosstab([plants[key].to_numpy() for key in keys], inside).reindex(
                columns=range(zones), fill_value=0
            )
            counts.index.names = keys
            found = counts.div(counts.sum(axis=1), axis=0)
            key = pd.MultiIndex.from_frame(tasks[keys]) if len(keys) > 1 else pd.Index(tasks[keys[0]])
            result[open_] = found.reindex(key[open_]).to_numpy()
    whole = np.bincount(inside, minlength=zones) / len(plants)
    return np.where(np.isnan(result), whole, result)
