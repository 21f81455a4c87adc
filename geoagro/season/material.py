"""Planting material: how many pieces of what, for which bed, on which day, and what they are cut or raised from."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from geoagro.season.clock import Clock, Days
from geoagro.season.crops import SeasonCrop
from geoagro.season.records.tables import MATERIAL, MATERIAL_DAYS
from geoagro.season.schedule import Schedule
from geoagro.season.tasks import Tasks


def running_share(needs: ArrayLike, groups: ArrayLike) -> Days:
    """Whole numbers per record, such that their running sum in each group is that of the needs, rounded up.

    So every day has at least what it needs, and the sum of all days is the total, not more: spares aren't
    rounded up bed by bed.

    >>> running_share([12 / 0.95, 12 / 0.95, 12 / 0.95], [0, 0, 0]).tolist()
    [13, 13, 12]
    """
    running = pd.Series(np.asarray(needs, dtype=float)).groupby(np.asarray(groups)).cumsum()
    need = np.ceil(running.to_numpy() - 1e-9).astype(np.int64)
    return np.asarray(pd.Series(need).groupby(np.asarray(groups)).diff().fillna(pd.Series(need)), dtype=np.int64)


def material_by_day(tasks: Tasks, plan: Schedule, crops: dict[str, SeasonCrop], clock: Clock) -> pd.DataFrame:
    """Table MATERIAL_DAYS: what to bring to which bed on each planting day of the levelled plan."""
    done = _planted(tasks, plan)
    losses, per_place, piece_g, nursery = _by_crop(
        done["crop"], crops, ("losses", "per_place", "piece_g", "nursery_days")
    )
    total = running_share(done["places"].to_numpy() * per_place / (1 - losses), done["crop"])
    sow = np.where(nursery > 0, clock.dates(done["day"].to_numpy() - nursery.astype(np.int64)), np.datetime64("NaT"))
    columns = {
        "day": clock.dates(done["day"]),
        "total": total,
        "weight_kg": total * piece_g / 1000,
        "material": [crops[code].material for code in done["crop"]],
        "sow_on": sow,
    }
    return MATERIAL_DAYS.frame(columns | {k: done[k] for k in ("row", "bed", "planting", "crop", "places")})


def material_by_crop(days: pd.DataFrame, crops: dict[str, SeasonCrop]) -> pd.DataFrame:
    """Table MATERIAL: the sums of MATERIAL_DAYS, with mother plants, nursery and cost."""
    sums = days.groupby("crop", sort=True).agg(
        places=("places", "sum"),
        total=("total", "sum"),
        first_sowing=("sow_on", "min"),
        first_planting=("day", "min"),
        last_planting=("day", "max"),
    )
    of = [crops[str(code)] for code in sums.index]
    total = sums["total"].to_numpy()
    pieces = sums["places"].to_numpy() * np.array([c.per_place for c in of], dtype=np.int64)
    weight = total * np.array([np.nan if c.piece_g is None else c.piece_g for c in of]) / 1000
    mothers = [-(-int(n) // c.per_mother) if c.per_mother else 0 for n, c in zip(total, of, strict=True)]
    sown = [_sown(int(n), c) for n, c in zip(total, of, strict=True)]
    cost = material_cost(total, weight, of)
    columns = {
        "crop": list(sums.index),
        "material": [c.material for c in of],
        "pieces": pieces,
        "spares": total - pieces,
        "weight_kg": weight,
        "mothers": mothers,
        "nursery_sown": sown,
        "cost": cost,
    }
    rest = ("places", "total", "first_sowing", "first_planting", "last_planting")
    return MATERIAL.frame(columns | {k: sums[k].to_numpy() for k in rest})


def material_cost(total: NDArray[Any], weight: NDArray[Any], crops: list[SeasonCrop]) -> NDArray[np.float64]:
    """Money for pieces, or for kilograms where the crop's material is weighed; NaN without a unit cost."""
    amount = np.where([c.weighed for c in crops], weight, total)
    return np.asarray(amount * np.array([np.nan if c.unit_cost is None else c.unit_cost for c in crops]), dtype=float)


def _sown(total: int, crop: SeasonCrop) -> int:
    return int(np.ceil(total / (1 - crop.nursery_losses) - 1e-9)) if crop.nursery_days else 0


def _planted(tasks: Tasks, plan: Schedule) -> pd.DataFrame:
    """Places planted per lot and day, whole numbers, in the order of the work."""
    planting = tasks.frame["task"].isin(["plant", "replace"]).to_numpy()
    chosen = planting[plan.task]
    done = pd.DataFrame({"task": plan.task[chosen], "day": plan.day[chosen], "share": plan.share[chosen]})
    keys = ["row", "bed", "planting", "crop", "places", "walk"]
    done = done.join(tasks.frame[keys], on="task")
    parts = done["share"].to_numpy() * done["places"].to_numpy()
    running = pd.Series(parts).groupby(done["task"].to_numpy()).cumsum()
    whole = np.floor(running + 1e-6)
    done["places"] = whole.groupby(done["task"].to_numpy()).diff().fillna(whole).astype(np.int64)
    return done[done["places"] > 0].reset_index(drop=True)


def _by_crop(codes: Any, crops: dict[str, SeasonCrop], keys: tuple[str, ...]) -> list[NDArray[np.float64]]:
    tables = ({code: getattr(crop, key) for code, crop in crops.items()} for key in keys)
    return [codes.map(table).to_numpy(dtype=float) for table in tables]
