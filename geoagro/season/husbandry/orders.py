"""What to order by when: planting material in waves, own stems first, with what to ask the seller."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd

from geoagro.arrays import Ints
from geoagro.season.crops import SeasonCrop
from geoagro.season.records.tables import ORDERS
from geoagro.values.words import in_a_row, say

WAVE_DAYS = 28
"""Planting days of a crop that lie closer than this are supplied by one order."""

ORDER_LEAD_DAYS = 28
RIPE_DAYS = 180
"""Stems of a crop planted at least this long ago can be cut for the next planting (common practice, no source)."""

VEGETATIVE = frozenset({"stem cutting", "slip", "sucker", "corm", "sett", "rhizome", "set", "grafted tree"})
HEALTHY = say("Certified healthy stock; ask about local plant-health rules.")


def orders(days: pd.DataFrame, crops: dict[str, SeasonCrop]) -> pd.DataFrame:
    """Table ORDERS: one line per crop and wave of planting, in order of the day to order by.

    Stems of last year's crop come first, `per_mother` cuttings a plant; the rest is to be got. Packs are whole ones.
    """
    waves = days.sort_values(["crop", "day"]).reset_index(drop=True)
    new = (waves["day"].diff().dt.days > WAVE_DAYS) | (waves["crop"] != waves["crop"].shift())
    waves = waves.assign(wave=new.cumsum())
    keys = ["crop", "wave"]
    sums = waves.groupby(keys, sort=False, as_index=False).agg(
        material=("material", "first"),
        needed_on=("day", "min"),
        needed_to=("day", "max"),
        first_bed=("bed", "first"),
        last_bed=("bed", "last"),
        places=("places", "sum"),
        total=("total", "sum"),
        weight_kg=("weight_kg", "sum"),
    )
    if not len(sums):
        return ORDERS.frame({name: [] for name in ORDERS.columns})
    of = [crops[code] for code in sums["crop"]]
    own = _own_stems(sums, of)
    to_get = sums["total"].to_numpy() - own
    lead = pd.to_timedelta([max(crop.nursery_days, ORDER_LEAD_DAYS) for crop in of], unit="D")
    columns = {
        "order_by": (sums["needed_on"] - lead).to_numpy(),
        "own": own,
        "to_get": to_get,
        "packs": [math.ceil(n / c.pack) if c.pack else 0 for n, c in zip(to_get, of, strict=True)],
        "beds": [f"{a} – {b}" if a != b else a for a, b in zip(sums["first_bed"], sums["last_bed"], strict=True)],
        "weight_kg": [w if c.piece_g else np.nan for w, c in zip(sums["weight_kg"], of, strict=True)],
        "ask": [advice(crop) for crop in of],
        "notes": [crop.notes for crop in of],
    }
    rest = {k: sums[k].to_numpy() for k in ("crop", "material", "needed_on", "needed_to", "total")}
    frame = pd.DataFrame(columns | rest).sort_values(["order_by", "crop"], ignore_index=True)
    return ORDERS.frame({name: frame[name] for name in ORDERS.columns})


def advice(crop: SeasonCrop) -> str:
    """Say what to ask the seller, or the authorities, of this crop."""
    return in_a_row(HEALTHY if crop.material in VEGETATIVE else "", crop.order_caution or "")


def _own_stems(sums: pd.DataFrame, of: list[SeasonCrop]) -> Ints:
    """Cuttings from the field's own earlier plants of the same crop, never more than needed."""
    own = np.zeros(len(sums), dtype=np.int64)
    for k, crop in enumerate(of):
        if crop.material != "stem cutting" or not crop.per_mother:
            continue
        ripe = sums["needed_on"].iloc[k] - pd.Timedelta(days=RIPE_DAYS)
        before = sums[(sums["crop"] == crop.code) & (sums["needed_to"] <= ripe)]
        grown = int(before["places"].iloc[-1]) if len(before) else 0
        own[k] = min(int(sums["total"].iloc[k]), grown * crop.per_mother)
    return own
