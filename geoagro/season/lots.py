"""Lots: one crop of one planting in one bed in one round, the smallest thing that is planned."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

import numpy as np
import pandas as pd

from geoagro.errors import LayoutError
from geoagro.values.beds import Beds
from geoagro.values.season import Repeat

_KEYS = ["planting", "crop", "bed_kind", "row", "bed", "plant_week", "harvest_from_week", "harvest_to_week"]


def field_lots(plants: Any, beds: Beds, repeat: Repeat, *, last: int, perennials: Collection[str] = ()) -> Any:
    """Count the plants of each crop, planting and bed, in walking order, and repeat the vegetable beds.

    Parameters
    ----------
    plants
        Frame of layer PLANTS.
    repeat
        How often vegetable beds are planted again; tree beds and `perennials` (crop codes) aren't.
    last
        Last day of the plan; rounds planted after it are left out.

    Returns
    -------
    Frame with the keys above (without weeks), `places`, `plant_day`, `from_day`, `to_day` (days from the start),
    `area_m2` of the bed, `walk` (rank of the bed in walking order), `cycle` and `yield_share`.

    Raises
    ------
    LayoutError
        Where nothing is planted or a plant stands in an unknown bed.
    """
    if len(plants) == 0:
        raise LayoutError("The layout holds no plants, so there is nothing to plan. Add `plantings` to the design.")
    lots = plants.groupby(_KEYS, observed=True, sort=False).size().rename("places").reset_index()
    lots = lots.merge(walking_order(beds), on="bed", how="left")
    lost = lots.loc[lots["walk"].isna(), "bed"].unique()
    if len(lost):
        raise LayoutError(f"Plants stand in beds that the layout doesn't hold: {', '.join(map(str, lost[:5]))}.")
    lots["walk"] = lots["walk"].astype(np.int64)
    for day, week in (("plant_day", "plant_week"), ("from_day", "harvest_from_week"), ("to_day", "harvest_to_week")):
        lots[day] = lots.pop(week).astype(np.int64) * 7
    lots = _rounds(lots, repeat, last, perennials)
    return lots.sort_values(["cycle", "plant_day", "walk", "planting", "crop"], ignore_index=True)


def walking_order(beds: Beds) -> Any:
    """Frame of bed, area_m2 and walk: the rank in which a person walks the beds, row after row from the top.

    Within a row the upslope beds come first, then the tree bed, then the downslope beds; pieces of a bed are
    walked forth on odd rows and back on even ones.
    """
    tree = beds.tree_beds[["bed", "row", "area_m2"]].assign(across=0)
    side = np.where(beds.beds["side"] == "up", -1, 1)
    rest = beds.beds[["bed", "row", "area_m2"]].assign(across=side * beds.beds["order"].to_numpy())
    every = pd.concat([pd.DataFrame(tree), pd.DataFrame(rest)], ignore_index=True)
    piece = every["bed"].astype(str).str.extract(r"(?<=[0-9T])([a-z]*)$", expand=False).fillna("")
    rank = piece.str.len() * 1000 + piece.rank(method="dense").astype(np.int64)
    every["piece"] = np.where(every["row"] % 2 == 1, rank, -rank)
    every = every.sort_values(["row", "across", "piece"], ignore_index=True)
    every["walk"] = np.arange(len(every))
    return every[["bed", "area_m2", "walk"]]


def _rounds(lots: Any, repeat: Repeat, last: int, perennials: Collection[str]) -> Any:
    """Copy the lots of vegetable beds for each further round."""
    again = (lots["bed_kind"] != "tree") & ~lots["crop"].isin(perennials)
    rounds = [lots.assign(cycle=1, yield_share=np.where(again, repeat.yield_share[0], 1.0))]
    vegetables = lots[again]
    for k in range(1, _round_count(repeat)):
        shift = 7 * repeat.every_weeks * k
        share = repeat.yield_share[min(k, len(repeat.yield_share) - 1)]
        days = {day: vegetables[day] + shift for day in ("plant_day", "from_day", "to_day")}
        copy = vegetables.assign(**days, cycle=k + 1, yield_share=share)
        rounds.append(copy[copy["plant_day"] <= last])
    return pd.concat(rounds, ignore_index=True)


def _round_count(repeat: Repeat) -> int:
    """Count the rounds that begin within the given years."""
    return 1 + (52 * repeat.years - 1) // repeat.every_weeks
