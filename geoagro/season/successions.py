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
        Lots with `lot`, bed, planting_no, plant_day and to_day.
    perennial
        Whether each lot bears for years.
    """
    once = lots.loc[~np.asarray(perennial, dtype=bool), ["lot", "bed", "planting_no", "to_day"]].sort_values("to_day")
    starts = lots[["bed", "plant_day"]].drop_duplicates().sort_values("plant_day")
    follow = pd.merge_asof(once, starts, left_on="to_day", right_on="plant_day", by="bed", direction="forward")
    follow = follow.dropna(subset="plant_day")
    follow["plant_day"] = follow["plant_day"].astype(np.int64)
    pairs = follow.merge(
        lots[["lot", "bed", "planting_no", "plant_day"]], on=["bed", "plant_day"], suffixes=("", "_next")
    )
    ids = frame[["task", "lot", "bed", "planting_no"]].assign(id=np.arange(len(frame)))
    harvest = ids.loc[ids["task"] == "harvest", ["lot", "id"]].rename(columns={"id": "before"})
    waiting = pairs.merge(harvest, on="lot")
    plant = ids.loc[ids["task"] == "plant", ["lot", "id"]].rename(columns={"lot": "lot_next", "id": "after"})
    planted = waiting.merge(plant, on="lot_next")
    prepare = ids.loc[ids["task"] == "prepare", ["bed", "planting_no", "id"]]
    prepare = prepare.rename(columns={"planting_no": "planting_no_next", "id": "after"})
    made = waiting[waiting["planting_no_next"] > waiting["planting_no"]].merge(prepare, on=["bed", "planting_no_next"])
    both = pd.concat([planted[["before", "after"]], made[["before", "after"]]]).drop_duplicates()
    return both["before"].to_numpy(dtype=np.int64), both["after"].to_numpy(dtype=np.int64)
