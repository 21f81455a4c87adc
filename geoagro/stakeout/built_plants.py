"""Plants as built: who lives, who is dead or missing, and what to bring for planting again."""

from __future__ import annotations

from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from scipy.spatial import cKDTree

from geoagro.arrays import Floats
from geoagro.stakeout.built_rows import row_state
from geoagro.stakeout.matching import Pairs
from geoagro.stakeout.records.as_built import PLANTS_ASBUILT, REPLANT, REPLANT_COUNTS, ROWS_FOUND
from geoagro.stakeout.survival import Interval, from_count, from_plots
from geoagro.values.rows import TreeRows
from geoagro.values.survey import SURVIVAL

LIVING = ("alive", "replaced")
_LEAST_M, _MOST_M = 0.15, 2.0
_HALF = 0.5  # a row of which this share of plants is seen was planted; dead ones are another matter


def half_spacing(xy: Floats) -> float:
    """Half of the median distance from plant to plant, between 0.15 and 2 m: farther and a match means little."""
    if len(xy) < 2:
        return _MOST_M
    nearest = np.asarray(cKDTree(xy).query(xy, k=2)[0])[:, 1]
    return float(np.clip(np.median(nearest) / 2, _LEAST_M, _MOST_M))


def plants_as_built(plants: Any, points: Any, pairs: Pairs, looked_at: Any) -> Any:
    """Build layer PLANTS_ASBUILT, drawn where plants were seen, else where they were planned.

    `looked_at` tells for each planned plant whether the survey would have seen it; outside sample plots a
    plant counts as not surveyed even if somebody put it on the list, since plots were chosen without looking.
    """
    n = len(plants)
    state = np.full(n, "missing", dtype=object)
    status = points["status"].fillna("").to_numpy()[pairs.survey]
    told = {"dead": "dead", "missing": "missing", "replaced": "replaced", "not looked at": "not_surveyed"}
    state[pairs.design] = np.array([told.get(s, "alive") for s in status], dtype=object)
    state[~looked_at] = "not_surveyed"
    built = np.full((n, 2), np.nan)
    built[pairs.design] = points[["x", "y"]].to_numpy()[pairs.survey]
    name = np.full(n, "", dtype=object)
    name[pairs.design] = points["name"].to_numpy()[pairs.survey]
    planned = plants[["x", "y"]].to_numpy()
    drawn = np.where(np.isnan(built), planned, built)
    columns = {key: plants[key] for key in PLANTS_ASBUILT.columns if key in plants}
    return PLANTS_ASBUILT.frame(
        columns
        | {
            "state": state,
            "survey_name": name,
            "built_x": built[:, 0],
            "built_y": built[:, 1],
            "away_m": np.hypot(*(built - planned).T),
        },
        geometry=shapely.points(drawn),
        crs=plants.crs,
    )


def survival_table(built: gpd.GeoDataFrame, plot: Any | None) -> pd.DataFrame:
    """Build table SURVIVAL: for all, by crop, and by row and crop.

    `plot` gives the number of the sample plot that each plant lies in (-1 for none), None for a full count;
    figures of the field and of crops then get the interval for plots, those of rows one for plants counted
    one by one.
    """
    frame = pd.DataFrame({"crop": built["crop"], "row": built["row"], "state": built["state"]})
    frame["plot"] = -1 if plot is None else plot
    lines = [_line("all", 0, frame, by_plots=plot is not None)]
    for code, mine in frame.groupby("crop", sort=True):
        lines.append(_line(str(code), 0, mine, by_plots=plot is not None))
    for (row, crop), mine in frame.groupby(["row", "crop"], sort=True):
        lines.append(_line(str(crop), int(str(row)), mine, by_plots=False))
    return SURVIVAL.frame({name: [line[k] for line in lines] for k, name in enumerate(SURVIVAL.columns)})


def _line(crop: str, row: int, frame: pd.DataFrame, *, by_plots: bool) -> tuple[Any, ...]:
    lives, replaced, dead, missing = (
        int((frame["state"] == state).sum()) for state in ("alive", "replaced", "dead", "missing")
    )
    alive = lives + replaced
    surveyed = alive + dead + missing
    interval = _by_plots(frame) if by_plots else from_count(alive, surveyed)
    return (
        crop, row, len(frame), surveyed, alive, replaced, dead, missing,
        *(100 * share for share in (interval.share, interval.low, interval.high)), interval.method,
    )  # fmt: skip


def _by_plots(frame: pd.DataFrame) -> Interval:
    seen = frame[(frame["plot"] >= 0) & (frame["state"] != "not_surveyed")]
    lives = seen["state"].isin(LIVING)
    counts = pd.DataFrame({"alive": lives, "plot": seen["plot"]}).groupby("plot")["alive"]
    return from_plots(counts.sum().to_numpy(dtype=float), counts.count().to_numpy().astype(np.float64))


def rows_with_plants(rows: TreeRows, built: gpd.GeoDataFrame) -> pd.DataFrame:
    """Build table ROWS_FOUND from plants: the share of a row's plants that were seen, alive or dead, times its length.

    Rows of which no plant was looked at, or that carry none, are left out.
    """
    looked = built[built["state"] != "not_surveyed"]
    seen = pd.DataFrame({"row": looked["row"], "seen": looked["state"] != "missing"}).groupby("row")["seen"].mean()
    mine = rows.frame[rows.frame["row"].isin(seen.index)]
    length = shapely.length(mine.geometry.to_numpy())
    share = seen.loc[mine["row"]].to_numpy(dtype=float)
    return ROWS_FOUND.frame(
        {"row": mine["row"], "state": row_state(share, found=_HALF), "length_m": length, "found_m": share * length}
    )


def replanting(built: Any, *, numbered: bool) -> tuple[Any, Any]:
    """Build layer REPLANT and table REPLANT_COUNTS: places found dead or empty.

    In the order of plant numbers where those were surveyed, else along rows, beds and lines.
    """
    order = ["plant"] if numbered else ["row", "bed", "line", "station_m"]
    gone = built[built["state"].isin(["dead", "missing"])].sort_values(order, kind="stable").reset_index(drop=True)
    places = REPLANT.frame(
        {name: gone[name] for name in REPLANT.columns}, geometry=shapely.points(gone["x"], gone["y"]), crs=built.crs
    )
    counts = gone.groupby(["crop", "row", "bed"], sort=True).size().reset_index(name="plants")
    return places, REPLANT_COUNTS.frame({name: counts[name] for name in REPLANT_COUNTS.columns})


def plot_of(plants_xy: Floats, plots: Any) -> Any:
    """Position of the plot that each plant lies in; -1 where in none."""
    out = np.full(len(plants_xy), -1)
    middles = plots[["x", "y"]].to_numpy()
    away, at = cKDTree(middles).query(plants_xy)
    at = np.asarray(at)
    inside = away <= plots["radius_m"].to_numpy()[at]
    out[inside] = at[inside]
    return out
