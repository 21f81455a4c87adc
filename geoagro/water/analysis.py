"""Water on a laid-out field, from the ground above it to what a careful adviser would say."""

from __future__ import annotations

from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from pyproj import CRS
from shapely import MultiPolygon

from geoagro.arrays import Floats, Ints
from geoagro.errors import LayoutError
from geoagro.planar.dents import DEEP_M
from geoagro.values.grid import Grid
from geoagro.values.progress import Progress, silent
from geoagro.values.results.water import ROW_WATER, WATER_BALANCE
from geoagro.values.rows import TreeRows
from geoagro.values.rules.water import WaterRule
from geoagro.water.cascade import Caught, Storm, ground_caught, storm_on_rows
from geoagro.water.criteria import criteria_table, measured
from geoagro.water.findings import water_findings
from geoagro.water.flow import flow_over
from geoagro.water.flow_lines import crossings, flow_lines
from geoagro.water.machines import slope_classes
from geoagro.water.records.tables import LOW_POINTS, SPILLS, WaterPlan
from geoagro.water.records.words import BALANCE
from geoagro.water.row_profiles import Profile, row_profiles
from geoagro.water.runoff import CURVE_NUMBERS, curve_number_runoff_mm, infiltration_runoff_mm
from geoagro.water.soil_loss import soil_loss
from geoagro.water.ways import one_way_m, row_profile, ways_along

DEFAULT_FLOW_LINE_HA = 0.5
_MOST_SHARE_OPEN = 0.5


def water_on_rows(
    surface: Grid,
    slope: Grid,
    rows: TreeRows,
    boundary: MultiPolygon,
    *,
    rule: WaterRule | None,
    outlets: Any = None,
    water_bodies: Any = None,
    progress: Progress = silent,
) -> WaterPlan:
    """Follow water over the ground and along the rows.

    Parameters
    ----------
    surface
        Heights around the field and as far upslope as they are known, lightly smoothed, m.
    slope
        Steepness of the ground under the rows (ratio).
    rule
        What the design says of water; None tells where water runs and stands, but no storm.
    outlets, water_bodies
        Drawn geometry in the working CRS, or None.

    Returns
    -------
    WaterPlan
        Layers in the CRS of `surface`.

    Raises
    ------
    LayoutError
        Where there are no rows, or none lies on known ground.
    """
    progress("water: flow over the ground", 0.0)
    flow = flow_over(surface)
    profiles = row_profiles(rows.frame, surface, slope)
    if not profiles:
        raise LayoutError("No row lies on ground of known height, so water can't be followed. Give `elevation`.")
    caught = ground_caught(flow, profiles)
    least = (DEFAULT_FLOW_LINE_HA if rule is None else rule.flow_line_ha) * 1e4
    lines = flow_lines(flow, boundary, least_m2=least)
    met = crossings(flow, lines, profiles)
    progress("water: along the rows", 0.4)
    ways = ways_along(profiles)
    one_way = one_way_m(profiles, ways)
    ends = shapely.union_all([g for g in (outlets, *lines.geometry) if g is not None])
    progress("water: the storm", 0.6)
    runoff = design_runoff_mm(rule)
    storm = None
    if rule is not None and rule.rows == "store":
        storm = storm_on_rows(flow, profiles, caught, runoff_mm=runoff, ridge=rule.ridge)
    low = _low_points(profiles, storm, lines, rows.spacing_m, surface.crs)
    by_row = _by_row(profiles, caught, storm, low=low, one_way=one_way, met=met, rule=rule)
    pieces = row_profile(profiles, ways, caught, rule=rule, outlets=ends, crs=surface.crs)
    to_water = None if water_bodies is None else float(shapely.distance(water_bodies, rows.frame.union_all()))
    drains = np.array([a.sum() for a in caught.area_m2])
    criteria = criteria_table(measured(profiles, drains, one_way, caught.open_), rule, to_water)
    classes = slope_classes(profiles, 15.0 if rule is None else rule.machine_slope_pct)
    progress("water", 1.0)
    plan = WaterPlan(
        flow_lines=lines,
        flow_crossings=met,
        row_profile=pieces,
        low_points=low,
        spills=_spills(profiles, storm, surface.crs),
        row_water=by_row,
        water_balance=_balance(storm),
        water_criteria=criteria,
        slope_classes=classes,
        soil_loss=soil_loss(profiles),
        runoff_mm=runoff,
        findings=(),
        verdict=bool(caught.open_.mean() <= _MOST_SHARE_OPEN),
    )
    return water_findings(plan, rule)


def design_runoff_mm(rule: WaterRule | None) -> float:
    """Runoff of the storm that rows must hold, mm; NaN where the design names none."""
    if rule is None or rule.rows != "store" or rule.rain_mm is None:
        return float("nan")
    if rule.infiltration_mm_h is not None:
        return infiltration_runoff_mm(rule.rain_mm, rule.rain_hours, rule.infiltration_mm_h)
    number = rule.curve_number
    if number is None and rule.soil_group is not None:
        number = CURVE_NUMBERS[rule.cover][rule.soil_group]
    if number is None:
        raise LayoutError("water: give soil_group, curve_number or infiltration_mm_h.")
    return curve_number_runoff_mm(rule.rain_mm, number)


def _low_points(profiles: list[Profile], storm: Storm | None, lines: Any, spacing_m: float, crs: Any) -> Any:
    end, along = "at the row's end", "along the row"
    gates = {"ridge": "over the ridge", "left": along, "right": along, "first end": end, "last end": end}
    columns: dict[str, list[Any]] = {name: [] for name in LOW_POINTS.columns if name != "on_flow_line"}
    points: list[Floats] = []
    for place, profile in enumerate(profiles):
        stations, depths = profile.low_points()
        for at, depth in zip(stations.tolist(), depths.tolist(), strict=True):
            ponds = None if storm is None else storm.ponds[place]
            columns["row"].append(profile.row)
            columns["station_m"].append(profile.station_m[at])
            columns["depth_m"].append(depth)
            columns["holds_m3"].append(np.nan if ponds is None else ponds.room_at(at))
            columns["held_m3"].append(np.nan if ponds is None else ponds.held_at(at))
            columns["leaves_by"].append("" if ponds is None else gates[ponds.gate_at(at)[0]])
            points.append(profile.xy[at])
    marks = shapely.points(np.array(points).reshape(-1, 2))
    wet = shapely.union_all(lines.geometry.to_numpy()) if len(lines) else None
    near = np.zeros(len(points), dtype=bool) if wet is None else shapely.dwithin(marks, wet, spacing_m)
    return LOW_POINTS.frame({**columns, "on_flow_line": near}, geometry=marks, crs=crs)


def _spills(profiles: list[Profile], storm: Storm | None, crs: CRS | None) -> Any:
    if storm is None or not storm.spills:
        return SPILLS.empty(crs)
    columns: dict[str, list[Any]] = {name: [] for name in SPILLS.columns}
    drawn = []
    for (place, at), volume in sorted(storm.spills.items()):
        target, station = storm.onward[place, at]
        profile = profiles[place]
        start = profile.xy[at]
        end = profiles[target].xy[station] if target >= 0 else start + 0.5
        columns["row"].append(profile.row)
        columns["station_m"].append(profile.station_m[at])
        columns["volume_m3"].append(volume)
        columns["to_row"].append(profiles[target].row if target >= 0 else 0)
        columns["to_station_m"].append(profiles[target].station_m[station] if target >= 0 else np.nan)
        drawn.append(shapely.LineString([start, end]))
    return SPILLS.frame(columns, geometry=drawn, crs=crs)


def _by_row(
    profiles: list[Profile],
    caught: Caught,
    storm: Storm | None,
    *,
    low: Any,
    one_way: Floats,
    met: gpd.GeoDataFrame,
    rule: WaterRule | None,
) -> pd.DataFrame:
    numbers = np.array([p.row for p in profiles])
    deep = low[low["depth_m"] >= DEEP_M]
    nothing = np.full(len(profiles), np.nan)
    over = nothing if storm is None else storm.over_m3
    return ROW_WATER.frame(
        {
            "row": numbers,
            "length_m": [p.length_m for p in profiles],
            "drains_m2": [a.sum() for a in caught.area_m2],
            "beyond": caught.open_,
            "low_points": _count(numbers, deep["row"]),
            "deepest_m": low.groupby("row")["depth_m"].max().reindex(numbers, fill_value=0.0).to_numpy(),
            "one_way_m": one_way,
            "crossings": _count(numbers, met["row"]),
            "caught_m3": nothing if storm is None else storm.caught_m3,
            "received_m3": nothing if storm is None else storm.received_m3,
            "holds_m3": nothing if storm is None else [_room(ponds) for ponds in storm.ponds],
            "held_m3": nothing if storm is None else [ponds.held_m3 for ponds in storm.ponds],
            "over_m3": over,
            "first_over_m": nothing if storm is None else _worst_spill(profiles, storm),
            "first_over_rain_mm": nothing if storm is None or rule is None else _rain_to_spill(storm, caught, rule),
        }
    )


def _count(numbers: Ints, rows: Any) -> Any:
    return rows.value_counts().reindex(numbers, fill_value=0).to_numpy()


def _room(ponds: Any) -> float:
    return float(sum(ponds.room_at(at) for at in ponds.lowest))


def _worst_spill(profiles: list[Profile], storm: Storm) -> Floats:
    """Station (m) at which most water leaves each row; NaN where none does."""
    worst = np.full(len(profiles), np.nan)
    most = np.zeros(len(profiles))
    for (place, at), volume in storm.spills.items():
        if volume > most[place]:
            most[place], worst[place] = volume, profiles[place].station_m[at]
    return worst


def _rain_to_spill(storm: Storm, caught: Caught, rule: WaterRule) -> Floats:
    """Least depth of storm (mm) at which a row's own ground alone makes it run over, by halving; NaN above 2,000 mm."""
    rains = np.full(len(storm.ponds), np.nan)
    for place, (ponds, area) in enumerate(zip(storm.ponds, caught.area_m2, strict=True)):
        stations = np.flatnonzero(area)
        if len(stations) == 0:
            continue
        low, high = 0.0, 2000.0
        for _ in range(11):
            middle = (low + high) / 2
            runoff = design_runoff_mm(rule.model_copy(update={"rain_mm": middle}))
            spills = ponds.emptied().add(stations, area[stations] * runoff / 1000)
            low, high = (low, middle) if spills else (middle, high)
        rains[place] = high if high < 2000.0 else np.nan
    return rains


def _balance(storm: Storm | None) -> pd.DataFrame:
    if storm is None:
        return WATER_BALANCE.empty()
    ran_off = float(storm.caught_m3.sum())
    stands = float(sum(ponds.held_m3 for ponds in storm.ponds))
    items = [
        ("runoff", ran_off),
        ("stands", stands),
        ("hollows", storm.hollow_m3),
        ("left", storm.left_m3),
        ("difference", ran_off - stands - storm.hollow_m3 - storm.left_m3),
    ]
    item, volume = (list(column) for column in zip(*items, strict=True))
    return WATER_BALANCE.frame({"item": item, "volume_m3": volume, "definition": [BALANCE[name] for name in item]})
