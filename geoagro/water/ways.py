"""Ways of water along rows: pieces that fall one way, what drains to each, and what that flow does there."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
import shapely
from pyproj import CRS
from shapely.geometry.base import BaseGeometry

from geoagro.arrays import Floats
from geoagro.values.rules.water import Ridge, WaterRule
from geoagro.values.words import Sentence
from geoagro.water.cascade import Caught
from geoagro.water.channels import Section, behind_ridge, manning_velocity_m_s, normal_depth_m, permissible_velocity_m_s
from geoagro.water.records.tables import ROW_PROFILE
from geoagro.water.row_profiles import Profile, lines_between
from geoagro.water.runoff import rational_peak_m3_s

CHORD_M = 10.0
OUTLET_REACH_M = 15.0
"""A row end nearer than this to a drawn outlet or a flow line has one. Our own choice."""


@dataclass(frozen=True)
class Way:
    """A piece of row along which water runs one way, from `high` to `low` (stations of its profile by index)."""

    place: int
    high: int
    low: int
    at_row_end: bool


def ways_along(profiles: list[Profile]) -> list[Way]:
    """Cut every row where water turns round: at its heights and low points."""
    ways = []
    for place, profile in enumerate(profiles):
        turns = profile.turns()
        last = len(profile.z_m) - 1
        for a, b in pairwise(turns.tolist()):
            high, low = (a, b) if profile.z_m[a] >= profile.z_m[b] else (b, a)
            ways.append(Way(place, high, low, low in (0, last)))
    return ways


def one_way_m(profiles: list[Profile], ways: list[Way]) -> Floats:
    """Longest way one way along each row, m."""
    longest = np.zeros(len(profiles))
    for way in ways:
        profile = profiles[way.place]
        longest[way.place] = max(longest[way.place], abs(profile.station_m[way.high] - profile.station_m[way.low]))
    return longest


def row_profile(
    profiles: list[Profile],
    ways: list[Way],
    caught: Caught,
    *,
    rule: WaterRule | None,
    outlets: BaseGeometry,
    crs: CRS | None,
) -> Any:
    """Layer ROW_PROFILE, each piece drawn the way water runs; peak flow and velocity where rows lead water.

    Parameters
    ----------
    outlets
        Geometry of drawn outlets and flow lines, or None.
    """
    length = np.array([abs(profiles[w.place].station_m[w.low] - profiles[w.place].station_m[w.high]) for w in ways])
    drop = np.array([profiles[w.place].z_m[w.high] - profiles[w.place].z_m[w.low] for w in ways])
    fall = np.divide(drop, length, out=np.zeros_like(drop), where=length > 0)
    drains = np.array([_drained(w, caught.area_m2[w.place]) for w in ways])
    ends = np.array([profiles[w.place].xy[w.low] for w in ways]).reshape(-1, 2)
    away = _distance(ends, outlets)
    carried = _carried(profiles, ways, fall, drains, rule)
    columns = {
        "row": [profiles[w.place].row for w in ways],
        "from_m": [profiles[w.place].station_m[w.high] for w in ways],
        "to_m": [profiles[w.place].station_m[w.low] for w in ways],
        "length_m": length,
        "fall_pct": 100 * fall,
        "steepest_pct": [100 * _steepest(profiles[w.place], w) for w in ways],
        "drains_m2": drains,
        "ends_at": ["row end" if w.at_row_end else "low point" for w in ways],
        "peak_l_s": 1000 * carried.peak,
        "depth_m": carried.depth,
        "velocity_m_s": carried.velocity,
        "outlet_m": away,
        "problem": _problems(ways, length, away, carried, rule),
    }
    lines = [_downhill(profiles[w.place], w) for w in ways]
    return ROW_PROFILE.frame(columns, geometry=lines, crs=crs)


@dataclass(frozen=True, eq=False)
class _Carried:
    """Peak flow (m3/s), its depth (m) and velocity (m/s), and the velocity that is borne (m/s), piece by piece."""

    peak: Floats
    depth: Floats
    velocity: Floats
    borne: Floats


def _carried(
    profiles: list[Profile], ways: list[Way], fall: Floats, drains: Floats, rule: WaterRule | None
) -> _Carried:
    nothing = np.full(len(ways), np.nan)
    if rule is None or rule.rows != "lead" or rule.intensity_mm_h is None or rule.runoff_coefficient is None:
        return _Carried(nothing, nothing, nothing, nothing)
    peak = rational_peak_m3_s(rule.runoff_coefficient, rule.intensity_mm_h, drains)
    depth, velocity = nothing.copy(), nothing.copy()
    for k, way in enumerate(ways):
        section = furrow(rule.ridge, _slope_across(profiles[way.place], way))
        deep = normal_depth_m(section, peak[k : k + 1], fall[k : k + 1], rule.roughness)
        depth[k] = deep[0]
        velocity[k] = manning_velocity_m_s(section, np.nan_to_num(deep), fall[k : k + 1], rule.roughness)[0]
    borne = np.array(
        [permissible_velocity_m_s(float(f), grass=rule.grassed, erodible=rule.easily_eroded) for f in fall]
    )
    return _Carried(peak, depth, velocity, borne)


def furrow(ridge: Ridge, slope: float) -> Section:
    """Cross section of the water along a row on ground of a slope (ratio)."""
    if ridge.kind == "ditch":
        return Section(ridge.height_m, ridge.bottom_m, ridge.bank, ridge.bank)
    return behind_ridge(ridge.height_m, ridge.bank, slope)


def _slope_across(profile: Profile, way: Way) -> float:
    a, b = sorted((way.high, way.low))
    return float(np.median(profile.slope[a : b + 1]))


def _drained(way: Way, area_m2: Floats) -> float:
    """Ground that drains to a piece; a station where two pieces meet counts half for each."""
    a, b = sorted((way.high, way.low))
    share = np.ones(b - a + 1)
    share[0] = 1.0 if a == 0 else 0.5
    share[-1] = 1.0 if b == len(area_m2) - 1 else 0.5
    return float((area_m2[a : b + 1] * share).sum())


def _steepest(profile: Profile, way: Way) -> float:
    """Steepest fall over CHORD_M of a piece, or over all of a shorter one."""
    a, b = sorted((way.high, way.low))
    steps = max(1, min(b - a, round(CHORD_M / profile.step_m)))
    z = profile.z_m[a : b + 1]
    if len(z) <= steps:
        return float(abs(z[-1] - z[0]) / max((len(z) - 1) * profile.step_m, 1e-9))
    return float(np.abs(z[steps:] - z[:-steps]).max() / (steps * profile.step_m))


def _distance(ends: Floats, outlets: BaseGeometry) -> Floats:
    if outlets is None or shapely.is_empty(outlets) or len(ends) == 0:
        return np.full(len(ends), np.nan)
    away = np.asarray(shapely.distance(shapely.points(ends), outlets), dtype=float)
    return away


def _downhill(profile: Profile, way: Way) -> Any:
    a, b = sorted((way.high, way.low))
    line = lines_between(profile, a, b)
    return line if way.high < way.low else shapely.reverse(line)


def _problems(ways: list[Way], length: Floats, away: Floats, carried: _Carried, rule: WaterRule | None) -> list[str]:
    if rule is None:
        return [""] * len(ways)
    return [
        Sentence("{all}", all=problems) if problems else ""
        for k, way in enumerate(ways)
        for problems in [(*_too_long(float(length[k]), rule), *_badly_led(way, k, float(away[k]), carried, rule))]
    ]


def _too_long(length_m: float, rule: WaterRule) -> list[str]:
    limit = rule.max_way_m
    return (
        [Sentence("{way:.0f} m one way, above water.max_way_m ({limit:g} m)", way=length_m, limit=limit)]
        if length_m > limit
        else []
    )


def _badly_led(way: Way, k: int, away_m: float, carried: _Carried, rule: WaterRule) -> list[str]:
    if rule.rows == "store":
        return []
    told: list[str] = []
    if np.isnan(carried.depth[k]):
        told.append(Sentence("the furrow runs over at peak flow"))
    elif carried.velocity[k] > carried.borne[k]:
        text = "{speed:.2f} m/s, above the {most:.2f} m/s that the furrow bears"
        told.append(Sentence(text, speed=carried.velocity[k], most=carried.borne[k]))
    if not way.at_row_end:
        told.append(Sentence("ends in a low point, not at a row end"))
    if not away_m <= OUTLET_REACH_M:
        told.append(Sentence("no outlet or flow line within {reach:g} m of where it ends", reach=OUTLET_REACH_M))
    return told
