"""Two plants on one place at the same time: what a recipe must not ask for."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
from scipy.spatial import cKDTree

from geoagro.arrays import Ints
from geoagro.values.site import Finding

SAME_M = 0.05
"""Two plants this near are meant for one hole (our choice: the width of a hand-made planting hole)."""
_MOST = 500_000
"""With more plants than this, every n-th bed is looked at: beds of one recipe are alike."""
_TOLD = 8


def same_places(frame: gpd.GeoDataFrame) -> tuple[Finding, ...]:
    """Warn of each pair of plantings with plants within 5 cm of each other while both stand, most pairs first.

    Parameters
    ----------
    frame
        Layer PLANTS. A plant stands from its week of planting until its last week of harvest; one that is planted in
        the week in which the other ends follows it.
    """
    looked = _some_beds(frame)
    if len(looked) < 2:
        return ()
    pairs = cKDTree(looked[["x", "y"]].to_numpy()).query_pairs(SAME_M, output_type="ndarray")
    begin, end = looked["plant_week"].to_numpy(), looked["harvest_to_week"].to_numpy()
    first, second = pairs.T
    at_once = (begin[first] < end[second]) & (begin[second] < end[first])
    first, second = first[at_once], second[at_once]
    if not len(first):
        return ()
    return tuple(_told(looked, first, second, whole=len(looked) == len(frame)))


def _some_beds(frame: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    every = -(-len(frame) // _MOST)
    if every <= 1:
        return frame
    beds = frame["bed"].unique()[::every]
    return frame[frame["bed"].isin(list(beds))]


def _told(frame: gpd.GeoDataFrame, first: Ints, second: Ints, *, whole: bool) -> list[Finding]:
    names = [pd.Series(frame["planting"].to_numpy()[side]).astype(str) for side in (first, second)]
    low = np.where(names[0] <= names[1], names[0], names[1])
    high = np.where(names[0] <= names[1], names[1], names[0])
    table = pd.DataFrame({"low": low, "high": high, "at": np.arange(len(low))})
    groups = table.groupby(["low", "high"], sort=True)["at"].agg(["size", "first"]).reset_index()
    groups = groups.sort_values(["size", "low", "high"], ascending=[False, True, True])
    return [
        Finding("warning", f"plantings {one} and {other}", _sentence(frame, first[at], second[at], count, whole=whole))
        for one, other, count, at in groups.head(_TOLD).itertuples(index=False)
    ]


def _sentence(frame: gpd.GeoDataFrame, first: int, second: int, count: int, *, whole: bool) -> str:
    a, b = frame.iloc[first], frame.iloc[second]
    begin = max(a["plant_week"], b["plant_week"])
    end = min(a["harvest_to_week"], b["harvest_to_week"])
    where = f"bed {a['bed']}, {a['station_m']:.2f} m along line {a['line']} ({a['x']:.2f}, {a['y']:.2f})"
    crops = a["crop"] if a["crop"] == b["crop"] else f"{a['crop']} and {b['crop']}"
    seen = "" if whole else " in the beds looked at"
    return (
        f"{count:,} pairs of plants stand on one place at the same time{seen}, e.g. {crops} in {where}, weeks {begin} to "
        f"{end}. Give one of them other lines or offsets, or plant it `after` the other."
    )
