"""From flat arrays per planting to the one layer of plants."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import date
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from geoagro.arrays import Floats, Ints
from geoagro.plants.crops import need
from geoagro.plants.plan import Plan
from geoagro.plants.spots import FACINGS, Spots
from geoagro.values.plants import PLANTS
from geoagro.values.rules.care import WEEKS_PER_YEAR

_DAY_S = 86400


def plant_frame(plan: Plan, parts: Sequence[Spots], start: date | None) -> gpd.GeoDataFrame:
    """Layer PLANTS, numbered by bed (row, tree bed first), planting, line and station."""
    columns = _columns(plan, parts, start, _texts)
    return PLANTS.frame(columns, geometry=shapely.points(columns["x"], columns["y"]), crs=plan.terrain.crs)


def plant_table(plan: Plan, parts: Sequence[Spots], start: date | None) -> pd.DataFrame:
    """Columns of layer PLANTS as `plant_frame` gives them, without geometry and with texts as categories."""
    columns = _columns(plan, parts, start, _categories)
    return pd.DataFrame({name: columns[name] for name in PLANTS.columns}, copy=False)


def _columns(
    plan: Plan, parts: Sequence[Spots], start: date | None, texts: Callable[[NDArray[Any], Ints], Any]
) -> dict[str, Any]:
    plantings, strips, terrain = plan.plantings, plan.strips, plan.terrain
    kinds = _kinds(plan)
    first_kind = np.cumsum([0, *(len(p.crops) for p in plantings)])
    kind = _join([first_kind[k] + part.code for k, part in enumerate(parts)])
    planting = _join([np.full(len(part), k) for k, part in enumerate(parts)])
    bed = _join([part.bed for part in parts])
    order = np.argsort(bed * max(len(plantings), 1) + planting, kind="stable")
    all_of = {name: _join([getattr(part, name) for part in parts])[order] for name in _COPIED}
    kind, bed = kind[order], bed[order]
    facing = _join([part.facing for part in parts])[order]
    xy = _join([part.xy for part in parts], width=2)[order]
    x, y = xy[:, 0], xy[:, 1]
    columns = {
        "plant": np.arange(1, len(bed) + 1),
        "bed_kind": texts(strips.kind, bed),
        "row": strips.row[bed],
        "bed": texts(strips.bed, bed),
        "x": x,
        "y": y,
        "nearest_m": np.full(len(bed), np.nan),  # known when all is placed
        "z": terrain.heights.sample(x, y) if terrain.heights is not None else np.full(len(bed), np.nan),
        **all_of,
        **{name: texts(kinds[name], kind) if kinds[name].dtype == object else kinds[name][kind] for name in kinds},
        "direction": texts(np.array(FACINGS, dtype=object), facing),
    }
    columns["harvest_to_week"] = _thinned(plan, planting[order], columns)
    return columns | _dates(columns, start)


_COPIED = ("line", "station_m", "bearing_deg")


def _kinds(plan: Plan) -> dict[str, Any]:
    """One entry for each crop of each planting: what all its plants share."""
    rows = [(p, code, life[code]) for p, life in zip(plan.plantings, plan.times, strict=True) for code in p.crops]
    strata = [need(plan.crops[code], code, "stratum", "the layer of plants") for _, code, _ in rows]
    return {
        "crop": np.array([code for _, code, _ in rows], dtype=object),
        "planting": np.array([p.label for p, _, _ in rows], dtype=object),
        "mixture": np.array([p.mixture_name for p, _, _ in rows], dtype=object),
        "stratum": np.array(strata, dtype=object),
        "plant_week": np.array([life.plant for _, _, life in rows], dtype=np.int64),
        "harvest_from_week": np.array([life.harvest_from for _, _, life in rows], dtype=np.int64),
        "harvest_to_week": np.array([life.harvest_to for _, _, life in rows], dtype=np.int64),
    }


def _thinned(plan: Plan, planting: Ints, columns: Mapping[str, Any]) -> Ints:
    """Last week of each plant, which is that of its thinning for those that go then.

    Along each line those that stay are as even as can be, and every later step takes from those that stayed; lines of
    the next row begin with another plant.
    """
    last = np.asarray(columns["harvest_to_week"], dtype=np.int64).copy()
    for number, rule in enumerate(plan.plantings):
        mine = np.flatnonzero(planting == number)
        if not rule.thin or not len(mine):
            continue
        table = pd.DataFrame({name: columns[name][mine] for name in ("bed", "line", "crop", "row")})
        place = table.groupby(["bed", "line", "crop"], sort=False).cumcount().to_numpy() + table["row"].to_numpy()
        rank = evenly(place)
        for step in sorted(rule.thin, key=lambda step: step.keep_pct):
            concerned = (rank >= step.keep_pct / 100) & ((table["crop"] == step.crop).to_numpy() | (step.crop is None))
            week = columns["plant_week"][mine] + round(step.year * WEEKS_PER_YEAR)
            last[mine[concerned]] = np.minimum(last[mine], week)[concerned]
    return last


def evenly(place: Ints) -> Floats:
    """Rank places along a line between 0 and 1 so that those below any share lie evenly (van der Corput's sequence).

    >>> evenly(np.arange(4)).tolist()
    [0.0, 0.5, 0.25, 0.75]
    """
    left, rank, weight = np.asarray(place, dtype=np.int64), np.zeros(len(place)), 0.5
    while left.any():
        rank += weight * (left % 2)
        left, weight = left // 2, weight / 2
    return rank


def _texts(values: NDArray[Any], index: Ints) -> Any:
    """Repeat a few texts many times without a Python object per plant."""
    return pd.array(list(values), dtype="str").take(index)


def _categories(values: NDArray[Any], index: Ints) -> Any:
    """Repeat a few texts as numbers of categories, which are sorted and told once."""
    names, code = np.unique(values.astype(str), return_inverse=True)
    return pd.Categorical.from_codes(code[index], categories=pd.Index(names, dtype="str"))


def _dates(columns: Mapping[str, Any], start: date | None) -> dict[str, Any]:
    weeks = {name: columns[f"{name}_week"] for name in ("plant", "harvest_from", "harvest_to")}
    if start is None:
        return {f"{name}_date": np.full(len(w), np.datetime64("NaT", "s")) for name, w in weeks.items()}
    first = np.datetime64(start, "s")
    return {f"{name}_date": first + w * np.timedelta64(7 * _DAY_S, "s") for name, w in weeks.items()}


def _join(parts: Sequence[Any], width: int | None = None) -> Any:
    empty = np.zeros((0, width) if width else 0, dtype=float if width else np.int64)
    return np.concatenate(parts) if parts else empty
