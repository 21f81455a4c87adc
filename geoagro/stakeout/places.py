"""Places along a row that always get a stake: its ends, ends of beds, gaps, exclusion edges and bends."""

from __future__ import annotations

from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import shapely
from shapely import LineString, STRtree

from geoagro.arrays import Floats, Shapes
from geoagro.planar.polylines import Polylines
from geoagro.values.beds import Beds
from geoagro.values.rows import TreeRows
from geoagro.values.site import Exclusion
from geoagro.values.stakeout import STAKE_KINDS, StakeRule

_BEND_WINDOW_M = 4.0


@dataclass(frozen=True)
class Place:
    """A station along one row that needs a stake, why, and what else is there."""

    station: float
    kind: str
    notes: tuple[str, ...] = ()


def needed_places(
    rows: TreeRows,
    beds: Beds,
    exclusions: tuple[Exclusion, ...],
    rule: StakeRule,
) -> list[list[Place]]:
    """Find the places of each row, by rising station.

    Nearer than `rule.merge_m` to a more important one they share its stake.
    """
    lines = rows.frame.geometry.to_numpy()
    found: list[list[Place]] = [[] for _ in lines]
    for add in (
        row_ends(lines, exclusions, near_m=rows.spacing_m / 2),
        bed_ends(rows, beds.tree_beds, "gap"),
        bed_ends(rows, beds.beds, "bed_end"),
        [[Place(float(s), "bend") for s in bends(line, rule.bend_deg)] for line in lines],
    ):
        for places, more in zip(found, add, strict=True):
            places.extend(more)
    return [merged(places, rule.merge_m) for places in found]


def row_ends(lines: Shapes, exclusions: tuple[Exclusion, ...], *, near_m: float) -> list[list[Place]]:
    """Both ends of each line; an end within `near_m` of an exclusion is its edge."""
    ends = [shapely.get_point(lines, which) for which in (0, -1)]
    names = [_nearest_exclusion(points, exclusions, near_m) for points in ends]
    out = []
    for k, line in enumerate(lines):
        places = []
        for station, name in ((0.0, names[0][k]), (line.length, names[1][k])):
            places.append(Place(station, "exclusion_edge" if name else "row_end", (name,) if name else ()))
        out.append(places)
    return out


def _nearest_exclusion(points: Shapes, exclusions: tuple[Exclusion, ...], near_m: float) -> list[str]:
    names = [""] * len(points)
    if not exclusions:
        return names
    tree = STRtree([exclusion.area for exclusion in exclusions])
    which, nearest = tree.query_nearest(points, max_distance=near_m, all_matches=False)
    for k, area in zip(which, nearest, strict=True):
        names[k] = exclusions[area].name
    return names


def bed_ends(rows: TreeRows, beds: gpd.GeoDataFrame, kind: str) -> list[list[Place]]:
    """Where the strips measured from each row begin and end along it."""
    index = {row: k for k, row in enumerate(rows.frame["row"])}
    out: list[list[Place]] = [[] for _ in index]
    if len(beds) == 0:
        return out
    at = np.array([index[row] for row in beds["row"]])
    low, high = extent_along(rows.frame.geometry.to_numpy()[at], beds.geometry.to_numpy())
    for k, name, a, b in zip(at, beds["bed"], low, high, strict=True):
        out[k] += [Place(float(a), kind, (f"{name} begins",)), Place(float(b), kind, (f"{name} ends",))]
    return out


def extent_along(lines: Shapes, areas: Shapes) -> tuple[Floats, Floats]:
    """Lowest and highest station of each area along its line (two arrays of the same length)."""
    coords, owner = shapely.get_coordinates(areas, return_index=True)
    station = shapely.line_locate_point(np.asarray(lines)[owner], shapely.points(coords))
    starts = np.searchsorted(owner, np.arange(len(areas)))
    return np.minimum.reduceat(station, starts), np.maximum.reduceat(station, starts)


def bends(line: LineString, bend_deg: float) -> Floats:
    """Stations where the line turns by `bend_deg` or more within 4 m; in a long bend its middle."""
    step, half_m = 0.5, _BEND_WINDOW_M / 2
    station = np.arange(half_m, line.length - half_m, step)
    if len(station) == 0:
        return np.empty(0)
    at, turn = turns(line)
    total = np.append(0.0, np.cumsum(turn))
    ends = [np.searchsorted(at, station + side) for side in (-half_m, half_m)]
    turned = np.degrees(np.abs(total[ends[1]] - total[ends[0]]))
    if turned.max(initial=0.0) < bend_deg:
        return np.empty(0)
    from scipy.signal import find_peaks  # noqa: PLC0415 - slow to load, and straight rows do without it

    peaks, _ = find_peaks(np.pad(turned, 1), height=bend_deg, distance=round(_BEND_WINDOW_M / step))
    middle = [_middle(at, turn, station[k - 1], half_m) for k in peaks]
    return np.unique(np.round(middle, 6))


def turns(line: LineString) -> tuple[Floats, Floats]:
    """Station of each inner vertex and the turn there, radians, to the left positive."""
    read = Polylines.read([line])
    step = np.diff(read.xy, axis=0)
    heading = np.arctan2(step[:, 1], step[:, 0])
    turn = np.angle(np.exp(1j * np.diff(heading)))
    return read.station[1:-1], turn


def _middle(at: Floats, turn: Floats, station: float, half_m: float) -> float:
    """Where the turn near a station is centred: at a corner the corner itself."""
    near = np.abs(at - station) <= half_m
    return float(np.average(at[near], weights=np.abs(turn[near])))


def merged(places: list[Place], merge_m: float) -> list[Place]:
    """Places at least `merge_m` apart; those dropped leave their notes with the nearest that stays."""
    kept: list[Place] = []
    for place in sorted(places, key=lambda p: (STAKE_KINDS[p.kind].rank, p.station)):
        near = [k for k, other in enumerate(kept) if abs(other.station - place.station) <= merge_m]
        if not near:
            kept.append(place)
            continue
        k = min(near, key=lambda k: abs(kept[k].station - place.station))
        more = () if place.kind == "gap" else place.notes  # a tree bed that begins with its row tells nothing
        kept[k] = Place(kept[k].station, kept[k].kind, kept[k].notes + more)
    return sorted(kept, key=lambda p: p.station)
