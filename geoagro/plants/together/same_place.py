"""Two plants on one place at the same time: what a recipe must not ask for."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
from scipy.spatial import cKDTree

from geoagro.arrays import Ints
from geoagro.plants.together.spells import Spell, Spells
from geoagro.values.recipe import Crop
from geoagro.values.season import SeasonRule
from geoagro.values.site import Finding
from geoagro.values.timeline import Timeline
from geoagro.values.words import CropName, Sentence, crop_names

SAME_M = 0.05
"""Two plants this near are meant for one hole (our choice: the width of a hand-made planting hole)."""
_MOST = 500_000
"""With more plants than this, every n-th bed is looked at: beds of one recipe are alike."""
_TOLD = 8


def same_places(
    frame: Any,
    crops: Mapping[str, Crop] | None = None,
    season: SeasonRule | None = None,
    *,
    whole: bool = True,
) -> tuple[Finding, ...]:
    """Warn of each pair of plantings with plants within 5 cm of each other while both stand, most pairs first.

    Every round that the season plants on these places is looked at. A plant stands from its week of planting until its
    last week of harvest; one that is planted in the week in which the other ends follows it.

    Parameters
    ----------
    frame
        Layer PLANTS: the first round.
    whole
        False where it holds some of the field's beds only, which is then told.
    """
    looked = _some_beds(frame)
    if len(looked) < 2:
        return ()
    pairs = cKDTree(looked[["x", "y"]].to_numpy()).query_pairs(SAME_M, output_type="ndarray")
    if not len(pairs):
        return ()
    seen, pair = np.unique(pairs, return_inverse=True)
    timeline = Timeline.of(looked.iloc[seen], crops, season)
    first, second = pair.reshape(pairs.shape).T
    known = Spells(timeline)
    together = [
        known.of(a, b) for a, b in zip(timeline.kind[first].tolist(), timeline.kind[second].tolist(), strict=True)
    ]
    at_once = np.array([spell is not None for spell in together], dtype=bool)
    if not at_once.any():
        return ()
    spells = [spell for spell in together if spell is not None]
    whole = whole and len(looked) == len(frame)
    return tuple(_told(looked, (seen[first[at_once]], seen[second[at_once]]), spells, whole=whole))


def _some_beds(frame: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    every = -(-len(frame) // _MOST)
    if every <= 1:
        return frame
    beds = frame["bed"].unique()[::every]
    return frame[frame["bed"].isin(list(beds))]


def _told(frame: Any, pair: tuple[Ints, Ints], spells: list[Spell], *, whole: bool) -> list[Finding]:
    names = [pd.Series(frame["planting"].to_numpy()[side]).astype(str) for side in pair]
    low = np.where(names[0] <= names[1], names[0], names[1])
    high = np.where(names[0] <= names[1], names[1], names[0])
    table = pd.DataFrame({"low": low, "high": high, "at": np.arange(len(low))})
    groups = table.groupby(["low", "high"], sort=True)["at"].agg(["size", "first"]).reset_index()
    groups = groups.sort_values(["size", "low", "high"], ascending=[False, True, True])
    return [
        Finding(
            "warning",
            Sentence("plantings {one} and {other}", one=CropName(one), other=CropName(other)),
            _sentence(frame.iloc[pair[0][at]], frame.iloc[pair[1][at]], spells[at], count, whole=whole),
        )
        for one, other, count, at in groups.head(_TOLD).itertuples(index=False)
    ]


def both(one: str, other: str) -> str:
    """Name two crops, or the one that both are."""
    first, second = crop_names([one, other])
    return first if one == other else Sentence("{one} and {other}", one=first, other=second)


def _sentence(a: Any, b: Any, spell: Spell, count: int, *, whole: bool) -> str:
    told = {
        "count": count,
        "crops": both(a["crop"], b["crop"]),
        "bed": a["bed"],
        "line": a["line"],
    }
    told |= {"station": a["station_m"], "x": f"{a['x']:.2f}", "y": f"{a['y']:.2f}", "spell": spell.words()}
    if whole:
        return Sentence(
            "{count} {count:pair of plants stands|pairs of plants stand} on one place at the same time, e.g. "
            "{crops} in bed {bed}, {station:.2f} m along line {line} ({x}, {y}), {spell}. Give one of them other "
            "lines or offsets, or plant it `after` the other.",
            **told,
        )
    return Sentence(
        "{count} {count:pair of plants stands|pairs of plants stand} on one place at the same time in the "
        "beds looked at, e.g. {crops} in bed {bed}, {station:.2f} m along line {line} ({x}, {y}), {spell}. "
        "Give one of them other lines or offsets, or plant it `after` the other.",
        **told,
    )
