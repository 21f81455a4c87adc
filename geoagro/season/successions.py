"""What is planted next in a bed waits until the crop before it is off the ground."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from geoagro.season.clock import Days


def succession_edges(frame: pd.DataFrame, lots: pd.DataFrame, perennial: Any) -> tuple[Days, Days]:
    """Pairs of tasks (harvest, what waits for it).

    The next planting in the same bed that is wanted on or after the last harvest day of a lot waits for the
    harvest of that lot; so does making the bed anew for a further round. Perennials hold nobody up.

    Parameters
    ----------
    frame
        Tasks, numbered by their index.
    lots
        Lots with `lot`, bed, cycle, plant_day and to_day.
    perennial
        Whether each lot bears for years.
    """
    once = lots.loc[~np.asarray(perennial, dtype=bool), ["lot", "bed", "cycle", "to_day"]].sort_values("to_day")
    starts = lots[["bed", "plant_day"]].drop_duplicates().sort_values("plant_day")
    follow = pd.merge_asof(once, starts, left_on="to_day", right_on="plant_day", by="bed", direction="forward")
    follow = follow.dropna(subset="plant_day")
    follow["plant_day"] = follow["plant_day"].astype(np.int64)
    pairs = follow.merge(lots[["lot", "bed", "cycle", "plant_day"]], on=["bed", "plant_day"], suffixes=("", "_next"))
    ids = frame[["task", "lot", "bed", "cycle"]].assign(id=np.arange(len(frame)))
    harvest = ids.loc[ids["task"] == "harvest", ["lot", "id"]].rename(columns={"id": "before"})
    waiting = pairs.merge(harvest, on="lot")
    plant = ids.loc[ids["task"] == "plant", ["lot", "id"]].rename(columns={"lot": "lot_next", "id": "after"})
    planted = waiting.merge(plant, on="lot_next")
    prepare = ids.loc[ids["task"] == "prepare", ["bed", "cycle", "id"]]
    prepare = prepare.rename(columns={"cycle": "cycle_next", "id": "after"})
    made = waiting[waiting["cycle_next"] > waiting["cycle"]].merge(prepare, on=["bed", "cycle_next"])
    both = pd.concat([planted[["before", "after"]], made[["before", "after"]]]).drop_duplicates()
    return both["before"].to_numpy(dtype=np.int64), both["after"].to_numpy(dtype=np.int64)
