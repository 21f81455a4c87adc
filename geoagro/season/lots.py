"""Lots: one crop of one planting in one bed in one round, the smallest thing that is planned."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd

from geoagro.errors import LayoutError
from geoagro.season.company import round_share
from geoagro.values.beds import Beds
from geoagro.values.season import Repeat
from geoagro.values.timeline import Timeline
from geoagro.values.yields import YieldsInCompany

_STAY = ["kind", "planting_no", "plant_day", "from_day", "to_day", "yield_share", "prunings", "coppicings"]
_KEYS = ["planting", "crop", "bed_kind", "row", "bed", "kind"]


def field_lots(
    plants: gpd.GeoDataFrame,
    beds: Beds,
    timeline: Timeline,
    repeat: Repeat,
    *,
    last: int,
    yields: YieldsInCompany | None = None,
) -> pd.DataFrame:
    """Count the plants of each crop, planting and bed, in walking order, and repeat the vegetable beds.

    Parameters
    ----------
    plants
        Frame of layer PLANTS.
    timeline
        All rounds on these places.
    repeat
        Shares of the yield by round.
    yields
        What company leaves of them; all of it where None.
    last
        Last day of the plan; rounds planted after it are left out.

    Returns
    -------
    Frame with the keys above (`kind`: index into the timeline's kinds), `places`, `plant_day`, `from_day`, `to_day`
    (days from the start), `area_m2` of the bed, `walk` (rank of the bed in walking order), `planting_no`,
    `yield_share`, and the days of `prunings` and `coppicings`.

    Raises
    ------
    LayoutError
        Where nothing is planted or a plant stands in an unknown bed.
    """
    if len(plants) == 0:
        raise LayoutError("The layout holds no plants, so there is nothing to plan. Add `plantings` to the design.")
    lots = (
        plants.assign(kind=timeline.kind)
        .groupby(_KEYS, observed=True, sort=False)
        .size()
        .rename("places")
        .reset_index()
    )
    lots = lots.merge(walking_order(beds), on="bed", how="left")
    lost = lots.loc[lots["walk"].isna(), "bed"].unique()
    if len(lost):
        raise LayoutError(f"Plants stand in beds that the layout doesn't hold: {', '.join(map(str, lost[:5]))}.")
    lots["walk"] = lots["walk"].astype(np.int64)
    lots = lots.merge(_stays(timeline, repeat, yields), on="kind")
    lots = lots[(lots["planting_no"] == 1) | (lots["plant_day"] <= last)]
    return lots.sort_values(["planting_no", "plant_day", "walk", "planting", "crop"], ignore_index=True)


def walking_order(beds: Beds) -> pd.DataFrame:
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


def bed_list(beds: Beds, lots: pd.DataFrame) -> pd.DataFrame:
    """Frame of bed, row, area_m2 and walk of the beds, in walking order.

    Vegetable beds that no recipe uses are in it too: they stand free. Tree beds without plants aren't.
    """
    every = pd.concat([beds.tree_beds[["bed", "row"]], beds.beds[["bed", "row"]]], ignore_index=True)
    order = pd.DataFrame(every).merge(walking_order(beds), on="bed").sort_values("walk", ignore_index=True)
    unused_trees = ~order["bed"].isin(lots["bed"]) & order["bed"].isin(beds.tree_beds["bed"])
    return order[~unused_trees].reset_index(drop=True)


def _stays(timeline: Timeline, repeat: Repeat, yields: YieldsInCompany | None) -> pd.DataFrame:
    """One record per kind and round: its days and its share of the yield."""
    rows = [
        (
            number,
            stay.round,
            *(7 * week for week in (stay.plant_week, stay.harvest_from_week, stay.end_week)),
            round_share(kind, stay.round, repeat, yields),
            tuple(7 * week for week in stay.prunings),
            tuple(7 * week for week in stay.coppicings),
        )
        for number, kind in enumerate(timeline.kinds)
        for stay in kind.stays
    ]
    return pd.DataFrame(rows, columns=_STAY)
