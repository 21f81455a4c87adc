"""Marks: the fewest stakes per row, with names, heights and what is at them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
import shapely
from pyproj import CRS

from geoagro.arrays import Bools, Floats, Ints
from geoagro.planar.polylines import Polylines
from geoagro.stakeout.chords import Chain, fewest_stakes, off_tape
from geoagro.stakeout.labels import KnownRow, known_rows, mark_names
from geoagro.stakeout.places import Place
from geoagro.values.rows import TreeRows
from geoagro.values.stakeout import MARKS, STAKE_KINDS, TAPE, StakeRule
from geoagro.values.terrain import Terrain

_ROWS_AT_ONCE = 400
_SAME_M = 0.3  # an earlier stake this near to a possible place makes it the preferred one
# What a place costs beside 1 for a stake: one that isn't on a whole step is taken where it saves a third of a stake
# or more, a stake that stands already costs less than a new one; among equals whole longest tapes and multiples of 5 m.
_OFF_STEP, _STANDS, _NOT_LONGEST, _NOT_FIVE = 0.3, -0.6, 1e-6, 1e-6


def lay_marks(
    rows: TreeRows,
    places: list[list[Place]],
    terrain: Terrain | None,
    rule: StakeRule,
    *,
    earlier: Any | None = None,
) -> Any:
    """Return layer MARKS by row and station; `walk` and `part` are 0 until the walk is planned.

    Parameters
    ----------
    places
        Places of each row that need a stake (see `needed_places`).
    terrain
        Gives heights; without it `z` stays empty.
    earlier
        Marks of an earlier stake-out of this field (layer MARKS), whose names and places are kept where
        the row still runs there.
    """
    described = _described(rows, places, earlier)
    chains = [_chain(row, rule) for row in described]
    chosen = _chosen(chains, rule)
    table = pd.concat([_row_marks(*one) for one in zip(described, chains, chosen, strict=True)], ignore_index=True)
    return _frame(table.assign(why_short=_why_short(table, rule)), terrain, rows.frame.crs)


def _why_short(table: pd.DataFrame, rule: StakeRule) -> list[str]:
    """Say what asks for each tape below the least spacing: two places that need a stake each, or a curve."""
    before = table["kind"].shift(1).fillna("").tolist()
    out = []
    for tape, kind, other in zip(table["tape_m"], table["kind"], before, strict=True):
        if not tape < rule.min_spacing_m - 0.01:
            out.append("")
        elif TAPE in (kind, other):
            out.append("curve")
        else:
            out.append(f"{STAKE_KINDS[kind].words} beside {STAKE_KINDS[other].words}")
    return out


def count_marks(rows: TreeRows, places: list[list[Place]], rule: StakeRule, tolerances_m: list[float]) -> list[int]:
    """Count the stakes that a first stake-out would take at other tolerances."""
    chains = [_chain(row, rule) for row in _described(rows, places, None)]
    rules = [rule.model_copy(update={"tolerance_m": tolerance}) for tolerance in tolerances_m]
    return [sum(len(stakes) for stakes in _chosen(chains, other)) for other in rules]


def _described(rows: TreeRows, places: list[list[Place]], earlier: Any | None) -> list[_Row]:
    known = known_rows(rows.frame, rows.spacing_m, earlier)
    return [_Row(*one) for one in zip(rows.frame["row"], rows.frame.geometry, places, known, strict=True)]


def _chosen(chains: list[Chain], rule: StakeRule) -> list[Ints]:
    chosen: list[Ints] = []
    for first in range(0, len(chains), _ROWS_AT_ONCE):
        chosen += fewest_stakes(
            chains[first : first + _ROWS_AT_ONCE],
            tolerance_m=rule.tolerance_m,
            min_m=rule.min_spacing_m,
            max_m=rule.max_spacing_m,
        )
    return chosen


@dataclass(frozen=True, eq=False)
class _Row:
    number: int
    line: Any
    places: list[Place]
    known: KnownRow


def _chain(row: _Row, rule: StakeRule) -> Chain:
    """Collect all points of a row that matter for its stakes."""
    line, known, step_m = row.line, row.known, rule.step_m
    vertices = Polylines.read([line]).station
    fixed = np.array([place.station for place in row.places])
    first = np.ceil(-known.zero_m / step_m - 1e-9)
    whole = known.zero_m + step_m * np.arange(first, (line.length - known.zero_m) / step_m + 1e-9)
    whole = whole[(whole > 0) & (whole < line.length)]
    station = np.concatenate([fixed, whole, vertices])
    group = np.repeat([0, 1, 2], [len(fixed), len(whole), len(vertices)])
    order = np.lexsort((group, station))
    station, group = station[order], group[order]
    keep = _first_of_each(station, group)
    station, group = station[keep], group[keep]
    xy = shapely.get_coordinates(shapely.line_interpolate_point(line, station))
    known_here = _near(station, known.stations)
    extra = _OFF_STEP * (group == 2) + _STANDS * known_here + _not_round(station - known.zero_m, rule)
    return Chain(xy=xy, station=station, fixed=group == 0, extra=extra)


def _not_round(station: Floats, rule: StakeRule) -> Floats:
    """Small cost of stations that aren't whole longest tapes or multiples of 5 m."""
    longest = np.floor(rule.max_spacing_m / rule.step_m + 1e-9) * rule.step_m
    cost = [np.abs(station / unit - np.round(station / unit)) > 1e-6 for unit in (longest, 5.0)]
    return np.asarray(_NOT_LONGEST * cost[0] + _NOT_FIVE * cost[1])


def _first_of_each(station: Floats, group: Ints) -> Ints:
    """Drop points within 1 mm of another, keeping fixed before free before vertices."""
    gap = np.diff(station, prepend=-np.inf) > 1e-3
    block = np.cumsum(gap)
    order = np.lexsort((station, group, block))
    _, first = np.unique(block[order], return_index=True)
    return np.sort(order[first])


def _near(station: Floats, known: Floats) -> Bools:
    if len(known) == 0:
        return np.zeros(len(station), dtype=bool)
    at = np.clip(np.searchsorted(known, station), 1, len(known)) - 1
    after = np.minimum(at + 1, len(known) - 1)
    return np.minimum(np.abs(known[at] - station), np.abs(known[after] - station)) <= _SAME_M


def _row_marks(row: _Row, chain: Chain, chosen: Ints) -> pd.DataFrame:
    known = row.known
    station, xy = chain.station[chosen], chain.xy[chosen]
    at = {round(place.station, 3): place for place in row.places}
    here = [at.get(round(float(s), 3)) for s in station]
    return pd.DataFrame(
        {
            "stake": mark_names(known, station),
            "row": row.number,
            "label": known.label,
            "number": np.arange(1, len(station) + 1),
            "kind": [place.kind if place else TAPE for place in here],
            "station_m": station,
            "station_on_stake_m": station - known.zero_m,
            "tape_m": np.concatenate([[np.nan], np.hypot(*np.diff(xy, axis=0).T)]),
            "off_tape_m": np.round(off_tape(chain, chosen), 4),
            "x": xy[:, 0],
            "y": xy[:, 1],
            "bearing_deg": _bearing(row.line, station),
            "note": ["; ".join(place.notes) if place else "" for place in here],
        }
    )


def _bearing(line: Any, station: Floats) -> Floats:
    """Direction of the row over 1 m, degrees clockwise from grid north."""
    before = shapely.get_coordinates(shapely.line_interpolate_point(line, np.maximum(station - 0.5, 0.0)))
    after = shapely.get_coordinates(shapely.line_interpolate_point(line, np.minimum(station + 0.5, line.length)))
    east, north = (after - before).T
    return np.asarray(np.degrees(np.arctan2(east, north)) % 360.0)


def _frame(table: pd.DataFrame, terrain: Terrain | None, crs: CRS | None) -> Any:
    x, y = table["x"].to_numpy(), table["y"].to_numpy()
    heights = None if terrain is None else terrain.heights
    z = np.full(len(x), np.nan) if heights is None else heights.sample(x, y)
    columns = {str(name): table[name] for name in table} | {
        "z": z,
        "walk": np.zeros(len(x)),
        "day_trip": np.zeros(len(x)),
    }
    return MARKS.frame(columns, geometry=shapely.points(x, y), crs=crs)
