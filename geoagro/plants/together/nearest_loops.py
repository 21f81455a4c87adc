"""A compiled search for the nearest plant that stands at the same time, on plants sorted into square cells."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from geoagro.arrays import Floats, Ints
from geoagro.planar.compiled import compiled

LEAST_CELL_M, PLANTS_A_CELL, MOST_CELLS_A_PLANT = 0.05, 4.0, 4.0

Frame = tuple[float, float, float, int, int]
Sorted = tuple[Ints, Floats, Floats, Ints]
Stays = tuple[Ints, Ints, Ints]


@dataclass(frozen=True, eq=False)
class PlantCells:
    """Plants in the order of the square cells that they stand in, row by row from the south.

    Attributes
    ----------
    frame
        West and south edge, width of a cell (metres), columns and rows.
    order
        Number of each plant before it was sorted.
    pointer
        Plants of cell k are those from pointer[k] on, before pointer[k + 1].
    """

    frame: Frame
    order: Ints
    pointer: Ints


def plant_cells(xy: Floats) -> PlantCells:
    """Sort plants, places of shape (n, 2) in metres, into cells of a few plants each.

    Where they crowd on a part of the ground, cells are narrower, down to a few for each plant.
    """
    low, high = xy.min(axis=0), xy.max(axis=0)
    ground_m2 = float(np.prod(np.maximum(high - low, LEAST_CELL_M)))
    wide_m = max(LEAST_CELL_M, np.sqrt(PLANTS_A_CELL * ground_m2 / len(xy)))
    count = np.bincount(_cell_of(xy, _frame(low, high, wide_m)))
    crowd = float(count @ count) / len(xy)
    narrow_m = max(
        LEAST_CELL_M, wide_m * np.sqrt(PLANTS_A_CELL / crowd), np.sqrt(ground_m2 / len(xy) / MOST_CELLS_A_PLANT)
    )
    frame = _frame(low, high, min(wide_m, narrow_m))
    cell = _cell_of(xy, frame)
    pointer = np.concatenate([[0], np.cumsum(np.bincount(cell, minlength=frame[3] * frame[4]))])
    order = np.empty(len(xy), dtype=np.int64)
    _sort(cell, pointer[:-1].copy(), order)
    return PlantCells(frame, order, pointer)


def _frame(low: Floats, high: Floats, cell_m: float) -> Frame:
    columns, rows = (int(way // cell_m) + 1 for way in high - low)
    return float(low[0]), float(low[1]), float(cell_m), columns, rows


@compiled
def _cell_of(xy: Floats, frame: Frame) -> Ints:
    """Cell of each plant; a plant on the last edge that rounding puts past it is in the last one."""
    west, south, cell_m, columns, rows = frame
    cell = np.empty(len(xy), dtype=np.int64)
    for k in range(len(xy)):
        column, row = int((xy[k, 0] - west) // cell_m), int((xy[k, 1] - south) // cell_m)
        cell[k] = min(row, rows - 1) * columns + min(column, columns - 1)
    return cell


@compiled
def _sort(cell: Ints, place: Ints, order: Ints) -> None:
    """Write the plants of each cell one after another, from its place on."""
    for k in range(len(cell)):
        order[place[cell[k]]] = k
        place[cell[k]] += 1


@compiled
def _meet(stays: Stays, one: int, other: int) -> bool:
    """Tell whether plants of two kinds ever stand together; those of one kind always do."""
    first, begin, end = stays
    if one == other:
        return True
    for a in range(first[one], first[one + 1]):
        for b in range(first[other], first[other + 1]):
            if begin[a] < end[b] and begin[b] < end[a]:
                return True
    return False


@compiled
def _nearest_in(plants: Sorted, stays: Stays, k: int, begin: int, end: int, best: float) -> float:
    """Square of the distance of plant k from the nearest one of a run that stands with it, if less than `best`."""
    _, x, y, kind = plants
    for j in range(begin, end):
        away = (x[j] - x[k]) * (x[j] - x[k]) + (y[j] - y[k]) * (y[j] - y[k])
        if away < best and j != k and _meet(stays, kind[k], kind[j]):
            best = away
    return best


@compiled
def nearest_standing(frame: Frame, plants: Sorted, stays: Stays, within_m: float, nearest: Floats) -> None:
    """Write the distance of each plant from the nearest one that ever stands with it; none is left as it was.

    Parameters
    ----------
    frame, plants
        See `PlantCells`; pointer, and in the order of the cells: x, y and number of the kind.
    stays
        First stay of each kind (one more than there are kinds), and weeks in which each stay begins and ends.
    within_m
        Plants as far as this, or farther, don't count.
    nearest
        In the order of the cells.
    """
    west, south, cell_m, columns, rows = frame
    pointer, x, y, _ = plants
    for row in range(rows):
        for column in range(columns):
            for k in range(pointer[row * columns + column], pointer[row * columns + column + 1]):
                left, low = x[k] - west - column * cell_m, y[k] - south - row * cell_m
                edge = min(left, cell_m - left, low, cell_m - low)
                best, ring = within_m * within_m, 0
                # all that isn't looked at yet is farther than what lies between the plant and the ring's outer edge
                while ring == 0 or (edge + (ring - 1) * cell_m) * abs(edge + (ring - 1) * cell_m) < best:
                    west_of, east_of = max(column - ring, 0), min(column + ring, columns - 1)
                    for at in range(max(row - ring, 0), min(row + ring, rows - 1) + 1):
                        if at in (row - ring, row + ring):
                            begin, end = pointer[at * columns + west_of], pointer[at * columns + east_of + 1]
                            best = _nearest_in(plants, stays, k, begin, end, best)
                            continue
                        for side in (column - ring, column + ring):
                            if 0 <= side < columns:
                                begin, end = pointer[at * columns + side], pointer[at * columns + side + 1]
                                best = _nearest_in(plants, stays, k, begin, end, best)
                    ring += 1
                if best < within_m * within_m:
                    nearest[k] = np.sqrt(best)
