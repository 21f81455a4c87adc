"""What the field makes of mulch, and what it gives and takes of nitrogen, phosphorus and potassium, month by month."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd

from geoagro.season.crops import SeasonCrop
from geoagro.season.husbandry.tree_care import size_at
from geoagro.season.records.tables import NUTRIENTS
from geoagro.values.words import Sentence, crop_names, in_a_row, say

DRY_SHARE = 0.25
"""Dry matter in fresh prunings (from memory)."""

MULCH_KG_PER_T: tuple[tuple[float, float], ...] = ((20.0, 42.0), (1.0, 2.5), (8.0, 25.0))
"""N, P, K in a tonne of dry prunings, low and high: 5.3 t of leucaena leaf hold 223 kg N, 42 kg a tonne; the rest from
memory."""

SUPPRESSES_T_PER_HA = (15.0, 24.0)
"""Hay that kept annual weeds down, dry tonnes on a hectare."""

ELEMENTS = ("n", "p", "k")


def nutrient_table(dated: pd.DataFrame, yields: pd.DataFrame, crops: dict[str, SeasonCrop]) -> pd.DataFrame:
    """Table NUTRIENTS: prunings by month as mulch with what they hold, and what the harvest takes away.

    `dated` holds the tasks with their first day by the levelled plan as a date in `month`; what isn't reached is left
    out. Ranges come from the low and high contents and, for the harvest, the low and high yields.
    """
    parts = [_given(dated, crops), _taken(yields, crops)]
    frame = pd.concat([p for p in parts if len(p)], ignore_index=True) if any(len(p) for p in parts) else parts[0]
    if len(frame):
        frame = frame.sort_values(["month", "way", "crop"], ignore_index=True)
    return NUTRIENTS.frame({name: frame[name] for name in NUTRIENTS.columns})


def _given(dated: pd.DataFrame, crops: dict[str, SeasonCrop]) -> pd.DataFrame:
    cut = dated[dated["task"].isin(["prune", "fell"]) & dated["month"].notna()]
    pruned = cut["crop"].map({code: c.prunings_kg or 0.0 for code, c in crops.items()}).astype(float)
    coppiced = cut["crop"].map({code: c.coppice_kg or 0.0 for code, c in crops.items()}).astype(float)
    fresh = np.where(cut["task"] == "prune", pruned, coppiced)
    kg = fresh * cut["places"] * size_at(cut["offset"], cut, crops) ** 2
    sums = cut.assign(kg=kg)[kg > 0].groupby(["month", "crop"], as_index=False)["kg"].sum()
    dry = sums["kg"] * DRY_SHARE / 1000
    spans = {f"{e}_{k}": dry * v for e, pair in zip(ELEMENTS, MULCH_KG_PER_T, strict=True) for k, v in zip(("low", "high"), pair, strict=True)}  # fmt: skip
    return pd.DataFrame({**{name: sums[name] for name in sums.columns}, "way": "given", **spans})


def _taken(yields: pd.DataFrame, crops: dict[str, SeasonCrop]) -> pd.DataFrame:
    known = {code: c.taken_kg_per_t for code, c in crops.items() if c.taken_kg_per_t is not None}
    kept = yields[yields["crop"].isin(known) & (yields["kg_likely"] > 0)]
    spans = {}
    for place, element in enumerate(ELEMENTS):
        for k, which, end in ((0, "low", "high"), (1, "high", "low")):  # what is taken is below 0: most is lowest
            rate = kept["crop"].map({code: taken[place][k] for code, taken in known.items()}).astype(float)
            spans[f"{element}_{end}"] = -kept[f"kg_{which}"] / 1000 * rate
    return pd.DataFrame({"month": kept["month"], "crop": kept["crop"], "kg": kept["kg_likely"], "way": "taken"} | spans)


def nutrient_findings(
    table: pd.DataFrame, crops: dict[str, SeasonCrop], area_ha: float, years: int
) -> Iterator[tuple[str, str, str]]:
    """One note that sets what is taken beside what prunings give."""
    if not len(table):
        return
    sums = (
        table.groupby("way")[["kg", *(f"{e}_{k}" for e in ELEMENTS for k in ("low", "high"))]].sum() / years / area_ha
    )
    told = in_a_row(
        _taken_words(sums, crops),
        *_given_words(sums, crops),
        say("What soil and rain hold isn't counted; a soil test decides."),
    )
    yield ("note", say("nutrients"), told)


def _taken_words(sums: pd.DataFrame, crops: dict[str, SeasonCrop]) -> Sentence:
    """Tell what harvests take; no figure where most crops that bear are unknown, since it would be taken for the whole."""
    bear = [c for c in crops.values() if c.yield_kg and c.yield_kg.high > 0]
    unknown = crop_names(sorted(c.name for c in bear if c.taken_kg_per_t is None))
    if "taken" not in sums.index or 2 * len(unknown) > len(bear):
        if not unknown:
            return Sentence("What harvests take away is unknown: nothing is known of their crops.")
        return Sentence("What harvests take away is unknown: nothing is known of {crops}.", crops=unknown)
    spans = _spans(sums.T["taken"], -1)
    if unknown:
        return Sentence(
            "Harvests take away {spans} kg a hectare and year; nothing is known of {crops}, so more is taken.",
            spans=spans,
            crops=unknown,
        )
    return Sentence("Harvests take away {spans} kg a hectare and year.", spans=spans)


def _given_words(sums: pd.DataFrame, crops: dict[str, SeasonCrop]) -> list[Sentence]:
    """Tell what prunings bring back, with the crops that are pruned but whose prunings nobody has weighed."""
    unknown = crop_names(sorted(c.name for c in crops.values() if c.prune_rounds > 0 and c.prunings_kg is None))
    gap = [Sentence("Prunings of {crops} are unknown and not counted.", crops=unknown)] if unknown else []
    if "given" not in sums.index:
        return [Sentence("No prunings are counted as mulch."), *gap]
    row = sums.T["given"]
    low, high = SUPPRESSES_T_PER_HA
    told = Sentence(
        "Prunings bring back {spans} kg a hectare and year, as {dry:.1f} t of dry mulch; {low:g}-{high:g} t kept annual weeds "
        "down.",
        spans=_spans(row, 1), dry=row["kg"] * DRY_SHARE / 1000, low=low, high=high,
    )  # fmt: skip
    return [told, *gap]


def _spans(row: pd.Series, sign: int) -> tuple[Sentence, ...]:
    """N, P and K, each from its smaller to its larger figure."""
    ends = {e: sorted((sign * row[f"{e}_low"], sign * row[f"{e}_high"])) for e in ELEMENTS}
    return tuple(
        Sentence("{e} {low:.0f}-{high:.0f}", e=e.upper(), low=low, high=high) for e, (low, high) in ends.items()
    )
