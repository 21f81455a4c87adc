"""What the field makes of mulch, and what it gives and takes of nitrogen, phosphorus and potassium, month by month."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
import pandas as pd

from geoagro.season.crops import SeasonCrop
from geoagro.season.records.tables import NUTRIENTS

DRY_SHARE = 0.25
"""Dry matter in fresh prunings (from memory)."""

MULCH_KG_PER_T: tuple[tuple[float, float], ...] = ((20.0, 42.0), (1.0, 2.5), (8.0, 25.0))
"""N, P, K in a tonne of dry prunings, low and high: 5.3 t of leucaena leaf hold 223 kg N, 42 kg a tonne; the rest from
memory."""

SUPPRESSES_T_PER_HA = (15.0, 24.0)
"""Hay that kept annual weeds down, dry tonnes on a hectare."""

ELEMENTS = ("n", "p", "k")


def nutrient_table(dated: Any, yields: Any, crops: dict[str, SeasonCrop]) -> Any:
    """Table NUTRIENTS: prunings by month as mulch with what they hold, and what the harvest takes away.

    `dated` holds the tasks with their first day by the levelled plan as a date in `month`; what isn't reached is left
    out. Ranges come from the low and high contents and, for the harvest, the low and high yields.
    """
    parts = [_given(dated, crops), _taken(yields, crops)]
    frame = pd.concat([p for p in parts if len(p)], ignore_index=True) if any(len(p) for p in parts) else parts[0]
    if len(frame):
        frame = frame.sort_values(["month", "way", "crop"], ignore_index=True)
    return NUTRIENTS.frame({name: frame[name] for name in NUTRIENTS.columns})


def _given(dated: Any, crops: dict[str, SeasonCrop]) -> Any:
    cut = dated[(dated["task"] == "prune") & dated["month"].notna()]
    fresh = cut["crop"].map({code: c.prunings_kg or 0.0 for code, c in crops.items()}).astype(float)
    full = cut["crop"].map({code: max(c.full_days, 1) for code, c in crops.items()}).astype(float)
    kg = fresh * cut["places"] * np.minimum(cut["offset"] / full, 1.0) ** 2
    sums = cut.assign(kg=kg)[kg > 0].groupby(["month", "crop"], as_index=False)["kg"].sum()
    dry = sums["kg"] * DRY_SHARE / 1000
    spans = {f"{e}_{k}": dry * v for e, pair in zip(ELEMENTS, MULCH_KG_PER_T, strict=True) for k, v in zip(("low", "high"), pair, strict=True)}  # fmt: skip
    return sums.assign(way="given", **spans)


def _taken(yields: Any, crops: dict[str, SeasonCrop]) -> Any:
    known = {code: c.taken_kg_per_t for code, c in crops.items() if c.taken_kg_per_t is not None}
    kept = yields[yields["crop"].isin(known) & (yields["kg_likely"] > 0)]
    spans = {}
    for place, element in enumerate(ELEMENTS):
        for k, which in enumerate(("low", "high")):
            rate = kept["crop"].map({code: taken[place][k] for code, taken in known.items()}).astype(float)
            spans[f"{element}_{which}"] = -kept[f"kg_{which}"] / 1000 * rate
    return pd.DataFrame({"month": kept["month"], "crop": kept["crop"], "kg": kept["kg_likely"], "way": "taken"} | spans)


def nutrient_findings(
    table: Any, crops: dict[str, SeasonCrop], area_ha: float, years: int
) -> Iterator[tuple[str, str, str]]:
    """One note that sets what is taken beside what prunings give."""
    if not len(table):
        return
    sums = (
        table.groupby("way")[["kg", *(f"{e}_{k}" for e in ELEMENTS for k in ("low", "high"))]].sum() / years / area_ha
    )
    told = []
    for way, sign in (("taken", -1), ("given", 1)):
        if way in sums.index:
            row = sums.loc[way]
            spans = ", ".join(
                f"{e.upper()} {sign * row[f'{e}_low']:,.0f}-{sign * row[f'{e}_high']:,.0f}" for e in ELEMENTS
            )
            told.append(
                f"{'harvests take away' if way == 'taken' else 'prunings bring back'} {spans} kg a hectare and year"
            )
    unknown = sorted(c.code for c in crops.values() if c.yield_kg and c.yield_kg.high > 0 and c.taken_kg_per_t is None)
    gap = f" Nothing is known of {', '.join(unknown)}, so more is taken." if unknown else ""
    dry = sums.loc["given", "kg"] * DRY_SHARE / 1000 if "given" in sums.index else 0.0
    need = f" Prunings make {dry:,.1f} t of dry mulch a hectare and year; {SUPPRESSES_T_PER_HA[0]:g}-{SUPPRESSES_T_PER_HA[1]:g} t kept annual weeds down."
    yield (
        "note",
        "nutrients",
        "; ".join(told).capitalize() + f".{gap}{need} What soil and rain hold isn't counted; a soil test decides.",
    )
