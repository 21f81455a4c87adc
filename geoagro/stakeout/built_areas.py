"""Areas as built: how much of rows and beds really carries plants."""

from __future__ import annotations

from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd

from geoagro.arrays import Floats
from geoagro.stakeout.built_plants import LIVING
from geoagro.values.beds import Beds
from geoagro.values.survey import AREAS_ASBUILT, BUILT_GROUND


def areas_as_built(beds: Beds, rows_found: Any | None, plants: Any | None) -> pd.DataFrame:
    """Build table AREAS_ASBUILT from what the survey tells: rows found, plants alive, or both."""
    lines = []
    if rows_found is not None:
        lines.append(_tree_beds(beds.tree_beds, rows_found))
    if plants is not None:
        for name, frame in (("tree_beds_planted", beds.tree_beds), ("beds_planted", beds.beds)):
            lines.append(_planted(name, frame, plants))
    return AREAS_ASBUILT.frame({name: [line[k] for line in lines] for k, name in enumerate(AREAS_ASBUILT.columns)})


def _tree_beds(tree_beds: gpd.GeoDataFrame, found: pd.DataFrame) -> tuple[str, str, float, float]:
    share = dict(zip(found["row"], found["found_m"] / found["length_m"], strict=True))
    area = tree_beds["area_m2"].to_numpy()
    built = area * np.array([share[row] for row in tree_beds["row"]])
    return (
        "tree_beds_staked",
        BUILT_GROUND["tree_beds_staked"][1],
        float(area.sum()),
        float(built.sum()),
    )


def _planted(name: str, beds: gpd.GeoDataFrame, plants: pd.DataFrame) -> tuple[str, str, float, float]:
    """Each living plant covers half the gap to its neighbours of the design; where it is gone the bed lies bare."""
    area = dict(zip(beds["bed"], beds["area_m2"], strict=True))
    mine = plants[plants["bed"].isin(area.keys()) & (plants["state"] != "not_surveyed")]
    designed, built = 0.0, 0.0
    for bed, in_bed in mine.groupby("bed", sort=True):
        station, alive = in_bed["station_m"].to_numpy(dtype=float), in_bed["state"].isin(LIVING).to_numpy()
        line = in_bed["line"].to_numpy()
        designed += area[bed]
        built += area[bed] * _alive_share(station, line, alive)
    return name, BUILT_GROUND[name][1], designed, built


def _alive_share(station: Floats, line: Any, alive: Any) -> float:
    """Share of the length of all lines of a bed that is held by living plants."""
    held, whole = 0.0, 0.0
    for one in np.unique(line):
        order = np.argsort(station[line == one], kind="stable")
        s, lives = station[line == one][order], alive[line == one][order]
        if len(s) == 1:
            reach = np.ones(1)
        else:
            edges = np.concatenate([[s[0] - (s[1] - s[0]) / 2], (s[1:] + s[:-1]) / 2, [s[-1] + (s[-1] - s[-2]) / 2]])
            reach = np.diff(edges)
        held += float(reach[lives].sum())
        whole += float(reach.sum())
    return held / whole if whole > 0 else float(alive.mean())
