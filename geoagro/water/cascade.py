"""A storm on all rows: what each row catches, holds and hands down to the row below."""

from __future__ import annotations

import heapq
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
from rasterio import Affine
from rasterio.features import rasterize
from scipy.spatial import KDTree
from shapely import LineString

from geoagro.arrays import Floats, Ints
from geoagro.values.rules.water import Ridge
from geoagro.water.flow import Flags, Flow, first_met
from geoagro.water.ponds import RowPonds
from geoagro.water.row_profiles import Profile

_LEFT = -1
"""In place of a row: water leaves the known ground without meeting a row."""


@dataclass(frozen=True, eq=False)
class Caught:
    """Ground that drains straight to each row, without another row between.

    Attributes
    ----------
    row_of_cell
        Place (in the list of profiles) of the row that runs through each cell, -1 for none; flat.
    station_of_cell
        Station (index) of that row, -1 for none; flat.
    row_below
        Place of the first row on each cell's way down, -1 for none; flat.
    station_below
        Station (index) at which it is met; flat.
    area_m2
        For each profile, ground (m2) that drains to each of its stations.
    open_
        For each profile, whether some of that ground lies beyond the raster's edge.
    """

    row_of_cell: Ints
    station_of_cell: Ints
    row_below: Ints
    station_below: Ints
    area_m2: list[Floats]
    open_: Flags


def ground_caught(flow: Flow, profiles: list[Profile]) -> Caught:
    """Share out the ground among rows: each cell belongs to the first row on its way down."""
    row_of_cell, station_of_cell = _rows_on_cells(flow, profiles)
    marked = np.where(row_of_cell >= 0, np.arange(len(row_of_cell)), -1)
    met = first_met(flow, marked)
    reached = met >= 0
    row_below = np.where(reached, row_of_cell[met], -1)
    station_below = np.where(reached, station_of_cell[met], -1)
    cell = flow.surface.cell_m**2
    first = np.concatenate([[0], np.cumsum([len(p.z_m) for p in profiles])])
    flat = (
        np.bincount(first[row_below[reached]] + station_below[reached], minlength=int(first[-1])).astype(float) * cell
    )
    beyond = _comes_from_beyond(flow, row_below, len(profiles))
    areas: list[Floats] = [np.asarray(flat[a:b], dtype=float) for a, b in pairwise(first)]
    return Caught(row_of_cell, station_of_cell, row_below, station_below, areas, beyond)


def _rows_on_cells(flow: Flow, profiles: list[Profile]) -> tuple[Ints, Ints]:
    """Every cell that a row touches: water that steps from cell to cell can't slip through between two of them."""
    shape, surface = flow.surface.values.shape, flow.surface
    place = Affine(surface.cell_m, 0.0, surface.west, 0.0, -surface.cell_m, surface.north)
    lines = [(LineString(profile.xy), number) for number, profile in enumerate(profiles)]
    rows = rasterize(lines, shape, fill=-1, transform=place, all_touched=True, dtype="int32").ravel().astype(np.intp)
    rows[flow.onward < 0] = -1
    stations = np.full(len(rows), -1, dtype=np.intp)
    cells = np.flatnonzero(rows >= 0)
    order = np.argsort(rows[cells], kind="stable")
    cells = cells[order]
    bounds = np.searchsorted(rows[cells], np.arange(len(profiles) + 1))
    points = flow.points_of(cells)
    for number, profile in enumerate(profiles):
        own = slice(bounds[number], bounds[number + 1])
        stations[cells[own]] = _nearest(points[own], profile.xy)
    return rows, stations


def _nearest(points: Floats, stations: Floats) -> Ints:
    if len(points) == 0:
        return np.array([], dtype=np.intp)
    return np.asarray(KDTree(stations).query(points)[1], dtype=np.intp)


def _comes_from_beyond(flow: Flow, row_below: Ints, rows: int) -> Flags:
    """Rows whose own ground reaches the raster's edge where water may come in."""
    cells = np.arange(len(row_below))
    into = flow.onward >= 0
    headed = np.zeros(len(row_below), dtype=bool)
    headed[flow.onward[into & (flow.onward != cells)]] = True
    at_edge = flow.open_.ravel() & ~headed & (row_below >= 0)
    return np.bincount(row_below[at_edge], minlength=rows) > 0


@dataclass(eq=False)
class Storm:
    """What one storm does; volumes in m3, rows by their place in the list of profiles.

    Attributes
    ----------
    ponds
        Water standing along each row at the end.
    caught_m3
        Runoff of each row's own ground.
    received_m3
        Water handed down to each row from rows above.
    over_m3
        Water that left each row over its ridge or out of its ends.
    spills
        (row, station, volume, row that receives it or -1, station there), summed over the storm.
    left_m3
        Water that met no further row.
    hollow_m3
        Water that goes round between rows in a closed hollow and stands there.
    """

    ponds: list[RowPonds]
    caught_m3: Floats
    received_m3: Floats
    over_m3: Floats
    spills: dict[tuple[int, int], float] = field(default_factory=dict)
    onward: dict[tuple[int, int], tuple[int, int]] = field(default_factory=dict)
    left_m3: float = 0.0
    hollow_m3: float = 0.0


def storm_on_rows(flow: Flow, profiles: list[Profile], caught: Caught, *, runoff_mm: float, ridge: Ridge) -> Storm:
    """Let a storm run off and follow it from row to row until all of it stands or has left.

    Rows are taken from the highest down; each spill goes down the ground to the next row. Where water would come back
    to the pond that it left, through ponds that are full, they stand in one hollow: it rises to the lowest gate through
    which water doesn't come back. Water is neither made nor lost: what ran off = what stands + what left (tested to
    rounding).
    """
    ponds = [RowPonds(profile, ridge) for profile in profiles]
    depth_m = runoff_mm / 1000
    own = np.array([area.sum() * depth_m for area in caught.area_m2])
    storm = Storm(ponds, own, np.zeros(len(profiles)), np.zeros(len(profiles)))
    ways = _Ways(flow, profiles, caught, storm.onward)
    waiting: list[list[tuple[int, float]]] = [
        [(int(k), float(area[k] * depth_m)) for k in np.flatnonzero(area)] for area in caught.area_m2
    ]
    height = [float(profile.z_m.mean()) for profile in profiles]
    queue = [(-height[n], n) for n in range(len(profiles)) if waiting[n]]
    heapq.heapify(queue)
    while queue:
        _, row = heapq.heappop(queue)
        if not waiting[row]:
            continue
        stations, volumes = zip(*waiting[row], strict=True)
        waiting[row] = []
        for spill in ponds[row].add(np.array(stations, dtype=np.intp), np.array(volumes)):
            storm.over_m3[row] += spill.volume_m3
            storm.spills[row, spill.at] = storm.spills.get((row, spill.at), 0.0) + spill.volume_m3
            target, station = ways.onward(row, spill.at)
            if target == _LEFT:
                storm.left_m3 += spill.volume_m3
            elif not _finds_a_way(ponds, ways, row, spill.at):
                storm.hollow_m3 += spill.volume_m3
            else:
                storm.received_m3[target] += spill.volume_m3
                waiting[target].append((station, spill.volume_m3))
                heapq.heappush(queue, (-height[target], target))
    return storm


def _finds_a_way(ponds: list[RowPonds], ways: _Ways, row: int, at: int) -> bool:
    """Tell whether water that leaves a row finds room or a way out; opens the next gate of a ring of full ponds.

    False where a ring of full ponds has no other gate.
    """
    ring = _ring(ponds, ways, row, at)
    if not ring:
        return True
    level, owner, low = min((ponds[n].next_level(low), n, low) for n, low in ring)
    if level == np.inf:
        return False
    ponds[owner].shut_gate(low)
    return True


def _ring(ponds: list[RowPonds], ways: _Ways, row: int, at: int) -> list[tuple[int, int]]:
    """Full ponds (row, low station) through which water that leaves a row comes back to where it left; else empty."""
    passed: list[tuple[int, int]] = []
    left_at: set[tuple[int, int]] = set()
    here = (row, at)
    while here not in left_at:
        left_at.add(here)
        target, station = ways.onward(*here)
        out = None if target == _LEFT else ponds[target].way_out(station)
        if out is None:
            return []
        passed += [(target, low) for low in out[0]]
        here = (target, out[1])
    return passed if here == (row, at) else []


@dataclass(frozen=True)
class _Ways:
    """Where water that leaves a row at a station goes: looked up once each."""

    flow: Flow
    profiles: list[Profile]
    caught: Caught
    known: dict[tuple[int, int], tuple[int, int]]

    def onward(self, row: int, station: int) -> tuple[int, int]:
        """Row (and station) that water meets next on its way down; -1 where it meets none."""
        if (row, station) not in self.known:
            self.known[row, station] = self._follow(row, station)
        return self.known[row, station]

    def _follow(self, row: int, station: int) -> tuple[int, int]:
        """Go down cell by cell; the row's own ground is passed over."""
        cell = int(self.flow.cells_at(*self.profiles[row].xy[station : station + 1].T)[0])
        while cell >= 0:
            onward = int(self.flow.onward[cell])
            if onward in (cell, -1):
                break
            cell = onward
            met = int(self.caught.row_of_cell[cell])
            if met not in (-1, row):
                return met, int(self.caught.station_of_cell[cell])
        return _LEFT, -1
