"""Blocks of beds: how many plants each bed takes, where to part the field, and what stands within reach of a block."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import shapely

from geoagro.arrays import Floats, Ints
from geoagro.plants.plan import Plan
from geoagro.plants.strips import Strips, beds_for, line_offsets

_CELL_M = 2.0
"""Neighbours are found to so many metres: finer cells cost more than the few strips they spare."""


def expected(plan: Plan) -> tuple[Floats, tuple[str, ...]]:
    """About how many plants each strip takes: length of its lines over the distance in them.

    Beside that the crops, those with most plants first; where several share a planting, each is held to have as many.
    """
    found = np.zeros(len(plan.strips))
    by_crop = dict.fromkeys((code for planting in plan.plantings for code in planting.crops), 0.0)
    for index, planting in enumerate(plan.plantings):
        if planting.instead_of is not None:
            continue
        beds = beds_for(planting, plan.strips, plan.plantings, plan.reach.get(index))
        step = planting.spacing_m or max((plan.crops[code].spacing_m or 1.0 for code in planting.crops), default=1.0)
        lines = line_offsets(planting, plan.strips, beds).shape[1] if len(beds) else 0
        plants = plan.strips.axes.lengths[beds] * lines / step
        found[beds] += plants
        for code in planting.crops:
            by_crop[code] += float(plants.sum()) / len(planting.crops)
    return found, tuple(sorted(by_crop, key=lambda code: -by_crop[code]))


def parted(strips: Strips, plants: Floats, most: float) -> list[Ints]:
    """Part strips into runs of whole rows with about `most` plants each; a row with more is a run of its own."""
    new_row = np.flatnonzero(np.diff(strips.row, prepend=-1))
    before = np.concatenate([[0.0], np.cumsum(plants)])
    starts: list[int] = []
    for start in new_row.tolist():
        end = int(new_row[np.searchsorted(new_row, start, side="right")]) if start < new_row[-1] else len(strips)
        if not starts or before[end] - before[starts[-1]] > most:
            starts.append(start)
    return [np.arange(a, b) for a, b in zip(starts, [*starts[1:], len(strips)], strict=True)]


class Neighbourhood:
    """Which strips lie near others: by the cells of a fine grid that their axes run through."""

    def __init__(self, strips: Strips, reach_m: float) -> None:
        line, station = strips.axes.breaks(_CELL_M)
        xy = strips.axes.at(line, station)
        column, row = ((xy - xy.min(axis=0)) // _CELL_M).astype(np.int64).T if len(xy) else np.zeros((2, 0), np.int64)
        far = reach_m + float(strips.width_m.max(initial=0.0)) + _CELL_M
        self._rings = int(np.ceil(far / _CELL_M))
        self._width = int(column.max(initial=0)) + 1 + 2 * self._rings
        self._cell, self._strip = row * self._width + column + self._rings, line
        self._begin = np.searchsorted(line, np.arange(len(strips) + 1))

    def of(self, own: Ints) -> Ints:
        """Find strips within reach of a run of strips, those themselves included; a few more lie a cell or two farther."""
        mine = np.unique(self._cell[self._begin[own[0]] : self._begin[own[-1] + 1]])
        steps = np.arange(-self._rings, self._rings + 1)
        across = np.unique((mine[:, None] + steps).ravel())
        around = np.unique((across[:, None] + self._width * steps).ravel())
        place = np.minimum(np.searchsorted(around, self._cell), len(around) - 1)
        return np.union1d(own, self._strip[around[place] == self._cell])


def block_of(plan: Plan, own: Ints, near: Ints) -> Plan:
    """Take the plan on some strips and on their neighbours, in the order of the field."""
    return replace(plan, strips=taken(plan.strips, near), own=np.isin(near, own))


def taken(strips: Strips, which: Ints) -> Strips:
    """Take some of the strips, with polygons of their own.

    Blocks are placed at once and share the strips at their edges; what a prepared polygon works out at its first question is
    not safe from two threads.
    """
    arrays = {name: getattr(strips, name)[which] for name in ("bed", "row", "kind", "side", "order", "edge", "width_m")}
    polygon = np.asarray(shapely.from_wkb(shapely.to_wkb(strips.polygon[which])), dtype=object)
    shapely.prepare(polygon)
    axes = replace(strips.axes.take(which), lengths=strips.axes.lengths[which])
    return Strips(**arrays, polygon=polygon, axes=axes)
